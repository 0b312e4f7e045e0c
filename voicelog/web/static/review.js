// Review by keyboard alone (or by thumb): one line at a time is in hand, and the hand is always
// in the same place. Every decision is a form that the server answers with the page as it is now.

import { Microphone, wav } from "./microphone.js";
import { draw, play } from "./sound.js";

const hand = document.getElementById("hand");
const $ = (name) => document.getElementById(name);
const lines = () => [...document.querySelectorAll("#review .line")].filter((line) => line.offsetParent);
const words = hand ? JSON.parse(hand.dataset.words) : {};
const hints = hand ? JSON.parse(hand.dataset.hints) : {};
const units = hand ? JSON.parse(hand.dataset.units) : {};
const fill = (text, value) => text.replace(/\{\w+\}/, () => value);
let line = null;
let mention = null; // something said without a field, on its way into one
let recorder = null;

// --- the line in hand -------------------------------------------------------------------

function take(next, focus = true) {
  if (!hand || !next) return;
  line?.classList.remove("here");
  line = next;
  line.classList.add("here");
  if (focus) line.focus({ preventScroll: true });
  hand.hidden = false;
  back();
  hand.elements.line.value = line.dataset.line;
  const sign = line.dataset.unit ? ` ${(units[line.dataset.cardUnit] ?? []).find(([name]) => name === line.dataset.unit)?.[1] ?? line.dataset.unit}` : "";
  $("subject").textContent = `${line.dataset.label}${line.dataset.value === undefined ? "" : `: ${line.dataset.value}${sign}`}`;
  const out = ["below", "above", "fail"].includes(line.dataset.state);
  const said = line.dataset.value !== undefined;
  const decided = line.dataset.decided !== undefined;
  const button = (act) => hand.querySelector(`[data-act="${act}"]`);
  button("accept").hidden = !said || Boolean(mention);
  button("accept").querySelector("span").textContent = mention ? words.put : out ? words.acknowledge : words.accept;
  button("play").hidden = !line.dataset.from;
  button("undo").hidden = !decided;
  $("instead").replaceChildren(...alternatives().map(choice));
  highlight(line.dataset.start, line.dataset.end);
  inSight();
  $("heard-words").replaceChildren(...mention ? [fill(words.place_first, mention.textContent.trim())] : said ? quote() : []);
}

// The hand covers the foot of the page: the line must stay above it.
function inSight() {
  document.documentElement.style.scrollPaddingBottom = `${hand.offsetHeight + 12}px`;
  line.scrollIntoView({ block: "nearest" });
}

const alternatives = () => (line?.dataset.instead ? JSON.parse(line.dataset.instead) : []);

function choice(value, at) {
  const button = document.createElement("button");
  button.type = "button";
  button.dataset.choice = at;
  button.append(fill(words.choose, value), " ");
  const key = document.createElement("kbd");
  key.textContent = at + 1;
  button.append(key);
  return button;
}

function spoken({ dataset }) {
  return [...document.querySelectorAll(".words [data-at]")].filter((word) => {
    const at = Number(word.dataset.at);
    return at < Number(dataset.end) && at + word.textContent.length > Number(dataset.start);
  });
}

// The words of the line with a few around them: a value is judged by what was said beside it.
function quote() {
  const said = spoken(line);
  if (!said.length) return [];
  const all = [...document.querySelectorAll(".words [data-at]")];
  const first = all.indexOf(said[0]), last = all.indexOf(said.at(-1));
  const text = (some) => some.map((word) => word.textContent).join(" ");
  const mark = document.createElement("mark");
  mark.textContent = text(said);
  return ["“… ", text(all.slice(Math.max(0, first - 5), first)), " ", mark, " ", text(all.slice(last + 1, last + 3)), " …”"];
}

function highlight(start, end) {
  document.querySelectorAll(".words .lit").forEach((word) => word.classList.remove("lit"));
  if (start === undefined) return;
  const lit = spoken({ dataset: { start, end } });
  lit.forEach((word) => word.classList.add("lit"));
  const box = document.querySelector(".sources");
  if (lit.length && box && box.scrollHeight > box.clientHeight) {
    box.scrollTop += lit[0].getBoundingClientRect().top - box.getBoundingClientRect().top - 80;
  }
}

function listen() {
  const { audio, from, to } = line.dataset;
  if (audio && from) play(audio, Math.max(0, from - 0.3).toFixed(2), (Number(to) + 0.3).toFixed(2));
}

// --- what is done with it ---------------------------------------------------------------

function ask(kind) {
  hand.elements.kind.value = kind;
  const { type, cardUnit, unit, options } = line.dataset;
  const corrects = kind === "correct";
  const more = $("more");
  more.hidden = more.disabled = false;
  $("acts").hidden = true;
  more.querySelector(".value-row").hidden = !corrects;
  $("unit-part").hidden = !corrects || !cardUnit;
  $("unit").disabled = !corrects || !cardUnit;
  $("unit").replaceChildren(...(units[cardUnit] ?? []).map(([name, sign]) => new Option(sign, name)));
  if (unit && (units[cardUnit] ?? []).some(([name]) => name === unit)) $("unit").value = unit;
  $("options").replaceChildren(...(options ? JSON.parse(options) : type === "check" ? ["pass", "fail"] : [])
    .map((name) => new Option(name, name)));
  $("value-hint").textContent = hints[type];
  $("value").required = corrects;
  const again = line.dataset.decided === kind && line.dataset.stands !== undefined;
  $("value").value = again ? line.dataset.stands : "";
  if (again && line.dataset.standsUnit) $("unit").value = line.dataset.standsUnit;
  $("why-part").hidden = kind === "accept";
  $("why").required = kind !== "accept";
  $("why-label").textContent = words[`why_${kind.replace(" ", "_")}`] ?? "";
  $("why").value = again ? line.dataset.why : "";
  const follows = kind === "accept" || corrects;
  $("follow-part").hidden = !follows;
  $("follow-part").open = ["below", "above", "fail"].includes(line.dataset.state);
  for (const radio of hand.querySelectorAll("[name=follow_up]")) {
    radio.required = kind === "accept";
    radio.checked = false;
  }
  $("go").querySelector("span").textContent = kind === "accept" ? words.acknowledge
    : hand.querySelector(`[data-act="${kind}"]`).firstChild.textContent.trim();
  inSight();
  (kind === "accept" ? hand.querySelector("[name=follow_up]") : corrects ? $("value") : $("why")).focus();
}

function back() {
  const more = $("more");
  more.hidden = more.disabled = true;
  $("acts").hidden = false;
  hand.elements.alternative.value = "";
}

function act(name) {
  if (!line && name !== "all") return;
  switch (name) {
    case "play": return listen();
    case "back": back(); return line.focus();
    case "accept":
      if (["below", "above", "fail"].includes(line.dataset.state)) return ask("accept");
      return send({ kind: "accept" });
    case "correct": case "reject": case "not applicable": return ask(name);
    case "undo": return "decided" in line.dataset && send({ kind: "" }, `/review/${hand.dataset.note}/undo`, true);
    case "again": return sayAgain();
    case "all": return $("all")?.requestSubmit();
  }
}

function send(fields, address = hand.action, stay = false) {
  const form = new FormData(hand);
  for (const [name, value] of Object.entries(fields)) form.set(name, value);
  post(address, form, line, stay);
}

// The answer is the whole page: its middle takes the place of ours, and the next line comes to hand.
async function post(address, form, from, stay = false) {
  hand.setAttribute("aria-busy", "true");
  const at = lines().indexOf(from);
  try {
    const answer = await fetch(address, { method: "POST", body: new URLSearchParams(form), redirect: "follow" });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const review = page.getElementById("review");
    if (!review) { // a conflict, a sign-in: a page of its own
      document.body.replaceChildren(...page.body.childNodes);
      document.title = page.title;
      return;
    }
    $("review").replaceWith(review);
    hand.elements.version.value = review.dataset.version;
    mention = null;
    outline();
    const all = lines();
    const open = (each) => !("decided" in each.dataset) && !each.classList.contains("blank");
    take(answer.ok && !stay ? all.slice(at + 1).find(open) ?? all.find(open) ?? all[at] : all[at]);
    if (answer.ok && all.length && !all.some(open)) $("to-sign").focus();
  } finally {
    hand.removeAttribute("aria-busy");
  }
}

// --- say it again -----------------------------------------------------------------------

const LONGEST = 300; // frames of 100 ms

async function sayAgain() {
  if (hand.getAttribute("aria-busy")) return;
  if (recorder) return sendAgain();
  const frames = [];
  const microphone = new Microphone(hand.dataset.worklet, (frame) => {
    if (frames.push(frame) === LONGEST) sendAgain();
  }, () => stopAgain(words.microphone.unplugged));
  recorder = { microphone, frames, of: line };
  try {
    await microphone.start();
    label(words.say_again_stop);
    hand.dataset.listening = "";
  } catch (error) {
    stopAgain(words.microphone[error.message] ?? words.microphone.broken);
  }
}

const label = (text) => { hand.querySelector('[data-act="again"] span').textContent = text; };

function stopAgain(why = "") {
  const was = recorder;
  recorder = null;
  was?.microphone.stop();
  delete hand.dataset.listening;
  label(words.say_again);
  if (why) $("heard-words").textContent = why;
  return was;
}

async function sendAgain() {
  const { frames, of } = stopAgain();
  hand.setAttribute("aria-busy", "true");
  label(words.say_again_wait);
  try {
    const form = new FormData($("again-form"));
    form.set("line", of.dataset.line);
    form.set("recording", wav(frames), "again.wav");
    const answer = await fetch($("again-form").action, { method: "POST", body: form });
    if (answer.redirected) return location.assign(answer.url);
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    $("heard-words").textContent = page.querySelector(".problem .lines, main p")?.textContent ?? "";
  } catch (error) {
    $("heard-words").textContent = error.message;
  }
  label(words.say_again);
  hand.removeAttribute("aria-busy");
}

// --- keys, touch, dragging --------------------------------------------------------------

const single = $("single");
if (single) {
  single.checked = localStorage.getItem("single-keys") !== "no";
  single.addEventListener("change", () => localStorage.setItem("single-keys", single.checked ? "yes" : "no"));
}
const KEYS = { a: "accept", e: "correct", r: "reject", n: "not applicable", u: "undo", v: "again", " ": "play" };
let placing = false;

document.addEventListener("keydown", (event) => {
  const { key, target } = event;
  if (event.ctrlKey || event.altKey || event.metaKey || document.querySelector("dialog[open]")) return;
  if (key === "Escape") {
    mention = null;
    placing = false;
    return line && act("back");
  }
  if (target.closest("input, select, textarea, #more")) return;
  const all = lines();
  const at = all.indexOf(line);
  const move = { ArrowDown: 1, ArrowUp: -1, ...(single?.checked ? { j: 1, k: -1 } : {}) }[key];
  if (move) take(all[Math.min(Math.max(at + move, 0), all.length - 1)]);
  else if (!single?.checked || target.closest("button, a, summary") && [" ", "Enter"].includes(key)) return;
  else if (key === "A" && event.shiftKey) act("all");
  else if (key === "p") placing = true;
  else if (/^[1-9]$/.test(key) && placing) pick(document.querySelector(`[data-mention="${key - 1}"]`));
  else if (/^[1-9]$/.test(key) && alternatives()[key - 1] !== undefined) choose(key - 1);
  else if (key === "Enter" && mention && line) place();
  else if (key === "s") $("to-sign").click();
  else if (key === "?") $("keys").showModal();
  else if (KEYS[key]) act(KEYS[key]);
  else return;
  event.preventDefault();
});

const choose = (at) => send({ kind: "correct", alternative: String(at) });

function pick(button) {
  if (!button) return;
  mention = button;
  placing = false;
  highlight(button.dataset.start, button.dataset.end);
  take(line ?? lines()[0]);
}

function place() {
  const form = new FormData(hand);
  form.set("mention", mention.dataset.mention);
  post(`/review/${hand.dataset.note}/place`, form, line);
}

document.addEventListener("click", ({ target }) => {
  if (target.closest("#help")) return $("keys").showModal();
  const word = target.closest(".words [data-s]");
  const take_ = target.closest(".take");
  if (word && take_?.dataset.audio) {
    const [from, to] = word.dataset.s.split(" ").map(Number);
    return play(take_.dataset.audio, Math.max(0, from - 0.3).toFixed(2), (to + 0.3).toFixed(2));
  }
  const button = target.closest("button");
  if (button?.dataset.mention) return pick(button);
  if (button?.dataset.choice) return choose(button.dataset.choice);
  if (button?.dataset.act) return act(button.dataset.act);
  const chosen = target.closest("#review .line");
  if (chosen && !button) {
    take(chosen);
    if (mention) place();
  }
});
document.addEventListener("focusin", ({ target }) => {
  if (target.matches?.("#review .line") && target !== line) take(target, false);
});
document.addEventListener("mouseover", ({ target }) => {
  const over = target.closest?.("#review .line[data-start]");
  if (over) highlight(over.dataset.start, over.dataset.end);
  else if (target.closest?.(".list") && line) highlight(line.dataset.start, line.dataset.end);
});
document.addEventListener("dragstart", ({ target }) => target.dataset?.mention && (mention = target));
document.addEventListener("dragover", (event) => event.target.closest?.("#review .line") && event.preventDefault());
document.addEventListener("drop", (event) => {
  const onto = event.target.closest?.("#review .line");
  if (!onto || !mention) return;
  event.preventDefault();
  take(onto);
  place();
});
hand?.addEventListener("submit", (event) => {
  event.preventDefault();
  post(hand.action, new FormData(hand), line);
});
document.addEventListener("submit", (event) => {
  if (event.target.id !== "all") return;
  event.preventDefault();
  post(event.target.action, new FormData(event.target), lines()[0]);
});

// --- begin ------------------------------------------------------------------------------

const seen = new IntersectionObserver((entries) => entries.forEach(({ isIntersecting, target }) => {
  if (!isIntersecting) return;
  seen.unobserve(target);
  const { audio, from, to } = target.closest(".take").dataset;
  draw(target, audio, from, to);
}));
const outline = () => document.querySelectorAll(".take canvas").forEach((canvas) => seen.observe(canvas));
outline();
if (hand) {
  const all = lines();
  const again = all.find((each) => each.dataset.line === hand.dataset.again);
  take(again ?? all.find((each) => !("decided" in each.dataset)) ?? all[0], false);
  if (again) {
    const { againValue: value, againUnit: unit, againText: text, againDoubt: doubt } = hand.dataset;
    ask("correct");
    $("value").value = value;
    if (unit && [...$("unit").options].some((option) => option.value === unit)) $("unit").value = unit;
    else if (unit) $("value").value = ""; // of another dimension: it belongs to no unit offered here
    if ($("value").value) $("why").value = words.why_said_again;
    $("heard-words").textContent = fill($("value").value ? words.said_again : words.said_nothing, text);
    if (doubt) $("heard-words").append(Object.assign(document.createElement("em"), { className: "hatched", textContent: doubt }));
  } else line?.focus({ preventScroll: true });
}

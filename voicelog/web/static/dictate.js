// The page at the job: one state at a time, said in words, and everything spoken also a touch.

import { Keep } from "./keep.js";
import { Link } from "./link.js";
import { Microphone, NoMicrophone, level } from "./microphone.js";

const body = document.body;
const { id, csrf, worklet } = body.dataset;
const texts = JSON.parse(body.dataset.texts);
const $ = (name) => document.getElementById(name);
const icons = $("state-icon").getAttribute("href").split("#")[0];
const fill = (text, words) => text.replace(/\{(\w+)\}/g, (_, name) => words[name]);

const now = { paused: false, speaking: false, loud: 0, unsent: 0, why: "", moved: false, asking: "", finished: false, lostUntil: 0 };
const keep = new Keep(id);
const player = new Audio();
let link, microphone, lock, lastFrame = 0;

// --- what the page says ---------------------------------------------------------------

function state() {
  if (now.finished) return "finished";
  if (now.moved) return "moved";
  if (now.speaking) return "speaking";
  if (!microphone?.open) return now.why ? "closed" : "starting";
  if (now.paused) return "paused";
  if (!link.up) return "offline";
  return now.loud > 2 ? "hearing" : "listening";
}

const seconds = (frames) => (frames < 600 ? `${Math.round(frames / 10)} s` : `${Math.floor(frames / 600)} min`);

function say(name, text) {
  if ($(name).textContent !== text) $(name).textContent = text;
}

function show() {
  const is = state();
  if ($("band").dataset.state !== is) {
    $("band").dataset.state = is;
    $("state").textContent = texts.state[is];
    $("state-icon").setAttribute("href", `${icons}#${is}`);
  }
  say("hint", fill(texts.state[`${is}_hint`], { seconds: seconds(now.unsent) }));
  const act = now.paused ? "resume" : "stand_by";
  if ($("pause").dataset.do !== act) {
    $("pause").dataset.do = act;
    say("pause-word", texts[act]);
    $("pause-icon").setAttribute("href", `${icons}#${now.paused ? "resume" : "paused"}`);
  }
  $("opening").hidden = Boolean(microphone?.open) || now.finished;
}

function trouble(sentence, retry = true) {
  $("trouble").hidden = !sentence;
  $("trouble").firstElementChild.textContent = sentence;
  $("retry").hidden = !retry;
}

function put(name, html) {
  const place = $(name);
  if (place.dataset.html === html) return false;
  place.dataset.html = html;
  place.innerHTML = html;
  return true;
}

// The value that was said last comes into sight.
function follow() {
  const latest = document.querySelector("[data-latest]");
  if (!latest || latest.dataset.latest === now.latest) return;
  now.latest = latest.dataset.latest;
  latest.classList.add("fresh");
  latest.scrollIntoView({ block: "center" });
}

function inLine({ waiting, before }) {
  const counts = [];
  if (waiting) counts.push(fill(texts.waiting, { n: waiting }));
  if (waiting && before) counts.push(fill(texts.before, { n: before }));
  say("waiting", counts.join(" · "));
}

function page(shown) {
  now.paused = shown.paused;
  if (put("step", shown.step_html)) follow();
  put("last", shown.last_html);
  put("heard", shown.heard_html);
  put("asked", shown.asked_html);
  inLine(shown);
  if (!now.why && !(Date.now() < now.lostUntil)) trouble(shown.trouble, false);
  if (shown.asking !== now.asking) {
    now.asking = shown.asking;
    if (shown.asking && shown.voice && microphone?.open) speak();
  }
  show();
  if (shown.ending && !now.finished) finish();
}

// --- read-back: the microphone is closed while the page speaks ------------------------

async function speak() {
  now.speaking = true;
  show();
  try {
    const answer = await fetch(`/dictate/${id}/voice`);
    if (answer.status !== 200) return;
    const sound = URL.createObjectURL(await answer.blob());
    player.src = sound;
    await new Promise((done) => {
      player.onended = player.onerror = player.onpause = done;
      player.play().catch(done);
    });
    URL.revokeObjectURL(sound);
  } catch { /* no voice: the letters on the page remain */ } finally {
    now.speaking = false;
    show();
  }
}

// --- sound ----------------------------------------------------------------------------

function frame(buffer, lost) {
  lastFrame = Date.now();
  if (now.speaking || now.finished) {
    $("level").value = 0;
    return;
  }
  const loud = level(buffer);
  $("level").value = loud;
  now.loud = loud > 35 ? 6 : Math.max(0, now.loud - 1);
  if (now.paused) link.passing(buffer);
  else {
    if (!link.up) now.unsent += 1;
    link.frame(buffer, lost);
    if (lost) tellLost(lost);
  }
  show();
}

// The device, not the line: nothing can bring it back, so whoever speaks must know.
function tellLost(ms) {
  if (now.why) return;
  trouble(fill(texts.microphone.lost, { seconds: (ms / 1000).toFixed(ms < 1000 ? 2 : 1) }), false);
  now.lostUntil = Date.now() + 15000;
}

async function open() {
  now.why = "";
  trouble("");
  if (!lock && !(await hold())) return show();
  try {
    microphone = new Microphone(worklet, frame, () => closed("unplugged"));
    await microphone.start();
    link.send({ do: "microphone", settings: microphone.settings });
    wake();
  } catch (error) {
    closed(error instanceof NoMicrophone ? error.message : "broken");
  }
  show();
}

function closed(why) {
  microphone?.stop();
  now.why = why;
  $("level").value = 0;
  trouble(texts.microphone[why]);
  show();
}

// One tab at a time: two would hear the same words twice.
function hold() {
  if (!navigator.locks) return Promise.resolve(true);
  return new Promise((told) => {
    navigator.locks.request(`voicelog ${id}`, { ifAvailable: true }, (got) => {
      lock = got;
      now.moved = !got;
      told(Boolean(got));
      return got && new Promise(() => {});
    });
  });
}

async function wake() {
  await navigator.wakeLock?.request("screen").catch(() => {});
}

async function count() {
  now.unsent = await keep.count();
  if (keep.full) trouble(texts.microphone.storage_full, false);
  else if (!link.up && !now.why) {
    const minutes = await keep.minutesLeft();
    if (minutes < 15) trouble(fill(texts.microphone.storage, { minutes }), false);
  }
  // A device that fell asleep takes the sound away without a word.
  if (microphone?.open && Date.now() - lastFrame > 5000) closed("unplugged");
  show();
}

// --- the end ---------------------------------------------------------------------------

async function finish() {
  now.finished = true;
  $("steps").close?.();
  microphone?.stop();
  $("state").textContent = texts.finishing;
  while (await keep.count()) await new Promise((go) => setTimeout(go, 200)); // all on the server first
  $("finish").submit();
}

// --- touch and keys --------------------------------------------------------------------

document.addEventListener("click", ({ target }) => {
  const button = target.closest("button");
  if (!button) return;
  const { do: act, step, drop } = button.dataset;
  if (act === "stand_by" || act === "resume") now.paused = act === "stand_by";
  if (act) link.send(step ? { do: act, step } : { do: act });
  else if (step) {
    link.send({ do: "step", step });
    $("steps").close();
  } else if (drop) link.send({ do: "drop", number: Number(drop) });
  if (act === "affirm" || act === "negative") player.pause();
  show();
});
$("open").addEventListener("click", open);
$("retry").addEventListener("click", open);
$("more").addEventListener("click", () => $("steps").showModal());
$("finish").addEventListener("submit", (event) => {
  event.preventDefault();
  finish();
});
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible" && microphone?.open) wake();
});

await keep.open();
const address = `${location.protocol === "https:" ? "wss" : "ws"}://${location.host}/dictate/${id}/sound`;
link = new Link(address, keep, {
  shown: page,
  line: inLine,
  changed: show,
  closed: (why) => {
    if (why === "moved") {
      now.moved = true;
      microphone?.stop();
    } else if (why === "refused") location.reload();
    else trouble(texts.microphone.server_full, false);
    show();
  },
});
now.unsent = await keep.count();
if (now.unsent) trouble(fill(texts.microphone.unsent, { seconds: seconds(now.unsent) }), false);
link.connect();
setInterval(count, 1000);
show();

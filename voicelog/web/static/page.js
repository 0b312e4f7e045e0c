// What every page has: day or night, forms that say that they work, one dialog for the keys.

const root = document.documentElement;

function theme() {
  const dark = matchMedia("(prefers-color-scheme: dark)").matches;
  const next = (root.dataset.theme ?? (dark ? "night" : "day")) === "night" ? "day" : "night";
  root.dataset.theme = next;
  document.cookie = `theme=${next}; path=/; max-age=31536000; samesite=strict${location.protocol === "https:" ? "; secure" : ""}`;
}

document.querySelector("[data-theme-button]")?.addEventListener("click", theme);

// A form that takes its time is sent once and says so.
document.addEventListener("submit", (event) => {
  const form = event.target;
  const busy = form.dataset?.busy;
  if (!busy) return;
  if (form.dataset.sent) return event.preventDefault();
  form.dataset.sent = "yes";
  const notice = document.createElement("p");
  notice.className = "told";
  notice.setAttribute("role", "status");
  notice.textContent = busy;
  form.append(notice);
});

// The menu closes when something else is pressed, and by Escape.
const menu = document.querySelector("details.menu");
document.addEventListener("click", ({ target }) => {
  if (menu?.open && !menu.contains(target)) menu.open = false;
});
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && menu?.open) {
    menu.open = false;
    menu.querySelector("summary").focus();
  }
});

// Only the steps of the chosen card are offered.
const steps = document.getElementById("step");
if (steps instanceof HTMLSelectElement) {
  const narrow = () => {
    const card = document.querySelector("input[name=card]:checked")?.value;
    for (const group of steps.querySelectorAll("optgroup")) {
      group.hidden = group.disabled = Boolean(card) && group.dataset.card !== card;
    }
    if (steps.selectedOptions[0]?.parentElement.disabled) steps.value = "";
  };
  document.addEventListener("change", ({ target }) => target.name === "card" && narrow());
  narrow();
}

document.querySelectorAll("[data-print]").forEach((button) => button.addEventListener("click", () => print()));

// What has to be waited for is looked at again, every so many seconds, until it leads elsewhere.
async function lookAgain() {
  const place = document.querySelector("[data-poll]");
  if (!place) return;
  try {
    const answer = await fetch(location.pathname);
    if (answer.redirected) return location.assign(answer.url);
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const fresh = page.querySelector("[data-poll]");
    if (fresh && fresh.innerHTML !== place.innerHTML) place.innerHTML = fresh.innerHTML;
  } catch { /* the server is away: it will be back, and the recording is on its disk */ }
  wait();
}

function wait() {
  const place = document.querySelector("[data-poll]");
  if (place) setTimeout(lookAgain, 1000 * place.dataset.poll);
}
wait();

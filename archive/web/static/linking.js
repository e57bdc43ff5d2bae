// Linking: choose a run by its first and last photo, say what they show, then one key a view.
import { ask, say } from "./asking.js";

const bench = document.querySelector("#linking");
const tiles = [...document.querySelectorAll("#photos > li")];
const subject = document.querySelector("#subject");
const oneByOne = document.querySelector("#one-by-one");
const wholeRun = document.querySelector("#whole-run");
const status = document.querySelector("#chosen");
const pick = (tile) => tile.querySelector(".pick");
const keys = new Map([...document.querySelectorAll("#views button")].map((b) => [b.getAttribute("aria-keyshortcuts"), b.dataset.view]));

const subjects = new Map(
  [...document.querySelectorAll("#subject-keys button")].map((b) => [b.getAttribute("aria-keyshortcuts"), b.dataset.subject]),
);

let first = null; // where the run began, while its last photo is still to come
let at = -1; // the photo that the next view is for
let queue = Promise.resolve(); // links are sent one after another, in the order of the keys

const chosen = () => tiles.filter((tile) => pick(tile).getAttribute("aria-pressed") === "true");
const setChosen = (tile, yes) => pick(tile).setAttribute("aria-pressed", String(yes));

function tell() {
  const number = chosen().length;
  if (!number) status.textContent = oneByOne.checked ? "Choose photos." : "Choose the first photo of a run, then the last.";
  else if (first !== null) status.textContent = "1 photo chosen. Choose the last of the run, or say what it shows.";
  else status.textContent = number === 1 ? "1 photo chosen." : `${number} photos chosen.`;
}

function mark(number) {
  tiles[at]?.classList.remove("at");
  at = number;
  tiles[at]?.classList.add("at");
}

function choose(number) {
  const tile = tiles[number];
  if (oneByOne.checked) {
    setChosen(tile, !chosen().includes(tile));
    first = null;
  } else if (first === null) {
    for (const other of chosen()) setChosen(other, false);
    setChosen(tile, true);
    first = number;
  } else {
    const [from, to] = [Math.min(first, number), Math.max(first, number)];
    for (let n = from; n <= to; n++) setChosen(tiles[n], true);
    first = null;
  }
  mark(tiles.indexOf(chosen()[0]));
  tell();
}

function goTo(number) {
  const tile = tiles[number];
  if (!tile) return;
  for (const button of document.querySelectorAll('.pick[tabindex="0"]')) button.tabIndex = -1;
  pick(tile).tabIndex = 0;
  pick(tile).focus();
}

function columns() {
  const top = tiles[0].offsetTop;
  const next = tiles.findIndex((tile) => tile.offsetTop > top);
  return next < 0 ? tiles.length : next;
}

function send(which, view) {
  const name = subject.value.trim();
  if (!name) {
    say("Say first what they show.", true);
    subject.focus();
    return false;
  }
  const ids = which.map((tile) => tile.dataset.photo);
  queue = queue.then(async () => {
    try {
      const done = await ask(bench.dataset.link, { json: { photos: ids, subject: name, view } });
      for (const [id, shows] of Object.entries(done.shows))
        document.querySelector(`[data-photo="${id}"] .shows`).textContent = shows.join("; ");
      const count = ids.length === 1 ? "1 photo shows" : `${ids.length} photos show`;
      say([`${count} ${done.subject}${view ? `, ${view}` : ""}.`, ...done.warnings].join(" "));
    } catch (problem) {
      say(problem.message, true);
    }
  });
  return true;
}

function giveView(view) {
  const run = chosen();
  if (!run.length) return say("Choose photos first.", true);
  if (wholeRun.checked) return void send(run, view);
  const tile = tiles[at] ?? run[0];
  if (!send([tile], view)) return;
  const next = run[run.indexOf(tile) + 1];
  if (!next) return void (status.textContent = "That was the last photo of the run.");
  mark(tiles.indexOf(next));
  next.scrollIntoView({ block: "nearest" });
}

tiles.forEach((tile, number) => {
  pick(tile).tabIndex = number ? -1 : 0;
  pick(tile).addEventListener("click", () => {
    goTo(number);
    choose(number);
  });
});

document.querySelector("#photos").addEventListener("keydown", (event) => {
  const here = tiles.findIndex((tile) => tile.contains(event.target));
  const step = { ArrowRight: 1, ArrowLeft: -1, ArrowDown: columns(), ArrowUp: -columns() }[event.key];
  const place = { Home: 0, End: tiles.length - 1 }[event.key] ?? (step === undefined ? undefined : here + step);
  if (place === undefined) return;
  event.preventDefault();
  goTo(Math.max(0, Math.min(tiles.length - 1, place)));
});

document.addEventListener("keydown", (event) => {
  if (event.target.matches("input, select, textarea") || event.ctrlKey || event.metaKey || event.altKey) return;
  const view = keys.get(event.key);
  if (view) giveView(view);
  if (subjects.has(event.key)) linkTo(subjects.get(event.key));
  if (event.key === "w") {
    event.preventDefault(); // or the letter would stand in the field
    subject.focus();
  }
  if (event.key === "Escape") {
    first = null;
    for (const tile of chosen()) setChosen(tile, false);
    mark(-1);
    tell();
  }
});

function linkRun() {
  const run = chosen();
  if (!run.length) return say("Choose photos first.", true);
  if (!send(run, null)) return;
  first = null;
  tell();
  mark(tiles.indexOf(run[0]));
  goTo(at); // from here, one key a view
}

function linkTo(name) {
  subject.value = name;
  linkRun();
}

document.querySelector("#link").addEventListener("submit", (event) => {
  event.preventDefault();
  linkRun();
});
document.querySelector("#subject-keys")?.addEventListener("click", (event) => {
  const name = event.target.closest("[data-subject]")?.dataset.subject;
  if (name) linkTo(name);
});

document.querySelector("#views").addEventListener("click", (event) => {
  const view = event.target.closest("[data-view]")?.dataset.view;
  if (view) giveView(view);
});
oneByOne.addEventListener("change", () => ((first = null), tell()));

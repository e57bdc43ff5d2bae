// Linking: say what the chosen photos show, then one key a view.
import { ask, say, showNewest } from "./asking.js";
import { chosen, endRun, goTo, mark, marked, status } from "./choosing.js";
import { onSingleKey } from "./keys.js";

const bench = document.querySelector("#linking");
const subject = document.querySelector("#subject");
const addNew = document.querySelector("#add-new");
const wholeRun = document.querySelector("#whole-run");
const named = (group, what) =>
  new Map([...document.querySelectorAll(`${group} button`)].map((b) => [b.getAttribute("aria-keyshortcuts"), b.dataset[what]]));
const views = named("#views", "view");
const subjects = named("#subject-keys", "subject");

// What has the focus must not lie under the bench, which stays at the top while the photos pass below it.
new ResizeObserver(() => {
  const stays = getComputedStyle(bench).position === "sticky";
  document.documentElement.style.scrollPaddingTop = stays ? `${bench.offsetHeight + 8}px` : "";
}).observe(bench);

// A thing that was added is one press away from now on, as those that were here before.
function offer(name) {
  const group = document.querySelector("#subject-keys");
  document.querySelector("#subjects").append(new Option(name));
  const key = String(subjects.size + 1);
  if (key > 9) return;
  const button = group.querySelector("template").content.firstElementChild.cloneNode(true);
  button.dataset.subject = button.title = button.querySelector(".clip").textContent = name;
  button.querySelector("kbd").textContent = key;
  button.setAttribute("aria-keyshortcuts", key);
  group.append(button);
  group.hidden = false;
  subjects.set(key, name);
}

let queue = Promise.resolve(); // links are sent one after another, in the order of the keys

function send(which, view, isNew = false) {
  const name = subject.value.trim();
  if (!name) {
    say("Say first what they show.", true);
    subject.focus();
    return false;
  }
  const ids = which.map((tile) => tile.dataset.photo);
  queue = queue.then(async () => {
    try {
      const done = await ask(bench.dataset.link, { json: { photos: ids, subject: name, view, new: isNew } });
      addNew.hidden = true;
      if (isNew) offer(done.subject);
      for (const [id, shows] of Object.entries(done.shows))
        document.querySelector(`[data-photo="${id}"] .shows`).textContent = shows.join("; ");
      const count = ids.length === 1 ? "1 photo shows" : `${ids.length} photos show`;
      say([`${count} ${done.subject}${view ? `, ${view}` : ""}.`, ...done.warnings].join(" "));
      await showNewest();
    } catch (problem) {
      addNew.hidden = problem.unknown !== "subject";
      say(problem.message, true);
    }
  });
  return true;
}

function giveView(view) {
  const run = chosen();
  if (!run.length) return say("Choose photos first.", true);
  if (wholeRun.checked) return void send(run, view);
  const tile = marked() ?? run[0];
  if (!send([tile], view)) return;
  const next = run[run.indexOf(tile) + 1];
  if (!next) return void (status.textContent = "That was the last photo of the run.");
  mark(next);
  next.scrollIntoView({ block: "nearest" });
}

function linkRun(isNew = false) {
  const run = chosen();
  if (!run.length) return say("Choose photos first.", true);
  if (!send(run, null, isNew)) return;
  endRun();
  mark(run[0]);
  goTo(run[0]); // from here, one key a view
}

function linkTo(name) {
  subject.value = name;
  linkRun();
}

onSingleKey((event) => {
  if (views.has(event.key)) giveView(views.get(event.key));
  if (subjects.has(event.key)) linkTo(subjects.get(event.key));
  if (event.key === "w") {
    event.preventDefault(); // or the letter would stand in the field
    subject.focus();
  }
});

document.querySelector("#link").addEventListener("submit", (event) => {
  event.preventDefault();
  linkRun();
});
addNew.addEventListener("click", () => linkRun(true));
document.querySelector("#subject-keys").addEventListener("click", (event) => {
  const name = event.target.closest("[data-subject]")?.dataset.subject;
  if (name) linkTo(name);
});
document.querySelector("#views").addEventListener("click", (event) => {
  const view = event.target.closest("[data-view]")?.dataset.view;
  if (view) giveView(view);
});

// Bringing photos in: files are sent one by one, then imported together, and the report is shown.
import { ask, say, showNewest } from "./asking.js";

const form = document.querySelector("#bring-in");
const drop = document.querySelector("#drop");
const bar = document.querySelector("#bar");
const howFar = document.querySelector("#how-far");
const report = document.querySelector("#report");
const stage = document.querySelector("#stage");
const most = Number(form.dataset.most);
const PAUSE_MS = 300;
let busy = false;

const pause = () => new Promise((go) => setTimeout(go, PAUSE_MS));

function tell(what, done, total) {
  howFar.hidden = false;
  stage.textContent = total ? `${what}: ${done} of ${total}` : what;
  bar.max = total || 1;
  bar.value = done;
}

async function deliver(files) {
  if (!files.length) return;
  if (busy) return say("Wait until the files that you gave before are brought in.", true);
  busy = true;
  report.replaceChildren();
  tell("Sending", 0, files.length);
  howFar.scrollIntoView({ block: "nearest" }); // a small window shows the form alone
  const failed = [];
  try {
    const batch = await ask(form.dataset.begin, { json: { pages: document.querySelector("#pages").value } });
    for (const [number, { file, name }] of files.entries()) {
      tell("Sending", number, files.length);
      try {
        if (file.size > most) throw new Error(`'${name}' is larger than a page takes. Bring it in with 'rivetbook import'.`);
        await ask(`${batch.file}?${new URLSearchParams({ name })}`, { body: file });
      } catch (problem) {
        failed.push(problem.message);
      }
    }
    const visit = document.querySelector("#visit").value;
    await ask(batch.start, { json: { visit, taken_out: document.querySelector("#taken-out").checked } });
    let state;
    do {
      await pause();
      state = await ask(batch.state);
      tell(state.stage || "Reading", state.done, state.total);
    } while (!state.finished);
    if (state.error) throw new Error(state.error);
    const came = await fetch(batch.report);
    const page = new DOMParser().parseFromString(await came.text(), "text/html");
    report.replaceChildren(...page.body.childNodes);
    tell("Done", 1, 1);
    report.scrollIntoView({ block: "nearest" });
    await showNewest();
  } catch (problem) {
    failed.push(problem.message);
    howFar.hidden = true;
  }
  busy = false;
  if (failed.length) say(failed.join(" "), true);
}

// A dropped folder is walked through: browsers hand it over a hundred entries at a time.
async function walk(entry) {
  if (entry.isFile) {
    const file = await new Promise((got, lost) => entry.file(got, lost));
    return [{ file, name: entry.fullPath.replace(/^\//, "") }];
  }
  const reader = entry.createReader();
  const found = [];
  for (;;) {
    const some = await new Promise((got, lost) => reader.readEntries(got, lost));
    if (!some.length) return found;
    for (const each of some) found.push(...(await walk(each)));
  }
}

async function dropped(transfer) {
  const entries = [...transfer.items].map((item) => item.webkitGetAsEntry?.()).filter(Boolean);
  if (!entries.length) return [...transfer.files].map((file) => ({ file, name: file.name }));
  return (await Promise.all(entries.map(walk))).flat();
}

for (const field of [document.querySelector("#files"), document.querySelector("#folder")])
  field.addEventListener("change", async () => {
    const files = [...field.files].map((file) => ({ file, name: file.webkitRelativePath || file.name }));
    await deliver(files);
    field.value = "";
  });

form.addEventListener("submit", (event) => event.preventDefault());
addEventListener("dragover", (event) => {
  event.preventDefault();
  drop.classList.add("over");
});
addEventListener("dragleave", () => drop.classList.remove("over"));
addEventListener("drop", async (event) => {
  event.preventDefault();
  drop.classList.remove("over");
  try {
    await deliver(await dropped(event.dataTransfer));
  } catch (problem) {
    say(`The files could not be read: ${problem.message}`, true);
  }
});
addEventListener("beforeunload", (event) => busy && event.preventDefault());

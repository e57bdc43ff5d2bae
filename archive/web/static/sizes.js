// Writing sizes down: says how each is understood while it is typed, and never runs out of lines.
import { ask, sayInSight } from "./asking.js";

// After a change the page comes back to where one was, and what was said at its top comes along.
const said = document.querySelector("#said").children;
if (location.hash && said.length) sayInSight(...said);

const form = document.querySelector("#several");
const rows = document.querySelector("#rows");
const PAUSE_MS = 200;
const waiting = new WeakMap(); // by row: somebody types on in the next one meanwhile

async function readBack(row) {
  const label = row.querySelector("[name=label]").value;
  const written = row.querySelector("[name=written]").value.trim();
  const answer = row.querySelector(".understood");
  if (!written) return answer.replaceChildren();
  const line = document.createElement("span");
  try {
    const said = await ask(`${form.dataset.read}?${new URLSearchParams({ label, written })}`);
    line.textContent = said.wrong ?? said.understood;
    if (said.wrong) line.className = "wrong";
  } catch (problem) {
    line.textContent = problem.message;
    line.className = "wrong";
  }
  if (row.querySelector("[name=written]").value.trim() === written) answer.replaceChildren(line);
}

function anotherRow() {
  const last = rows.lastElementChild;
  if ([...last.querySelectorAll("input")].every((field) => !field.value)) return;
  const fresh = last.cloneNode(true);
  const number = rows.children.length + 1;
  for (const field of fresh.querySelectorAll("input, select")) {
    if (field.matches("input")) field.value = "";
    field.removeAttribute("aria-invalid");
    field.removeAttribute("aria-describedby");
    field.setAttribute("aria-label", field.getAttribute("aria-label").replace(/\d+$/, number));
  }
  fresh.querySelector(".understood").replaceChildren();
  fresh.querySelector(".understood").id = `wrong-${number}`;
  rows.append(fresh);
}

function readBackSoon(row) {
  clearTimeout(waiting.get(row));
  waiting.set(row, setTimeout(readBack, PAUSE_MS, row));
}

rows.addEventListener("input", (event) => {
  anotherRow();
  readBackSoon(event.target.closest("tr"));
});

for (const correction of document.querySelectorAll("form.correction")) correction.addEventListener("input", () => readBackSoon(correction));

// Enter goes on to the next line, as on paper; the button sends them all.
rows.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || event.ctrlKey || !event.target.matches("input")) return;
  event.preventDefault();
  const row = event.target.closest("tr");
  const next = event.target.name === "label" ? row.querySelector("[name=written]") : row.nextElementSibling?.querySelector("[name=label]");
  next?.focus();
});

// The photo that is named stands beside the rows: the small picture at once, then one to read a tape in.
const photo = document.querySelector("#photo");
const evidence = document.querySelector("#evidence-picture");

async function showEvidence() {
  const named = [...document.querySelectorAll("#evidence option")].find((option) => option.value === photo.value);
  evidence.hidden = !named;
  if (!named) return;
  const picture = evidence.querySelector("img");
  picture.src = named.dataset.small;
  picture.alt = `Photo ${named.value}`;
  evidence.querySelector("a").href = named.dataset.page;
  const larger = new Image();
  larger.src = named.dataset.screen;
  await larger.decode().catch(() => {});
  if (photo.value === named.value && larger.naturalWidth) picture.src = larger.src;
}

photo.addEventListener("input", showEvidence);
showEvidence();

// Caption, creator and rights of all chosen photos at once: what they share stands in the fields, only what was typed is sent.
import { ask, say, showNewest } from "./asking.js";
import { chosen } from "./choosing.js";

const form = document.querySelector("#describe");
const fields = [...form.querySelectorAll("[name]")];
const typed = new Set();

function showShared() {
  typed.clear();
  const run = chosen();
  for (const field of fields) {
    const values = new Set(run.map((tile) => tile.dataset[field.name]));
    field.value = values.size === 1 ? [...values][0] : "";
    field.placeholder = values.size > 1 ? "differs from photo to photo" : "";
  }
}

form.addEventListener("input", (event) => typed.add(event.target.name));
form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const run = chosen();
  if (!run.length) return say("Choose photos first.", true);
  const facts = Object.fromEntries(fields.filter((field) => typed.has(field.name)).map((field) => [field.name, field.value.trim()]));
  if (!Object.keys(facts).length) return say("Nothing was changed in the fields.", true);
  try {
    const done = await ask(form.dataset.describe, { json: { photos: run.map((tile) => tile.dataset.photo), facts } });
    for (const tile of run) {
      Object.assign(tile.dataset, facts);
      tile.querySelector(".caption").textContent = tile.dataset.caption;
    }
    say(done.said);
    showShared();
    await showNewest();
  } catch (problem) {
    say(problem.message, true);
  }
});
document.querySelector("#photos").addEventListener("chosen", showShared);

// The answer changes while somebody types; without this the button does the same.
import { watch } from "./pictures.js";

const form = document.querySelector("#find");
const answer = document.querySelector("#answer");
const PAUSE_MS = 150;
let waiting;
let asking;

async function look(typing) {
  asking?.abort();
  asking = new AbortController();
  const question = new URLSearchParams([...new FormData(form)].filter(([, value]) => value));
  history.replaceState(null, "", `${form.action.split("?")[0]}?${question}`);
  if (typing) question.set("typing", "1");
  try {
    const came = await fetch(`${form.dataset.answer}?${question}`, { signal: asking.signal });
    const page = new DOMParser().parseFromString(await came.text(), "text/html");
    answer.replaceChildren(...page.body.childNodes);
    watch(answer);
    answer.dataset.for = question.toString();
  } catch (problem) {
    if (problem.name !== "AbortError") answer.textContent = "Rivetbook does not answer. Is it still running in its terminal?";
  }
}

form.addEventListener("input", (event) => {
  clearTimeout(waiting);
  waiting = setTimeout(look, PAUSE_MS, event.target.id === "words");
});

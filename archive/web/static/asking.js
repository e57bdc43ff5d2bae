// Asking our own server: every change carries the page's token, every error comes back as a sentence.
const token = document.querySelector("[data-token]")?.dataset.token ?? "";

export async function ask(address, { json, body, headers = {}, signal } = {}) {
  const change = json !== undefined || body !== undefined;
  let answer;
  try {
    answer = await fetch(address, {
      method: change ? "POST" : "GET",
      body: json === undefined ? body : JSON.stringify(json),
      headers: {
        Accept: "application/json",
        ...(change ? { "X-Rivetbook-Token": token } : {}),
        ...(json === undefined ? {} : { "Content-Type": "application/json" }),
        ...headers,
      },
      signal,
    });
  } catch (problem) {
    if (problem.name === "AbortError") throw problem;
    throw new Error("Rivetbook does not answer. Is it still running in its terminal?");
  }
  const said = await answer.json();
  if (!answer.ok) throw Object.assign(new Error(said.error), { unknown: said.unknown });
  return said;
}

// After a change that the page made without being loaded anew: its foot offers to take back this one.
export async function showNewest() {
  const foot = document.querySelector("footer");
  const came = await fetch(`${foot.dataset.newest}?${new URLSearchParams({ from: location.pathname })}`).catch(() => null);
  if (!came?.ok) return;
  foot.replaceChildren(...new DOMParser().parseFromString(await came.text(), "text/html").body.childNodes);
}

export function say(sentence, wrong = false) {
  const line = document.createElement("p");
  line.textContent = sentence;
  line.className = wrong ? "wrong" : "";
  sayInSight(line);
}

// What is said stands at the window's lower edge, for the top of the page may be far away; it goes when it is told to.
export function sayInSight(...lines) {
  const said = document.querySelector("#said");
  const told = document.createElement("div");
  told.append(...lines);
  const hide = document.createElement("button");
  hide.type = "button";
  hide.className = "soft";
  hide.textContent = "Hide";
  hide.addEventListener("click", () => said.replaceChildren());
  said.replaceChildren(told, hide);
  said.classList.add("aloud");
}

// Choosing photos: a run by its first and its last, or one by one; arrows go from photo to photo.
export const tiles = [...document.querySelectorAll("#photos > li")];
export const status = document.querySelector("#chosen");
const grid = document.querySelector("#photos");
const oneByOne = document.querySelector("#one-by-one");
const pick = (tile) => tile.querySelector(".pick");

let first = null; // where the run began, while its last photo is still to come
let at = -1; // the photo that the next view is for

export const chosen = () => tiles.filter((tile) => pick(tile).getAttribute("aria-pressed") === "true");
export const marked = () => tiles[at];

function setChosen(tile, yes) {
  pick(tile).setAttribute("aria-pressed", String(yes));
}

function tell() {
  const number = chosen().length;
  if (!number) status.textContent = oneByOne.checked ? "Choose photos." : "Choose the first photo of a run, then the last.";
  else if (first !== null) status.textContent = "1 photo chosen. Choose the last of the run, or say what it shows.";
  else status.textContent = number === 1 ? "1 photo chosen." : `${number} photos chosen.`;
  grid.dispatchEvent(new CustomEvent("chosen"));
}

export function mark(tile) {
  marked()?.classList.remove("at");
  at = tiles.indexOf(tile);
  tile?.classList.add("at");
}

// The run is complete: the next photo that is chosen begins another.
export function endRun() {
  first = null;
  tell();
}

export function chooseNone() {
  for (const tile of chosen()) setChosen(tile, false);
  mark(undefined);
  endRun();
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
    for (let n = Math.min(first, number); n <= Math.max(first, number); n++) setChosen(tiles[n], true);
    first = null;
  }
  mark(chosen()[0]);
  tell();
}

export function goTo(tile) {
  for (const button of document.querySelectorAll('.pick[tabindex="0"]')) button.tabIndex = -1;
  pick(tile).tabIndex = 0;
  pick(tile).focus();
}

function columns() {
  const next = tiles.findIndex((tile) => tile.offsetTop > tiles[0].offsetTop);
  return next < 0 ? tiles.length : next;
}

tiles.forEach((tile, number) => {
  pick(tile).tabIndex = number ? -1 : 0;
  pick(tile).addEventListener("click", () => {
    goTo(tile);
    choose(number);
  });
});

grid.addEventListener("keydown", (event) => {
  const here = tiles.findIndex((tile) => tile.contains(event.target));
  const step = { ArrowRight: 1, ArrowLeft: -1, ArrowDown: columns(), ArrowUp: -columns() }[event.key];
  const place = { Home: 0, End: tiles.length - 1 }[event.key] ?? (step === undefined ? undefined : here + step);
  if (place === undefined) return;
  event.preventDefault();
  goTo(tiles[Math.max(0, Math.min(tiles.length - 1, place))]);
});

document.addEventListener("keydown", (event) => event.key === "Escape" && chooseNone());
oneByOne.addEventListener("change", endRun);

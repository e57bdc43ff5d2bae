// Saying where on the photo a subject is: a box that is drawn, moved and made larger by mouse, by touch or by keys. Its four
// numbers stand in the form, which is what is sent.
import { at, bringIntoSight, glass, onDrawn, takeUp } from "./closeup.js";
import { withoutRegionOf } from "./shown.js";

const fold = document.querySelector("#where");
const form = fold.querySelector("form");
const told = form.querySelector("output");
const away = form.querySelector("[name=whole]");
const fields = ["left", "top", "width", "height"].map((name) => form.elements[name]);
const LEAST = Number(fields[2].min);
const STEP = 8; // screen px for a press of an arrow

const box = document.createElement("div");
box.className = "box";
box.tabIndex = 0;
box.hidden = true;
box.dataset.grip = "nsew";
box.setAttribute("role", "application");
box.setAttribute("aria-roledescription", "region");
for (const corner of ["nw", "ne", "sw", "se"]) {
  const grip = document.createElement("i");
  grip.dataset.grip = corner;
  box.append(grip);
}
glass.append(box);

const within = (low, value, high) => Math.round(Math.max(low, Math.min(value, high)));
const numbers = () => fields.map((field) => (field.value === "" ? NaN : Number(field.value)));
const isThere = () => numbers().every(Number.isFinite);

function put(left, top, wide, tall) {
  [wide, tall] = [within(LEAST, wide, at.width), within(LEAST, tall, at.height)];
  [left, top] = [within(0, left, at.width - wide), within(0, top, at.height - tall)];
  [left, top, wide, tall].forEach((number, n) => (fields[n].value = number));
  told.textContent = `${left},${top} to ${left + wide},${top + tall} px`;
  show();
}

function putEdges(left, top, right, bottom) {
  const [x, y] = [[left, right].sort((a, b) => a - b), [top, bottom].sort((a, b) => a - b)];
  const edges = [within(0, x[0], at.width), within(0, y[0], at.height), within(0, x[1], at.width), within(0, y[1], at.height)];
  put(edges[0], edges[1], edges[2] - edges[0], edges[3] - edges[1]);
}

function show() {
  box.hidden = !fold.open || !isThere();
  glass.classList.toggle("drawing", fold.open && !isThere());
  if (box.hidden) return;
  const [left, top, wide, tall] = numbers();
  box.style.transform = `translate(${at.left + left * at.scale}px, ${at.top + top * at.scale}px)`;
  box.style.width = `${wide * at.scale}px`;
  box.style.height = `${tall * at.scale}px`;
}

// What the hand does: draw a box where there is none, else move it, or a corner of it.
let began = null;
const tool = {
  start(touched, x, y) {
    const grip = isThere() ? touched.dataset.grip : "new";
    const [left, top, wide, tall] = numbers();
    began = { grip, x, y, left, top, right: left + wide, bottom: top + tall };
    return Boolean(grip);
  },
  move(x, y) {
    const [right, down] = [x - began.x, y - began.y];
    const { grip, left, top } = began;
    if (grip === "new") return putEdges(began.x, began.y, x, y);
    if (grip === "nsew") return put(left + right, top + down, began.right - left, began.bottom - top);
    const edge = (side, from, by) => (grip.includes(side) ? from + by : from);
    putEdges(edge("w", left, right), edge("n", top, down), edge("e", began.right, right), edge("s", began.bottom, down));
  },
};
fold.addEventListener("toggle", () => takeUp(fold.open ? tool : null));

box.addEventListener("keydown", (event) => {
  const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === "Enter") return form.requestSubmit();
  if (event.key === "Escape") return leave();
  if (event.key === "n" || event.key === "p") event.stopPropagation(); // not to another photo from the midst of this
  if (!way) return;
  event.preventDefault();
  event.stopPropagation(); // else the picture moves as well
  const step = Math.max(1, Math.round(STEP / at.scale));
  const [left, top, wide, tall] = numbers();
  const [x, y] = way.map((each) => each * step);
  if (event.shiftKey) put(left, top, Math.min(wide + x, at.width - left), Math.min(tall + y, at.height - top));
  else put(left + x, top + y, wide, tall);
  bringIntoSight(Number(fields[0].value) + wide / 2, Number(fields[1].value) + tall / 2);
});

function leave() {
  fold.open = false;
  fold.querySelector("summary").focus();
}

const chosen = () => form.elements.subject.selectedOptions[0];

// The numbers are those that are kept; what was typed or drawn since is forgotten.
function asKept() {
  const known = chosen().dataset.region?.split(",") ?? ["", "", "", ""];
  fields.forEach((field, n) => (field.value = field.defaultValue = known[n]));
  told.textContent = "";
  turnTo();
}

function turnTo() {
  away.hidden = !chosen().dataset.region;
  box.setAttribute("aria-label", `Where ${chosen().textContent} is: arrows move it, with Shift they make it larger or smaller, Enter keeps it`);
  withoutRegionOf(fold.open ? chosen().value : null);
  show();
}

// To the box on the photo; where there is none, one is put into the middle of what is seen.
form.querySelector("[data-to-box]").addEventListener("click", () => {
  if (!isThere()) {
    const [wide, tall] = [Math.min(at.width, glass.clientWidth / at.scale), Math.min(at.height, glass.clientHeight / at.scale)];
    const [left, top] = [Math.max(0, -at.left / at.scale), Math.max(0, -at.top / at.scale)];
    put(left + wide / 4, top + tall / 4, wide / 2, tall / 2);
  }
  const [left, top, wide, tall] = numbers();
  bringIntoSight(left + wide / 2, top + tall / 2);
  box.focus({ preventScroll: true });
  glass.scrollIntoView({ block: "nearest" });
});

form.elements.subject.addEventListener("change", asKept);
for (const field of fields) field.addEventListener("input", show);
fold.addEventListener("toggle", () => (fold.open ? turnTo() : asKept())); // who types at once is not overtaken
if (fields.every((field) => !field.value)) asKept(); // else the browser has put back what was typed
onDrawn(show);

// Looking closely: the preview at once, then the picture that fills the screen, then tiles of the pixels themselves.
import { onSingleKey } from "./keys.js";

const glass = document.querySelector("#glass");
const base = glass.querySelector("img");
const tilePx = Number(glass.dataset.tile);
const tiles = document.createElement("div");
tiles.className = "tiles";
glass.append(tiles);

// Marks keep their size while the picture is brought closer.
const showMarks = document.querySelector("#show-marks");
const marks = [...document.querySelectorAll("#marks li")].map((line) => {
  const mark = document.createElement("div");
  mark.className = "mark";
  mark.setAttribute("aria-hidden", "true"); // the list below the photo says them
  mark.append(line.querySelector("span").cloneNode(true));
  glass.append(mark);
  return { mark, x: Number(line.dataset.x), y: Number(line.dataset.y) };
});
showMarks?.addEventListener("change", () => marks.forEach(({ mark }) => (mark.hidden = !showMarks.checked)));

let width = Number(glass.dataset.width); // of the upright picture, px
let height = Number(glass.dataset.height);
let scale = 1; // screen pixels for one of the picture's
let left = 0;
let top_ = 0;
let fitting = true;
let drawing = 0;
const MOST_SCALE = 8;
const STEP = 1.4;
const MOST_TILES = 160;

const fit = () => Math.min(glass.clientWidth / width, glass.clientHeight / height);

function all() {
  scale = fit();
  fitting = true;
  left = (glass.clientWidth - width * scale) / 2;
  top_ = (glass.clientHeight - height * scale) / 2;
  draw();
}

function keepInside() {
  const inside = (at, size, room) => (size <= room ? (room - size) / 2 : Math.min(0, Math.max(room - size, at)));
  left = inside(left, width * scale, glass.clientWidth);
  top_ = inside(top_, height * scale, glass.clientHeight);
}

function zoom(to, x = glass.clientWidth / 2, y = glass.clientHeight / 2) {
  const wanted = Math.max(fit(), Math.min(MOST_SCALE, to));
  left = x - ((x - left) * wanted) / scale;
  top_ = y - ((y - top_) * wanted) / scale;
  scale = wanted;
  fitting = scale === fit();
  draw();
}

function pan(x, y) {
  left += x;
  top_ += y;
  draw();
}

function draw() {
  cancelAnimationFrame(drawing);
  drawing = requestAnimationFrame(() => {
    keepInside();
    base.style.width = `${width}px`;
    base.style.height = `${height}px`;
    base.style.transform = tiles.style.transform = `translate(${left}px, ${top_}px) scale(${scale})`;
    // A place is counted from the centre of the first pixel, the picture's edge lies half a pixel before it.
    for (const { mark, x, y } of marks) mark.style.transform = `translate(${left + (x + 0.5) * scale}px, ${top_ + (y + 0.5) * scale}px)`;
    glass.dataset.scale = scale.toFixed(4);
    showTiles();
  });
}

function showTiles() {
  const needed = scale * devicePixelRatio;
  if (needed * width <= base.naturalWidth * 1.05 || !glass.dataset.ready) return tiles.replaceChildren();
  const level = Math.max(0, Math.floor(Math.log2(1 / needed)));
  const side = tilePx * 2 ** level;
  const from = (at) => Math.max(0, Math.floor(-at / scale / side));
  const to = (at, room, most) => Math.min(Math.ceil(most / side), Math.ceil((room - at) / scale / side));
  const keep = new Set();
  for (let row = from(top_); row < to(top_, glass.clientHeight, height); row++)
    for (let column = from(left); column < to(left, glass.clientWidth, width); column++) keep.add(`${level}/${column}/${row}`);
  for (const key of keep) if (!tiles.querySelector(`[data-key="${key}"]`)) tiles.append(tile(key, side));
  const spare = [...tiles.children].filter((each) => !keep.has(each.dataset.key));
  for (const each of spare.slice(0, Math.max(0, tiles.children.length - MOST_TILES))) each.remove();
  for (const each of spare) if (!each.dataset.key.startsWith(`${level}/`)) each.remove();
}

function tile(key, side) {
  const [, column, row] = key.split("/").map(Number);
  const piece = new Image();
  piece.alt = "";
  piece.dataset.key = key;
  piece.style.left = `${column * side}px`;
  piece.style.top = `${row * side}px`;
  piece.style.width = `${Math.min(side, width - column * side)}px`;
  piece.style.height = `${Math.min(side, height - row * side)}px`;
  piece.hidden = true;
  piece.addEventListener("load", () => (piece.hidden = false));
  piece.addEventListener("error", () => piece.remove()); // the larger picture below stays
  piece.src = `${glass.dataset.tiles}${key}.jpg`;
  return piece;
}

async function sharper() {
  const larger = new Image();
  larger.src = glass.dataset.screen;
  try {
    await larger.decode();
  } catch {
    return; // the preview stays
  }
  base.src = larger.src;
  await base.decode().catch(() => {});
  glass.dataset.ready = "yes";
  draw();
}

async function begin() {
  await base.decode().catch(() => {});
  width ||= base.naturalWidth || 4;
  height ||= base.naturalHeight || 3;
  all();
  await sharper();
}

const does = {
  closer: () => zoom(scale * STEP),
  back: () => zoom(scale / STEP),
  all,
  pixels: () => zoom(1 / devicePixelRatio),
};
document.addEventListener("click", (event) => does[event.target.closest("[data-do]")?.dataset.do]?.());

onSingleKey((event) => {
  if (event.key === "n") return document.querySelector("a[rel=next]")?.click();
  if (event.key === "p") return document.querySelector("a[rel=prev]")?.click();
  const key = { "+": "closer", "=": "closer", "-": "back", 0: "all", 1: "pixels" }[event.key];
  if (key) does[key]();
}, glass);

glass.addEventListener("keydown", (event) => {
  const move = { ArrowLeft: [80, 0], ArrowRight: [-80, 0], ArrowUp: [0, 80], ArrowDown: [0, -80] }[event.key];
  if (!move || event.ctrlKey || event.metaKey || event.altKey) return;
  event.preventDefault();
  pan(...move);
});

glass.addEventListener(
  "wheel",
  (event) => {
    if (!event.ctrlKey && document.activeElement !== glass) return; // a page is scrolled past it
    event.preventDefault();
    const box = glass.getBoundingClientRect();
    zoom(scale * (event.deltaY < 0 ? STEP : 1 / STEP), event.clientX - box.left, event.clientY - box.top);
  },
  { passive: false },
);

// One finger or the mouse moves the picture, two bring it closer.
const held = new Map();
glass.addEventListener("pointerdown", (event) => {
  glass.setPointerCapture(event.pointerId);
  held.set(event.pointerId, event);
  glass.classList.add("held");
});
glass.addEventListener("pointermove", (event) => {
  const before = held.get(event.pointerId);
  if (!before) return;
  const other = [...held.values()].find((each) => each.pointerId !== event.pointerId);
  held.set(event.pointerId, event);
  if (!other) return pan(event.clientX - before.clientX, event.clientY - before.clientY);
  const apart = (a, b) => Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY) || 1;
  const box = glass.getBoundingClientRect();
  const middle = [(event.clientX + other.clientX) / 2 - box.left, (event.clientY + other.clientY) / 2 - box.top];
  zoom((scale * apart(event, other)) / apart(before, other), ...middle);
});
const letGo = (event) => {
  held.delete(event.pointerId);
  if (!held.size) glass.classList.remove("held");
};
glass.addEventListener("pointerup", letGo);
glass.addEventListener("pointercancel", letGo);
glass.addEventListener("dblclick", () => (fitting ? does.pixels() : all()));
addEventListener("resize", () => (fitting ? all() : draw()));

begin();

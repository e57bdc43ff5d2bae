// Looking closely: the preview at once, then the picture that fills the screen, then tiles of the pixels themselves.
import { onSingleKey } from "./keys.js";

export const glass = document.querySelector("#glass");
const base = glass.querySelector("img");
const tilePx = Number(glass.dataset.tile);
const tiles = document.createElement("div");
tiles.className = "tiles";
glass.append(tiles);

// Where the upright picture of `width` x `height` px lies: its corner in the glass, and screen pixels for one of its own.
export const at = { left: 0, top: 0, scale: 1, width: Number(glass.dataset.width), height: Number(glass.dataset.height) };
const MOST_SCALE = 8;
const STEP = 1.4;
const MOST_TILES = 160;
let fitting = true;
let drawing = 0;
let tool = null;
const followers = [];

// Calls `follow` whenever the picture has moved or changed its size, and at once where it lies already.
export function onDrawn(follow) {
  followers.push(follow);
  if (glass.dataset.scale) follow();
}

const fit = () => Math.min(glass.clientWidth / at.width, glass.clientHeight / at.height);

function all() {
  at.scale = fit();
  fitting = true;
  draw();
}

function keepInside() {
  const inside = (from, size, room) => (size <= room ? (room - size) / 2 : Math.min(0, Math.max(room - size, from)));
  at.left = inside(at.left, at.width * at.scale, glass.clientWidth);
  at.top = inside(at.top, at.height * at.scale, glass.clientHeight);
}

function zoom(to, x = glass.clientWidth / 2, y = glass.clientHeight / 2) {
  const wanted = Math.max(fit(), Math.min(MOST_SCALE, to));
  at.left = x - ((x - at.left) * wanted) / at.scale;
  at.top = y - ((y - at.top) * wanted) / at.scale;
  at.scale = wanted;
  fitting = at.scale === fit();
  draw();
}

function pan(x, y) {
  at.left += x;
  at.top += y;
  draw();
}

// Brings a place of the picture, px from its corner, into the middle of the glass where it is out of sight.
export function bringIntoSight(x, y) {
  const [right, down] = [at.left + x * at.scale, at.top + y * at.scale];
  if (right > 0 && down > 0 && right < glass.clientWidth && down < glass.clientHeight) return;
  pan(glass.clientWidth / 2 - right, glass.clientHeight / 2 - down);
}

function draw() {
  cancelAnimationFrame(drawing);
  drawing = requestAnimationFrame(() => {
    keepInside();
    base.style.width = `${at.width}px`;
    base.style.height = `${at.height}px`;
    base.style.transform = tiles.style.transform = `translate(${at.left}px, ${at.top}px) scale(${at.scale})`;
    glass.dataset.scale = at.scale.toFixed(4);
    letThePageScroll();
    showTiles();
    for (const follow of followers) follow();
  });
}

// A finger that has nothing to move here scrolls the page past the photo.
function letThePageScroll() {
  glass.classList.toggle("whole", fitting && !tool);
}

function showTiles() {
  const needed = at.scale * devicePixelRatio;
  if (needed * at.width <= base.naturalWidth * 1.05 || !glass.dataset.ready) return tiles.replaceChildren();
  const level = Math.max(0, Math.floor(Math.log2(1 / needed)));
  const side = tilePx * 2 ** level;
  const from = (edge) => Math.max(0, Math.floor(-edge / at.scale / side));
  const to = (edge, room, most) => Math.min(Math.ceil(most / side), Math.ceil((room - edge) / at.scale / side));
  const keep = new Set();
  for (let row = from(at.top); row < to(at.top, glass.clientHeight, at.height); row++)
    for (let column = from(at.left); column < to(at.left, glass.clientWidth, at.width); column++) keep.add(`${level}/${column}/${row}`);
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
  piece.style.width = `${Math.min(side, at.width - column * side)}px`;
  piece.style.height = `${Math.min(side, at.height - row * side)}px`;
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
    return base.naturalWidth || nothingToShow(); // the preview stays, where there is one
  }
  base.src = larger.src;
  await base.decode().catch(() => {});
  glass.dataset.ready = "yes";
  draw();
}

function nothingToShow() {
  const said = document.createElement("p");
  said.className = "blank";
  said.textContent = glass.dataset.lacking;
  glass.replaceWith(said);
  for (const each of document.querySelectorAll("[data-do], #where")) each.hidden = true;
}

async function begin() {
  await base.decode().catch(() => {});
  at.width ||= base.naturalWidth || 4;
  at.height ||= base.naturalHeight || 3;
  all();
  await sharper();
}

const does = {
  closer: () => zoom(at.scale * STEP),
  back: () => zoom(at.scale / STEP),
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
    if (!event.ctrlKey && !glass.contains(document.activeElement)) return; // a page is scrolled past it
    event.preventDefault();
    zoom(at.scale * (event.deltaY < 0 ? STEP : 1 / STEP), ...inGlass(event));
  },
  { passive: false },
);

function inGlass(event) {
  const box = glass.getBoundingClientRect();
  return [event.clientX - box.left - glass.clientLeft, event.clientY - box.top - glass.clientTop];
}

function inPicture(event) {
  const [right, down] = inGlass(event);
  return [(right - at.left) / at.scale, (down - at.top) / at.scale];
}

// One finger or the mouse moves the picture, two fingers bring it closer. A tool may take the one: `start` is told what
// was touched and where on the picture, px from its corner, and says whether it does; then it is moved, until it is put down.
const held = new Map();
let working = false;

export function takeUp(another) {
  tool = another;
  working = false;
  letThePageScroll();
}

glass.addEventListener("pointerdown", (event) => {
  glass.setPointerCapture(event.pointerId);
  held.set(event.pointerId, event);
  glass.classList.add("held");
  working = held.size === 1 && Boolean(tool?.start(event.target, ...inPicture(event)));
});
glass.addEventListener("pointermove", (event) => {
  const before = held.get(event.pointerId);
  if (!before) return;
  const other = [...held.values()].find((each) => each.pointerId !== event.pointerId);
  held.set(event.pointerId, event);
  if (working) return tool.move(...inPicture(event));
  if (!other) return pan(event.clientX - before.clientX, event.clientY - before.clientY);
  const apart = (a, b) => Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY) || 1;
  const [one, two] = [inGlass(event), inGlass(other)];
  zoom((at.scale * apart(event, other)) / apart(before, other), (one[0] + two[0]) / 2, (one[1] + two[1]) / 2);
});
const letGo = (event) => {
  held.delete(event.pointerId);
  if (held.size) return;
  glass.classList.remove("held");
  working = false;
};
glass.addEventListener("pointerup", letGo);
glass.addEventListener("pointercancel", letGo);
glass.addEventListener("dblclick", () => tool || (fitting ? does.pixels() : all()));
addEventListener("resize", () => (fitting ? all() : draw()));

begin();

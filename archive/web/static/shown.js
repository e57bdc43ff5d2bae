// What is shown over a photo: its marks and the regions of its subjects. They keep their line and their lettering while the
// picture is brought closer. The lists beside the photo say them, so that nothing here need be read aloud.
import { at, glass, onDrawn } from "./closeup.js";
import { alongRegion, around, besidePoint, nearest, takeFree } from "./label_places.js";

const MARK_REACH = 9; // px
const layer = document.createElement("div");
layer.className = "over";
layer.setAttribute("aria-hidden", "true");
glass.append(layer);

function shown(sort, name) {
  const thing = document.createElement("div");
  thing.className = sort;
  const label = document.createElement("span");
  label.textContent = name;
  thing.append(label);
  layer.append(thing);
  return { thing, label };
}

const regions = [...document.querySelectorAll("#shown li[data-region]")].map(({ dataset }) => {
  const [left, top, wide, tall] = dataset.region.split(",").map(Number);
  return { ...shown("region", dataset.name), subject: dataset.subject, left, top, wide, tall };
});
const marks = [...document.querySelectorAll("#marks li")].map(({ dataset }) => {
  const mark = { ...shown("mark", dataset.name), x: Number(dataset.x), y: Number(dataset.y), lead: document.createElement("i") };
  mark.thing.prepend(mark.lead);
  return mark;
});

const show = document.querySelector("#show-marks");
const KEPT = "rivetbook-show-marks"; // from photo to photo, as long as the window is open
if (show) {
  show.checked = sessionStorage.getItem(KEPT) !== "off";
  layer.hidden = !show.checked;
  show.addEventListener("change", () => {
    layer.hidden = !show.checked;
    sessionStorage.setItem(KEPT, show.checked ? "on" : "off");
  });
}

// One region is not shown while it is being changed.
export function withoutRegionOf(subject) {
  for (const each of regions) each.thing.hidden = each.subject === subject;
}

function setLabel(label, box, fromLeft, fromTop) {
  label.style.visibility = box ? "" : "hidden"; // no room: it comes when the picture is brought closer
  if (box) label.style.transform = `translate(${box.left - fromLeft}px, ${box.top - fromTop}px)`;
}

function place() {
  const [wide, tall] = [at.width * at.scale, at.height * at.scale];
  const across = wide > glass.clientWidth ? [0, wide] : [-at.left, glass.clientWidth - at.left];
  const down = tall > glass.clientHeight ? [0, tall] : [-at.top, glass.clientHeight - at.top];
  const within = { left: across[0], right: across[1], top: down[0], bottom: down[1] };
  // A place is counted from the centre of the first pixel, the picture's edge lies half a pixel before it.
  const points = marks.map(({ x, y }) => [(x + 0.5) * at.scale, (y + 0.5) * at.scale]);
  const taken = points.map(([x, y]) => around(x, y, MARK_REACH));
  for (const region of regions) {
    const [left, top] = [region.left * at.scale, region.top * at.scale];
    const [right, bottom] = [left + region.wide * at.scale, top + region.tall * at.scale];
    region.thing.style.transform = `translate(${left}px, ${top}px)`;
    region.thing.style.width = `${right - left}px`;
    region.thing.style.height = `${bottom - top}px`;
    const places = alongRegion({ left, top, right, bottom }, region.label.offsetWidth, region.label.offsetHeight);
    setLabel(region.label, takeFree(places, taken, within), left, top);
  }
  marks.forEach(({ thing, label, lead }, n) => {
    const [x, y] = points[n];
    thing.style.transform = `translate(${x}px, ${y}px)`;
    const box = takeFree(besidePoint(x, y, label.offsetWidth, label.offsetHeight, glass.clientWidth / 6), taken, within);
    setLabel(label, box, x, y);
    const [right, below] = box ? nearest(box, x, y) : [x, y];
    const long = Math.hypot(right - x, below - y) - MARK_REACH;
    lead.hidden = long < MARK_REACH; // beside its mark a name needs no line to it
    const turn = Math.atan2(below - y, right - x);
    lead.style.width = `${Math.max(0, long)}px`;
    lead.style.transform = `rotate(${turn}rad) translateX(${MARK_REACH}px)`;
  });
}

let placed = "";
onDrawn(() => {
  layer.style.transform = `translate(${at.left}px, ${at.top}px)`;
  const now = `${at.scale} ${glass.clientWidth} ${glass.clientHeight}`;
  if (now !== placed) place();
  placed = now;
});

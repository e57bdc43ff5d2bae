// Where names go on a picture so that each can be read: near what it names, over no other name and over no mark.
const CLEAR = 3; // px
const FURTHER = [12, 24, 42, 64, 96, 140]; // px from the middle of a mark

const boxOf = (left, top, wide, tall) => ({ left, top, right: left + wide, bottom: top + tall });
const meet = (a, b) => a.left < b.right + CLEAR && b.left < a.right + CLEAR && a.top < b.bottom + CLEAR && b.top < a.bottom + CLEAR;

function moved(box, within) {
  const left = Math.max(within.left + CLEAR, Math.min(box.left, within.right - CLEAR - (box.right - box.left)));
  const top = Math.max(within.top + CLEAR, Math.min(box.top, within.bottom - CLEAR - (box.bottom - box.top)));
  return boxOf(left, top, box.right - box.left, box.bottom - box.top);
}

// The first of the places that is free once it is moved onto the picture, and takes it; null where there is no room.
export function takeFree(places, taken, within) {
  for (const place of places) {
    const box = moved(place, within);
    if (taken.some((other) => meet(box, other))) continue;
    taken.push(box);
    return box;
  }
  return null;
}

export function* besidePoint(x, y, wide, tall, furthest) {
  for (const off of FURTHER.filter((each) => each <= furthest)) {
    const [slant, left, above] = [off * 0.7, x - off - wide, y - off - tall];
    yield boxOf(x + off, y - tall / 2, wide, tall);
    yield boxOf(left, y - tall / 2, wide, tall);
    yield boxOf(x - wide / 2, above, wide, tall);
    yield boxOf(x - wide / 2, y + off, wide, tall);
    yield boxOf(x + slant, y - slant - tall, wide, tall);
    yield boxOf(x + slant, y + slant, wide, tall);
    yield boxOf(x - slant - wide, y - slant - tall, wide, tall);
    yield boxOf(x - slant - wide, y + slant, wide, tall);
  }
}

// Within a region's corners, then outside along its edges.
export function* alongRegion({ left, top, right, bottom }, wide, tall) {
  const inner = [right - CLEAR - wide, bottom - CLEAR - tall];
  if (right - left > wide + 2 * CLEAR && bottom - top > tall + 2 * CLEAR)
    for (const y of [top + CLEAR, inner[1]]) for (const x of [left + CLEAR, inner[0]]) yield boxOf(x, y, wide, tall);
  for (const y of [top - CLEAR - tall, bottom + CLEAR]) for (const x of [left, right - wide]) yield boxOf(x, y, wide, tall);
  for (let y = top; y <= Math.max(top, bottom - tall); y += tall)
    for (const x of [right + CLEAR, left - CLEAR - wide]) yield boxOf(x, y, wide, tall);
}

// The point of a box that is nearest to another.
export const nearest = (box, x, y) => [Math.max(box.left, Math.min(x, box.right)), Math.max(box.top, Math.min(y, box.bottom))];
export const around = (x, y, reach) => boxOf(x - reach, y - reach, 2 * reach, 2 * reach);

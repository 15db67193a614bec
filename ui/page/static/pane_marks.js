// Draws what was found on top of a picture, in lines that read on any board: each
// has a dark casing.  Before is dashed, after is solid; pin 1 is a filled disc, pin 1
// before a ring.  Kinds of marks:
//   { kind: "outline", points: [[x, y] x 4], style: "before" | "after" }
//   { kind: "pin1", at: [x, y], style: "before" | "after" }
//   { kind: "lead", at: [x, y], away: [x, y], number: 1, text: "1 VCC", flagged: bool }
//   { kind: "land", points: [[x, y] x 4], state: "ok" | "fault" | "unsure", text: "1" }
//   { kind: "spot", at: [x, y], radius_px: n, state: "fault" | "unsure", text }

import { svg } from "/own/dom.js";

const ROOM_PX = 17;
const LETTER_PX = 8.5;

function cased(name, attributes, classes) {
  return [
    svg(name, { ...attributes, class: `mark-casing ${classes}` }),
    svg(name, { ...attributes, class: `mark-line ${classes}` }),
  ];
}

function outline(pane, mark) {
  const points = mark.points.map((point) => pane.toScreen(point).join(" ")).join(" ");
  return cased("polygon", { points }, mark.style === "before" ? "dashed" : "");
}

function pin1(pane, mark) {
  const [cx, cy] = pane.toScreen(mark.at);
  const ring = mark.style === "before";
  const parts = cased("circle", { cx, cy, r: ring ? 10 : 7 }, ring ? "" : "filled");
  // Where pin 1 is in its old place one name is enough.
  const crowded = ring && pane.marks.some((other) => other.kind === "pin1" && other !== mark
    && Math.hypot(...pane.toScreen(other.at).map((v, axis) => v - [cx, cy][axis])) < 70);
  return mark.text && !crowded ? [...parts, label(cx + 14, cy - 10, mark.text, "start")] : parts;
}

// Where pin 1 lies as it lay before, one label says so for both.
function besideNewer(pane, [x, y]) {
  return pane.marks.filter((mark) => mark.kind === "pin1" && mark.style !== "before")
    .map((mark) => pane.toScreen(mark.at))
    .some(([ax, ay]) => Math.hypot(ax - x, ay - y) < 3 * ROOM_PX);
}

function label(x, y, text, anchor = "middle") {
  return svg("text", { x, y, class: "mark-text", "text-anchor": anchor }, text);
}

// Labels that would run into each other are left out, those with a finding last.
function placed(pane, marks, textOf) {
  const kept = [];
  const ordered = [...marks].sort((a, b) => Number(b.flagged) - Number(a.flagged));
  for (const mark of ordered) {
    const [ax, ay] = pane.toScreen(mark.at);
    const [bx, by] = pane.toScreen(mark.away);
    const length = Math.hypot(ax - bx, ay - by) || 1;
    const x = ax + ((ax - bx) / length) * 14;
    const y = ay + ((ay - by) / length) * 14 + 5;
    const text = textOf(mark);
    const half = Math.max(ROOM_PX, LETTER_PX * text.length + 4) / 2;
    const free = kept.every((o) => Math.abs(o.x - x) > half + o.half
      || Math.abs(o.y - y) > ROOM_PX);
    if (free) kept.push({ x, y, half, text, flagged: mark.flagged });
  }
  return kept;
}

// Names of pins stand where all find room; closer up they do.
function leads(pane, marks) {
  const named = placed(pane, marks, (mark) => mark.text);
  const kept = named.length === marks.length ? named
    : placed(pane, marks, (mark) => String(mark.number ?? mark.text));
  return kept.map(({ x, y, text, flagged }) => {
    const shown = label(x, y, text);
    if (flagged) shown.classList.add("flagged");
    return shown;
  });
}

const SHAPES = {
  fault: (x, y, r) => {
    const k = r * 0.42;
    return [[x - k, y - r], [x + k, y - r], [x + r, y - k], [x + r, y + k], [x + k, y + r],
      [x - k, y + r], [x - r, y + k], [x - r, y - k]];
  },
  unsure: (x, y, r) => [[x, y - r * 1.25], [x + r * 1.25, y], [x, y + r * 1.25],
    [x - r * 1.25, y]],
};

function spot(pane, mark) {
  const [x, y] = pane.toScreen(mark.at);
  const r = Math.max(12, mark.radius_px * pane.view.scale);
  const shape = SHAPES[mark.state] || SHAPES.unsure;
  const points = shape(x, y, r).map((point) => point.join(" ")).join(" ");
  return cased("polygon", { points }, mark.state === "fault" ? "" : "dashed");
}

function land(pane, mark) {
  const places = mark.points.map((point) => pane.toScreen(point));
  const points = places.map((place) => place.join(" ")).join(" ");
  const x = places.reduce((sum, place) => sum + place[0], 0) / places.length;
  const y = places.reduce((sum, place) => sum + place[1], 0) / places.length;
  const sure = mark.state === "unsure" ? "dashed" : mark.state === "fault" ? "heavy" : "";
  return [...cased("polygon", { points }, sure), label(x, y + 5, mark.text)];
}

export function drawMarks(pane) {
  const drawers = { outline, pin1, spot, land };
  const parts = pane.marks.filter((mark) => drawers[mark.kind])
    .flatMap((mark) => drawers[mark.kind](pane, mark));
  const numbers = leads(pane, pane.marks.filter((mark) => mark.kind === "lead"));
  pane.overlay.replaceChildren(...parts, ...numbers);
}

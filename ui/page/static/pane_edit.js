// Corners that can be dragged, by mouse, finger or keys, and pin 1 by a tap.  Nothing
// leaves the page until it is given back; every step can be undone.

import { svg } from "/own/dom.js";

const FINE_PX = 1;
const COARSE_PX = 10;
const copy = (points) => points.map((point) => [...point]);

export class Edit {
  constructor(pane, { outline, pin1, onChange }) {
    this.pane = pane;
    this.size = pane.size;
    this.now = { outline: copy(outline), pin1 };
    this.first = { outline: copy(outline), pin1 };
    this.past = [];
    this.onChange = onChange;
    this.shape = [0, 1].map((casing) => svg("polygon",
      { class: `${casing ? "mark-line" : "mark-casing"}` }));
    this.handles = outline.map((_, index) => this.handle(index));
    this.group = svg("g", {}, this.shape, this.handles);
    pane.svg.append(this.group);
    pane.extras.push(this);
    this.draw();
  }

  end() {
    this.group.remove();
    this.pane.extras = this.pane.extras.filter((extra) => extra !== this);
  }

  handle(index) {
    const node = svg("g", { class: "pane-handle", tabindex: "0", role: "button" },
      svg("circle", { class: "hit", r: 22 }), svg("circle", { class: "edge", r: 9 }),
      svg("circle", { class: "ring", r: 9 }),
      svg("text", { class: "mark-text", y: -16, "text-anchor": "middle" }));
    node.addEventListener("pointerdown", (event) => this.take(event, index));
    node.addEventListener("keydown", (event) => this.key(event, index));
    return node;
  }

  take(event, index) {
    if (event.button) return;
    event.stopPropagation();
    event.preventDefault();
    const node = this.handles[index];
    node.focus({ preventScroll: true });
    node.setPointerCapture(event.pointerId);
    node.classList.add("held");
    const start = this.pane.at(event);
    const [sx, sy] = this.pane.toScreen(this.now.outline[index]);
    const old = this.snapshot();
    let moved = false;
    const move = (next) => {
      const [x, y] = this.pane.at(next);
      moved = moved || Math.hypot(x - start[0], y - start[1]) > 2;
      if (moved) this.place(index, this.pane.toPicture([sx + x - start[0], sy + y - start[1]]));
    };
    const end = () => {
      node.removeEventListener("pointermove", move);
      node.classList.remove("held");
      if (moved) this.past.push(old);
      else if (this.marking) this.setPin1(index);
      this.onChange(this);
    };
    node.addEventListener("pointermove", move);
    for (const name of ["pointerup", "pointercancel"]) {
      node.addEventListener(name, end, { once: true });
    }
  }

  key(event, index) {
    const step = event.shiftKey ? COARSE_PX : FINE_PX;
    const steps = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step],
      ArrowDown: [0, step] };
    if (event.key === "Enter" || event.key === " ") this.setPin1(index);
    else if (steps[event.key]) {
      this.past.push(this.snapshot());
      const [x, y] = this.now.outline[index];
      this.place(index, [x + steps[event.key][0], y + steps[event.key][1]]);
    } else return;
    event.preventDefault();
    event.stopPropagation();
    this.onChange(this);
  }

  // A tap anywhere marks the corner that is nearest to it.
  tap(point) {
    if (!this.marking) return;
    const away = this.now.outline.map(([x, y]) => Math.hypot(x - point[0], y - point[1]));
    this.setPin1(away.indexOf(Math.min(...away)));
  }

  setPin1(index) {
    if (this.now.pin1 === index) return;
    this.past.push(this.snapshot());
    this.now.pin1 = index;
    this.draw();
    this.onChange(this);
  }

  place(index, [x, y]) {
    const clamp = (value, length) => Math.min(length - 0.5, Math.max(-0.5, value));
    this.now.outline[index] = [clamp(x, this.size[0]), clamp(y, this.size[1])];
    this.draw();
    this.onChange(this);
  }

  snapshot() {
    return { outline: copy(this.now.outline), pin1: this.now.pin1 };
  }

  undo() {
    const last = this.past.pop();
    if (!last) return;
    this.now = last;
    this.draw();
    this.onChange(this);
  }

  // What differs from what the tool said, in the form in which it is given back.
  fixes() {
    const moved = this.now.outline.some(([x, y], index) =>
      Math.hypot(x - this.first.outline[index][0], y - this.first.outline[index][1]) > 0.01);
    const fixes = [];
    const turned = this.now.pin1 !== null && this.now.pin1 !== this.first.pin1;
    // Where no chip was found nobody set the corners that stand in the middle at first.
    if (moved || (this.isUnset && turned)) {
      fixes.push({ what: "outline", outline_px: this.now.outline });
    }
    if (turned) fixes.push({ what: "pin1", at_px: this.now.outline[this.now.pin1] });
    return fixes;
  }

  draw() {
    const places = this.now.outline.map((point) => this.pane.toScreen(point));
    const points = places.map((place) => place.join(" ")).join(" ");
    for (const polygon of this.shape) polygon.setAttribute("points", points);
    this.handles.forEach((node, index) => {
      node.setAttribute("transform", `translate(${places[index].join(" ")})`);
      const isPin1 = this.now.pin1 === index;
      const [x, y] = this.now.outline[index].map(Math.round);
      node.setAttribute("aria-label", `Corner ${index + 1}${isPin1 ? ", pin 1" : ""}, at ${x} by `
        + `${y} px. Arrow keys move it, Enter marks it as pin 1`);
      node.querySelector("text").textContent = isPin1 ? "pin 1" : "";
      node.classList.toggle("pin1", isPin1);
    });
  }
}

// A picture that can be looked at closely: zoom to true pixels, drag, pinch, keys,
// marks on top, and two pictures in one frame.
//
//   const pane = new Pane(host, { label: "Photo after reflow" });
//   pane.show({ size: [w, h], pictures: [picture, ...], marks: [...] });
//   pane.zoomTo([x, y], radius_px);
//
// A picture is what the page's routes give: { name, width_px, height_px, view,
// view_px, tiles, tile_px }.  All pictures of one call share one frame; the second
// lies over the first.  Coordinates are pixels of that frame, centres at whole numbers.

import { button, el, svg } from "/own/dom.js";
import { drawMarks } from "/own/pane_marks.js";
import { Blend } from "/own/pane_blend.js";

const MOST = 12;
const STEP = 1.5;
const TAP_PX = 8;
const TAP_MS = 500;
const KEYS_ID = "pane-keys";
const KEYS = "Plus and minus zoom, arrows move, 0 shows the whole picture, 1 its true pixels.";

export class Pane {
  constructor(host, { label, onTap = null } = {}) {
    this.onTap = onTap;
    this.size = [1, 1];
    this.pictures = [];
    this.marks = [];
    this.extras = [];
    this.view = { scale: 1, x: 0, y: 0 };
    this.whole = true;
    this.pointers = new Map();
    this.layers = svg("g", {});
    this.overlay = svg("g", {});
    this.svg = svg("svg", {
      class: "pane-picture", tabindex: "0", role: "group", "aria-label": label || "Picture",
      "aria-roledescription": "picture", "aria-describedby": KEYS_ID,
    }, this.layers, this.overlay);
    this.zoomText = el("output", { class: "pane-zoom" }, "");
    this.blend = new Blend(this);
    this.bar = el("div", { class: "pane-bar", role: "toolbar", "aria-label": "Zoom" },
      button("−", { class: "small", "aria-label": "Zoom out" }, () => this.zoomBy(1 / STEP)),
      button("+", { class: "small", "aria-label": "Zoom in" }, () => this.zoomBy(STEP)),
      button("Whole", { class: "small", "aria-label": "Whole picture" }, () => this.showWhole()),
      button("1:1", { class: "small", "aria-label": "True pixels" }, () => this.trueSize()),
      this.zoomText);
    this.stage = el("div", { class: "pane-stage" }, this.svg, this.blend.divider);
    this.root = el("div", { class: "pane" }, this.blend.bar, this.stage, this.bar);
    if (!document.getElementById(KEYS_ID)) {
      this.root.append(el("p", { id: KEYS_ID, class: "dw-off" }, KEYS));
    }
    host.replaceChildren(this.root);
    this.listen();
    this.resizing = new ResizeObserver(() => this.resize());
    this.resizing.observe(this.root);
  }

  // keep: stay where the person is looking, for a picture of the same frame.
  show({ size, pictures, marks = [], keep = false }) {
    const same = keep && size[0] === this.size[0] && size[1] === this.size[1];
    this.size = size;
    this.pictures = pictures;
    this.marks = marks;
    this.layers.replaceChildren(...pictures.map((picture) => this.layer(picture)));
    this.blend.show(pictures);
    if (same) this.draw();
    else {
      this.whole = true;
      this.resize();
    }
  }

  setMarks(marks) {
    this.marks = marks;
    this.draw();
  }

  layer(picture) {
    const place = svg("g", {}, svg("image", {
      href: picture.view, x: -0.5, y: -0.5, width: picture.width_px,
      height: picture.height_px, preserveAspectRatio: "none",
    }));
    picture.place = place;
    picture.tilesShown = new Set();
    picture.layer = svg("g", { class: "pane-layer" }, place);
    return picture.layer;
  }

  get box() {
    return [this.svg.clientWidth || 1, this.svg.clientHeight || 1];
  }

  resize() {
    const width = this.stage.clientWidth;
    if (!width) return;
    const [w, h] = this.size;
    const most = Math.max(240, window.innerHeight * 0.68);
    const height = Math.round(Math.min(most, Math.max(200, (width * h) / w)));
    if (this.svg.style.height !== `${height}px`) this.svg.style.height = `${height}px`;
    if (this.whole) this.showWhole();
    else this.draw();
  }

  get fit() {
    const [width, height] = this.box;
    return Math.min(width / this.size[0], height / this.size[1]);
  }

  showWhole() {
    const [width, height] = this.box;
    const scale = this.fit;
    this.whole = true;
    this.view = {
      scale,
      x: (width - this.size[0] * scale) / 2,
      y: (height - this.size[1] * scale) / 2,
    };
    this.draw();
  }

  trueSize() {
    this.zoomBy(1 / (window.devicePixelRatio || 1) / this.view.scale);
  }

  zoomBy(factor, at = null) {
    const [width, height] = this.box;
    const [cx, cy] = at || [width / 2, height / 2];
    const old = this.view.scale;
    const scale = Math.min(MOST, Math.max(this.fit, old * factor));
    this.view.x = cx - ((cx - this.view.x) * scale) / old;
    this.view.y = cy - ((cy - this.view.y) * scale) / old;
    this.view.scale = scale;
    this.whole = scale <= this.fit * 1.001;
    if (this.whole) this.showWhole();
    else this.draw();
  }

  panBy(dx, dy) {
    this.view.x += dx;
    this.view.y += dy;
    this.draw();
  }

  zoomTo([x, y], radius_px) {
    const [width, height] = this.box;
    const wanted = Math.min(width, height) / (2 * Math.max(radius_px, 8));
    this.view.scale = Math.min(MOST, Math.max(this.fit, wanted));
    this.view.x = width / 2 - x * this.view.scale;
    this.view.y = height / 2 - y * this.view.scale;
    this.whole = this.view.scale <= this.fit * 1.001;
    if (this.whole) this.showWhole();
    else this.draw();
  }

  toScreen([x, y]) {
    return [x * this.view.scale + this.view.x, y * this.view.scale + this.view.y];
  }

  toPicture([x, y]) {
    return [(x - this.view.x) / this.view.scale, (y - this.view.y) / this.view.scale];
  }

  keepInside() {
    const [width, height] = this.box;
    const spans = [[width, this.size[0], "x"], [height, this.size[1], "y"]];
    for (const [room, length, axis] of spans) {
      const shown = length * this.view.scale;
      const least = Math.min(room - shown, (room - shown) / 2);
      const most = Math.max(0, (room - shown) / 2);
      this.view[axis] = Math.min(most, Math.max(least, this.view[axis]));
    }
  }

  draw() {
    this.keepInside();
    const { scale, x, y } = this.view;
    this.svg.classList.toggle("zoomed", !this.whole);
    for (const picture of this.pictures) {
      picture.place.setAttribute("transform", `translate(${x} ${y}) scale(${scale})`);
      this.addTiles(picture);
    }
    const pixels = scale * (window.devicePixelRatio || 1);
    this.zoomText.textContent = pixels >= 0.995 ? `${pixels.toFixed(1)} : 1`
      : `1 : ${(1 / pixels).toFixed(1)}`;
    this.blend.draw();
    drawMarks(this);
    for (const extra of this.extras) extra.draw();
  }

  // Fine tiles are fetched only where they show more than the small view does.
  addTiles(picture) {
    const finer = picture.view_px / Math.max(picture.width_px, picture.height_px);
    if (!picture.tiles || this.view.scale * (window.devicePixelRatio || 1) <= finer) return;
    const [width, height] = this.box;
    const [left, top] = this.toPicture([0, 0]);
    const [right, bottom] = this.toPicture([width, height]);
    const side = picture.tile_px;
    const last = (length) => Math.ceil(length / side) - 1;
    const clamp = (value, most) => Math.min(most, Math.max(0, Math.floor(value / side)));
    for (let row = clamp(top, last(picture.height_px));
      row <= clamp(bottom, last(picture.height_px)); row += 1) {
      for (let col = clamp(left, last(picture.width_px));
        col <= clamp(right, last(picture.width_px)); col += 1) {
        const name = `${col}-${row}`;
        if (picture.tilesShown.has(name)) continue;
        picture.tilesShown.add(name);
        picture.place.append(svg("image", {
          href: picture.tiles.replace("{tile}", name), class: "pane-tile",
          x: col * side - 0.5, y: row * side - 0.5,
          width: Math.min(side, picture.width_px - col * side),
          height: Math.min(side, picture.height_px - row * side),
          preserveAspectRatio: "none",
        }));
      }
    }
  }

  listen() {
    this.svg.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    this.svg.addEventListener("keydown", (event) => this.key(event));
    this.svg.addEventListener("dblclick", (event) => this.zoomBy(2, this.at(event)));
    this.svg.addEventListener("pointerdown", (event) => this.down(event));
    this.svg.addEventListener("pointermove", (event) => this.move(event));
    for (const name of ["pointerup", "pointercancel"]) {
      this.svg.addEventListener(name, (event) => this.up(event));
    }
  }

  at(event) {
    const box = this.svg.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  wheel(event) {
    if (!event.ctrlKey && !this.root.contains(document.activeElement)) return;
    if (this.whole && event.deltaY > 0) return;
    event.preventDefault();
    this.zoomBy(Math.exp(-event.deltaY / 400), this.at(event));
  }

  key(event) {
    if (event.target !== this.svg || event.ctrlKey || event.metaKey || event.altKey) return;
    const [width, height] = this.box;
    const actions = {
      "+": () => this.zoomBy(STEP), "=": () => this.zoomBy(STEP),
      "-": () => this.zoomBy(1 / STEP), 0: () => this.showWhole(), 1: () => this.trueSize(),
      ArrowLeft: () => this.panBy(width / 6, 0), ArrowRight: () => this.panBy(-width / 6, 0),
      ArrowUp: () => this.panBy(0, height / 6), ArrowDown: () => this.panBy(0, -height / 6),
    };
    if (!actions[event.key]) return;
    event.preventDefault();
    actions[event.key]();
  }

  down(event) {
    if (event.button) return;
    this.svg.focus({ preventScroll: true });
    this.pointers.set(event.pointerId, this.at(event));
    this.pressed = { at: this.at(event), time: event.timeStamp, many: this.pointers.size > 1 };
    try {
      this.svg.setPointerCapture(event.pointerId);
    } catch {
      // The pointer has gone already.
    }
  }

  move(event) {
    const before = this.pointers.get(event.pointerId);
    if (!before) return;
    const now = this.at(event);
    if (this.pointers.size === 2) this.pinch(event.pointerId, now);
    else if (!this.whole) this.panBy(now[0] - before[0], now[1] - before[1]);
    this.pointers.set(event.pointerId, now);
  }

  pinch(id, now) {
    const [other] = [...this.pointers].filter(([key]) => key !== id).map(([, at]) => at);
    const before = this.pointers.get(id);
    const long = ([ax, ay], [bx, by]) => Math.hypot(ax - bx, ay - by) || 1;
    const middle = [(now[0] + other[0]) / 2, (now[1] + other[1]) / 2];
    this.panBy((now[0] - before[0]) / 2, (now[1] - before[1]) / 2);
    this.zoomBy(long(now, other) / long(before, other), middle);
  }

  up(event) {
    if (!this.pointers.delete(event.pointerId)) return;
    const { at, time, many } = this.pressed;
    const now = this.at(event);
    const still = Math.hypot(now[0] - at[0], now[1] - at[1]) < TAP_PX;
    const tapped = event.type === "pointerup" && still && !many;
    if (tapped && event.timeStamp - time < TAP_MS && this.onTap) {
      this.onTap(this.toPicture(now), event);
    }
  }
}

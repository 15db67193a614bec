// Two pictures in one frame: one alone, a wipe, a blink, a fade.

import { button, el } from "/own/dom.js";

const BLINK_MS = 500;
const stillWanted = () => matchMedia("(prefers-reduced-motion: reduce)").matches;
const MODES = [
  ["first", "Before"], ["second", "After"], ["wipe", "Wipe"], ["blink", "Blink"],
  ["fade", "Fade"],
];

export class Blend {
  constructor(pane) {
    this.pane = pane;
    this.mode = "second";
    this.share = 0.5;
    this.second = true;
    this.buttons = MODES.map(([mode, word]) =>
      button(word, { class: "small", "aria-pressed": "false", "data-mode": mode },
        () => this.setMode(mode)));
    this.slider = el("input", {
      type: "range", min: "0", max: "100", value: "50", "aria-label": "How much of the after photo",
    });
    this.slider.addEventListener("input", () => this.setShare(this.slider.value / 100));
    this.swap = button("Swap", { class: "small" }, () => this.step());
    this.saying = el("span", { class: "pane-saying", role: "status" });
    this.bar = el("div", { class: "pane-bar", role: "toolbar", "aria-label": "Before and after",
      hidden: true }, this.buttons, this.slider, this.swap, this.saying);
    this.divider = el("div", { class: "pane-divider", role: "slider", tabindex: "0",
      "aria-label": "Where before ends and after begins", "aria-valuemin": "0",
      "aria-valuemax": "100", hidden: true });
    this.listen();
  }

  show(pictures) {
    const pair = pictures.length === 2;
    this.bar.hidden = !pair;
    this.pair = pair ? pictures : null;
    if (!pair) this.stopBlink();
    this.setMode(pair ? this.mode : "second");
  }

  setMode(mode) {
    this.mode = mode;
    this.stopBlink();
    this.second = mode !== "first";
    if (mode === "blink" && this.pair && !stillWanted()) {
      this.timer = setInterval(() => this.step(), BLINK_MS);
    }
    for (const item of this.buttons) {
      item.setAttribute("aria-pressed", String(item.dataset.mode === mode));
    }
    this.slider.hidden = mode !== "fade" && mode !== "wipe";
    this.swap.hidden = mode !== "blink";
    this.divider.hidden = !this.pair || mode !== "wipe";
    const words = { first: "Shown: before", second: "Shown: after",
      wipe: "Left of the line before, right of it after", fade: "", blink: "" };
    this.saying.textContent = words[mode];
    this.draw();
  }

  stopBlink() {
    clearInterval(this.timer);
    this.timer = null;
  }

  step() {
    this.second = !this.second;
    if (!this.timer) this.saying.textContent = `Shown: ${this.second ? "after" : "before"}`;
    this.draw();
  }

  setShare(share) {
    this.share = Math.min(1, Math.max(0, share));
    this.slider.value = String(Math.round(this.share * 100));
    this.draw();
  }

  draw() {
    if (!this.pair) return;
    const [first, second] = this.pair;
    if (!second.layer) return;
    const [width] = this.pane.box;
    const line = this.share * width;
    const percent = Math.round(this.share * 100);
    second.layer.style.opacity = this.mode === "fade" ? String(this.share) : "1";
    first.layer.style.visibility = "visible";
    second.layer.style.visibility = this.mode === "fade" || this.second ? "visible" : "hidden";
    const cut = this.mode === "wipe";
    this.pane.layers.lastElementChild.setAttribute("clip-path", cut ? `url(#${this.clip(line)})` : "none");
    this.divider.style.left = `${line}px`;
    this.divider.setAttribute("aria-valuenow", String(percent));
    this.divider.setAttribute("aria-valuetext", `${percent} % of the width shows before`);
  }

  // A clip path in the frame's own units: right of the line only.
  clip(line) {
    const [width, height] = this.pane.box;
    if (!this.clipRect) {
      this.clipId = `wipe-${Math.random().toString(36).slice(2)}`;
      const space = "http://www.w3.org/2000/svg";
      const path = document.createElementNS(space, "clipPath");
      path.id = this.clipId;
      this.clipRect = document.createElementNS(space, "rect");
      path.append(this.clipRect);
      this.pane.svg.prepend(path);
    }
    const values = { x: line, y: 0, width: Math.max(0, width - line), height };
    for (const [name, value] of Object.entries(values)) this.clipRect.setAttribute(name, value);
    return this.clipId;
  }

  listen() {
    const drag = (event) => {
      const box = this.pane.svg.getBoundingClientRect();
      this.setShare((event.clientX - box.left) / box.width);
    };
    this.divider.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      this.divider.focus();
      this.divider.setPointerCapture(event.pointerId);
      this.divider.addEventListener("pointermove", drag);
    });
    for (const name of ["pointerup", "pointercancel"]) {
      this.divider.addEventListener(name, () => this.divider.removeEventListener("pointermove", drag));
    }
    this.divider.addEventListener("keydown", (event) => {
      const steps = { ArrowLeft: -0.02, ArrowRight: 0.02, PageDown: -0.1, PageUp: 0.1 };
      const to = { Home: 0, End: 1 };
      if (event.key in steps) this.setShare(this.share + steps[event.key]);
      else if (event.key in to) this.setShare(to[event.key]);
      else return;
      event.preventDefault();
    });
  }
}

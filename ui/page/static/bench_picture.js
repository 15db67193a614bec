// The picture pane of the Bench: one photo or before and after in one frame, pin
// names, and setting right by hand.

import { button, el, say } from "/own/dom.js";
import { getJson } from "/own/net.js";
import { Pane } from "/own/pane.js";
import { Edit } from "/own/pane_edit.js";
import { toast } from "/own/shell.js";

const HINT = "Drag the corners onto the body. To mark pin 1, press “Mark pin 1” and tap its corner. "
  + "If you know what the chip is, name its package.";

const DROPPED = "Another picture is shown now: what you were setting right by hand was dropped. "
  + "Nothing of it was given to the tool; set it right again.";

export class Picture {
  constructor(bench) {
    this.bench = bench;
    this.host = el("div", {});
    this.pane = new Pane(this.host, { label: "Photo", onTap: (point) => this.edit?.tap(point) });
    this.both = button("Before and after", { class: "small" }, () => this.choose(false));
    this.alone = button("This photo", { class: "small" }, () => this.choose(true));
    this.choice = el("div", { class: "dw-row", role: "group", "aria-label": "What is shown" },
      this.both, this.alone);
    this.pins = el("select", {}, el("option", { value: "" }, "numbers only"));
    this.pins.addEventListener("change", () => this.setPins(this.pins.value));
    this.pinsTold = el("span", { class: "dw-hint", role: "status" });
    this.pinsRow = el("label", { class: "dw-field bench-pins" }, "Pin names", this.pins, this.pinsTold);
    this.note = el("p", { class: "dw-soft" });
    this.buildHand();
    this.empty = el("p", { class: "dw-soft" });
    this.body = el("div", { class: "dw-stack" }, this.choice, this.host, this.note, this.hand, this.pinsRow);
    this.root = el("section", { class: "dw-card dw-stack", "aria-label": "Picture" }, this.empty, this.body);
    this.loadPins();
    this.loadPackages();
  }

  buildHand() {
    this.start = button("Set right by hand", {}, () => this.open());
    this.mark = button("Mark pin 1", { "aria-pressed": "false" }, () => this.toggleMark());
    this.undoButton = button("Undo", {}, () => this.edit?.undo());
    this.give = button("Give back to the tool", { class: "main" }, () => this.giveBack());
    this.leave = button("Leave as it was", {}, () => this.close());
    this.package = el("select", {}, el("option", { value: "" }, "as the tool reads it"));
    this.package.addEventListener("change", () => this.renderHand());
    this.tools = el("div", { class: "dw-stack", hidden: true },
      el("div", { class: "dw-row" }, this.mark, this.undoButton),
      el("label", { class: "dw-field bench-package" }, "Package", this.package),
      el("div", { class: "dw-row" }, this.give, this.leave));
    this.hint = el("p", { class: "dw-hint", role: "status" });
    this.fixes = el("ul", { class: "bench-fixes" });
    this.hand = el("div", { class: "dw-stack bench-hand" }, this.start, this.tools, this.hint, this.fixes);
  }

  get showsPair() {
    return Boolean(this.bench.pair?.pictures) && !this.isAlone && !this.edit;
  }

  choose(alone) {
    this.isAlone = alone;
    this.render();
  }

  render() {
    const { photo, pair } = this.bench;
    const ready = photo?.picture;
    this.body.hidden = !ready;
    this.empty.hidden = Boolean(ready);
    if (!ready) {
      this.drop();
      this.shown = null;
      const broken = photo?.answer?.error;
      say(this.empty, broken ? "There is no picture to show: the file cannot be opened."
        : photo ? "Opening the photo …" : "The photo will be shown here.");
      return;
    }
    this.choice.hidden = !pair?.pictures || Boolean(this.edit);
    this.both.setAttribute("aria-pressed", String(this.showsPair));
    this.alone.setAttribute("aria-pressed", String(!this.showsPair));
    say(this.note, pair && !pair.laid_over
      ? "Before and after could not be laid over each other, so they are not shown in one frame." : "");
    this.note.hidden = !this.note.textContent;
    this.showPicture();
    this.renderHand();
  }

  // The same picture stays where it is, zoom and all, while its marks change.
  showPicture() {
    const { photo, pair } = this.bench;
    const pictures = this.showsPair ? pair.pictures : [photo.picture];
    const answer = this.showsPair ? pair.answer : photo.answer;
    const key = pictures.map((picture) => picture.view).join() + pictures.map((one) => one.tiles).join();
    const marks = this.edit ? [] : this.named(answer);
    if (key !== this.shown) {
      this.drop();
      this.shown = key;
      const size = [pictures[0].width_px, pictures[0].height_px];
      this.pane.show({ size, pictures, marks: this.named(answer) });
      const of = this.showsPair ? "Before and after in one frame" : this.bench.stage.title;
      this.pane.svg.setAttribute("aria-label", `Picture: ${of}`);
    } else this.pane.setMarks(marks);
  }

  zoomTo({ at, radius_px: radius }) {
    if (this.edit) {
      toast("Give back what you set right, or leave it as it was; then findings can be shown.");
      return;
    }
    const forPair = this.bench.answer.shown === this.bench.pair?.answer;
    if (forPair === Boolean(this.isAlone) && this.bench.pair?.pictures) this.choose(!forPair);
    this.pane.zoomTo(at, radius || 60);
    this.host.scrollIntoView({ block: "nearest" });
  }

  async loadPins() {
    this.tables = await getJson("/api/bench/pinouts").catch(() => ({}));
    this.pins.append(...Object.entries(this.tables).map(([name, table]) =>
      el("option", { value: name }, `${table.title} (${name})`)));
    this.pins.value = new URLSearchParams(location.search).get("pins") || "";
    if (this.bench.job) this.render();
  }

  async loadPackages() {
    const names = await getJson("/api/bench/packages").catch(() => []);
    this.package.append(...names.map((name) => el("option", { value: name }, name)));
  }

  setPins(name) {
    const address = new URL(location.href);
    if (name) address.searchParams.set("pins", name);
    else address.searchParams.delete("pins");
    history.replaceState(null, "", address);
    this.render();
  }

  named(answer) {
    const marks = answer?.marks || [];
    const table = this.tables?.[this.pins.value];
    say(this.pinsTold, "");
    if (!table) return marks;
    const count = answer?.lead_count;
    const leads = marks.filter((mark) => mark.kind === "lead");
    if (!leads.length || count !== table.pins.length) {
      say(this.pinsTold, !leads.length ? "Not named: pin 1 is not known."
        : `Not named: it has ${table.pins.length} pins and the chip ${count || "an unknown number of"} leads.`);
      return marks;
    }
    const turned = answer.is_half_turned && table.after_half_turn;
    say(this.pinsTold, turned ? `Turned by half a turn: ${turned}`
      : "Where names find no room, numbers stand: zoom in.");
    return marks.map((mark) => (mark.kind === "lead"
      ? { ...mark, text: `${mark.number} ${table.pins[mark.number - 1]}` } : mark));
  }

  renderHand() {
    const { photo, sealed, stage } = this.bench;
    this.hand.hidden = sealed || this.showsPair || stage.stage === "side" || stage.stage === "lands";
    this.pinsRow.hidden = stage.stage === "side" || stage.stage === "lands";
    this.start.hidden = Boolean(this.edit);
    this.tools.hidden = !this.edit;
    if (this.edit) {
      this.undoButton.disabled = this.edit.past.length === 0;
      this.give.disabled = this.fixed().length === 0;
    }
    this.fixes.replaceChildren(...photo.corrections.map((fix) => el("li", { class: "dw-row" },
      el("span", {}, `By hand: ${fix.words}`),
      button("Take it back", { class: "small", "aria-label": `Take back: ${fix.words}` },
        () => this.takeBack(fix)))));
  }

  // All that differs from what the tool said.
  fixed() {
    const name = this.package.value;
    return [...this.edit.fixes(), ...(name ? [{ what: "package", name }] : [])];
  }

  open() {
    const { photo } = this.bench;
    const { width_px: w, height_px: h } = photo.picture;
    const middle = [[0.4, 0.4], [0.4, 0.6], [0.6, 0.6], [0.6, 0.4]].map(([x, y]) => [x * w, y * h]);
    const answer = photo.answer;
    this.edit = new Edit(this.pane, {
      outline: answer?.outline_px || middle,
      pin1: answer?.pin1_known ? 0 : null,
      onChange: () => this.renderHand(),
    });
    this.edit.isUnset = !answer?.outline_px;
    this.pane.setMarks([]);
    say(this.hint, HINT);
    this.choice.hidden = true;
    this.renderHand();
    this.edit.handles[0].focus({ preventScroll: true });
  }

  toggleMark() {
    this.edit.marking = !this.edit.marking;
    this.mark.setAttribute("aria-pressed", String(this.edit.marking));
    say(this.hint, this.edit.marking ? "Tap the corner where pin 1 is." : HINT);
  }

  // What was begun and cannot go on is told; it goes nowhere by itself.
  drop() {
    if (this.isChanged) toast(DROPPED, "edit");
    this.close();
  }

  get isChanged() {
    return Boolean(this.edit) && this.fixed().length > 0;
  }

  close() {
    if (!this.edit) return;
    this.edit.end();
    this.edit = null;
    this.package.value = "";
    this.mark.setAttribute("aria-pressed", "false");
    say(this.hint, "");
    if (this.bench.photo?.picture) this.render();
  }

  async giveBack() {
    const by = this.bench.strip.who();
    if (!by) {
      toast("Say who you are first: fill in the field “You”.");
      return;
    }
    const value = { photo: this.bench.photo.seq, by, fixes: this.fixed() };
    if (await this.bench.ask("correct", value)) this.close();
  }

  async takeBack(fix) {
    const by = this.bench.strip.who();
    if (by) await this.bench.ask("withdraw", { event: fix.seq, by });
    else toast("Say who you are first: fill in the field “You”.");
  }
}

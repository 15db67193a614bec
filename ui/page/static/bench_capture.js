// Brings photos in: camera or file, a bar of bytes, a Stop that stops.

import { button, el, say } from "/own/dom.js";
import { sendFile } from "/own/net.js";
import { toast } from "/own/shell.js";
import { stageKey } from "/own/bench.js";
import { openCamera } from "/own/bench_camera.js";

const KINDS = "image/*,.heic,.heif,.tif,.tiff,.bmp,.webp";
const WHO = "Say who you are first: fill in the field “You”.";
const mega = (bytes) => (bytes / 1e6).toFixed(1);

export class Capture {
  constructor(bench) {
    this.bench = bench;
    this.ask = el("p", {});
    this.takeInput = this.input("environment");
    this.chooseInput = this.input(null);
    this.takeWord = el("span", {}, "Take photo");
    this.chooseWord = el("span", {}, "Choose photo");
    this.live = button("Live camera", { class: "big", hidden: true }, () => this.camera());
    this.buttons = el("div", { class: "bench-take" },
      el("label", { class: "dw-button main big" }, this.takeInput, this.takeWord),
      el("label", { class: "dw-button big" }, this.chooseInput, this.chooseWord), this.live);
    this.bar = el("progress", { max: "1", value: "0", "aria-label": "Bytes sent" });
    this.bytes = el("span", { class: "bench-bytes" });
    this.stopButton = button("Stop sending", { class: "small" }, () => this.sending?.stop());
    this.sendingRow = el("div", { class: "bench-sending", hidden: true },
      this.bar, this.bytes, this.stopButton);
    this.again = button("Send it again", { hidden: true }, () => this.sendAgain());
    this.told = el("p", { role: "status", class: "bench-told" });
    this.root = el("section", { class: "dw-card dw-stack", "aria-label": "Photo" },
      this.ask, this.buttons, this.sendingRow, this.told, this.again);
    document.addEventListener("dw-files", (event) => {
      event.preventDefault();
      this.drop(event.detail);
    });
  }

  // Hidden from the eye alone: it can be reached by Tab and opened by a key.
  input(capture) {
    const field = el("input", { type: "file", class: "dw-off", accept: KINDS, capture });
    field.addEventListener("click", (event) => {
      this.aim = this.bench.stage;
      if (this.bench.strip.who()) return;
      event.preventDefault();
      toast(WHO);
    });
    field.addEventListener("cancel", () => { this.aim = null; });
    field.addEventListener("change", () => {
      const [file] = field.files;
      const stage = this.aim || this.bench.stage;
      field.value = "";
      this.aim = null;
      if (file) this.send(file, file.name, stage);
    });
    return field;
  }

  render() {
    const { stage, sealed } = this.bench;
    const again = stage.photo !== null;
    this.root.hidden = sealed;
    say(this.ask, again
      ? `${stage.title}: a new photo takes the place of this one; the old one stays in the record.`
      : stage.ask);
    say(this.takeWord, again ? "Take again" : "Take photo");
    say(this.chooseWord, again ? "Choose another" : "Choose photo");
    this.live.hidden = !(window.isSecureContext && navigator.mediaDevices?.getUserMedia);
  }

  async camera() {
    const { stage } = this.bench;
    const refusal = this.refusal();
    toast(refusal);
    if (refusal) return;
    const picture = await openCamera().catch((error) => toast(error.message));
    if (picture) await this.send(picture, "live camera.jpg", stage);
  }

  sendAgain() {
    const { file, name, stage } = this.unsent;
    return this.send(file, name, stage);
  }

  // A dropped file is a photo chosen for the stage shown.
  drop(files) {
    if (this.bench.sealed) toast("The job is sealed: it takes no more photos.");
    else if (files.length !== 1) toast("Nothing was added: drop one photo at a time.");
    else this.send(files[0], files[0].name, this.bench.stage);
  }

  refusal() {
    if (!this.bench.strip.who()) return WHO;
    return this.sending ? "A photo is on its way. Wait for it, or stop it first." : "";
  }

  // The photo is for the stage at which it was asked for, whatever is shown by now.
  async send(file, name, stage) {
    const refusal = this.refusal();
    toast(refusal);
    if (refusal) return;
    say(this.told, "");
    toast("", "photo");
    this.again.hidden = true;
    this.unsent = { file, name, stage };
    this.begin(file, name, stage);
    try {
      await this.sending.done;
    } catch (error) {
      this.notSent(error, stage);
      return;
    } finally {
      this.sendingRow.hidden = true;
      this.sending = null;
    }
    this.unsent = null;
    if (stageKey(stage) !== this.bench.key) say(this.told, `Added to “${stage.title}”.`);
    await this.bench.refresh();
  }

  begin(file, name, stage) {
    const facts = new URLSearchParams({
      stage: stage.stage, role: stage.role, name: name.slice(0, 300), by: this.bench.strip.who(),
      leads: stage.leads.join("-"),
    });
    this.sendingRow.hidden = false;
    this.bar.value = 0;
    this.sending = sendFile(`${this.bench.url}/photo?${facts}`, file, (sent, all) => {
      this.bar.value = all ? sent / all : 0;
      this.bytes.textContent = `${mega(sent)} of ${mega(all)} MB`;
    });
  }

  // Stays told until it is closed or sent again, also when the page answers again.
  notSent(error, stage) {
    const isLost = error.status === 0;
    const said = error.status === -1 ? "Sending was stopped. Nothing was added." : error.message;
    say(this.told, error.status > 0 ? "" : isLost ? `“${stage.title}”: ${said}` : said);
    this.again.hidden = !isLost;
    if (error.message) toast(error.message, "photo");
  }
}

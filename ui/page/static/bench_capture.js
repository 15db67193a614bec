// Brings photos in: camera or file, a bar of bytes, a Stop that stops.

import { button, el, say } from "/own/dom.js";
import { sendFile } from "/own/net.js";
import { toast } from "/own/shell.js";
import { openCamera } from "/own/bench_camera.js";

const KINDS = "image/*,.heic,.heif,.tif,.tiff,.bmp,.webp";
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
    this.told = el("p", { role: "status", class: "bench-told" });
    this.root = el("section", { class: "dw-card dw-stack", "aria-label": "Photo" },
      this.ask, this.buttons, this.sendingRow, this.told);
  }

  // Hidden from the eye alone: it can be reached by Tab and opened by a key.
  input(capture) {
    const field = el("input", { type: "file", class: "dw-off", accept: KINDS, capture });
    field.addEventListener("click", (event) => {
      if (this.bench.strip.who()) return;
      event.preventDefault();
      toast("Say who you are first: fill in the field “You”.");
    });
    field.addEventListener("change", () => {
      const [file] = field.files;
      field.value = "";
      if (file) this.send(file, file.name);
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
    const picture = await openCamera().catch((error) => toast(error.message));
    if (picture) await this.send(picture, "live camera.jpg");
  }

  async send(file, name) {
    if (!this.bench.strip.who()) {
      toast("Say who you are first: fill in the field “You”.");
      return;
    }
    const { stage } = this.bench;
    const facts = new URLSearchParams({
      stage: stage.stage, role: stage.role, name: name.slice(0, 300), by: this.bench.strip.who(),
      leads: stage.leads.join("-"),
    });
    say(this.told, "");
    toast("");
    this.sendingRow.hidden = false;
    this.bar.value = 0;
    this.sending = sendFile(`${this.bench.url}/photo?${facts}`, file, (sent, all) => {
      this.bar.value = all ? sent / all : 0;
      this.bytes.textContent = `${mega(sent)} of ${mega(all)} MB`;
    });
    try {
      await this.sending.done;
      await this.bench.load();
      this.bench.soon();
    } catch (error) {
      say(this.told, error.status === -1 ? "Sending was stopped. Nothing was added." : "");
      if (error.message) toast(error.message);
    } finally {
      this.sendingRow.hidden = true;
      this.sending = null;
    }
  }
}

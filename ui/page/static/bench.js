// The Bench screen.  Everything shown follows from the job's record, which is read
// anew whenever it has changed: reload, restart, or a photo sent from another device.

import { el } from "/own/dom.js";
import { getJson, jobOfPage, postJson } from "/own/net.js";
import { toast } from "/own/shell.js";
import { Answer } from "/own/bench_answer.js";
import { Capture } from "/own/bench_capture.js";
import { Decide } from "/own/bench_decide.js";
import { Picture } from "/own/bench_picture.js";
import { Strip } from "/own/bench_strip.js";
import { mountStart } from "/own/bench_start.js";

const BUSY_MS = 150;
const CALM_MS = 2500;
const SEAL_MS = 300_000;
const GONE = "The stage that was shown is no longer asked for in this form. Choose the stage again.";

export const stageKey = (row) =>
  [row.stage, ...(row.role === "patient" ? [] : [row.role]), ...row.leads].join("-");

class Bench {
  constructor(host, name) {
    this.name = name;
    this.url = `/api/job/${encodeURIComponent(name)}`;
    this.job = null;
    this.key = "";
    this.doing = [];
    this.parts = [];
    this.strip = new Strip(this);
    this.capture = new Capture(this);
    this.answer = new Answer(this);
    this.picture = new Picture(this);
    this.decide = new Decide(this);
    this.parts = [this.strip, this.capture, this.answer, this.picture, this.decide];
    this.main = el("div", { class: "dw-stack" });
    this.side = el("div", { class: "dw-stack" });
    this.columns = el("div", { class: "bench-columns" }, this.main, this.side);
    host.append(this.strip.root, this.columns);
    this.wide = matchMedia("(min-width: 64rem)");
    this.wide.addEventListener("change", () => this.place());
    this.place();
  }

  // Two columns at a desk; on a phone one, in the order of the work.
  place() {
    const { capture, picture, answer, decide } = this;
    const narrow = [capture.root, answer.root, picture.root, answer.findings, answer.warnings,
      decide.root];
    if (this.wide.matches) {
      this.main.replaceChildren(capture.root, picture.root, answer.warnings);
      this.side.replaceChildren(answer.root, answer.findings, decide.root);
    } else this.main.replaceChildren(...narrow);
    this.side.hidden = !this.wide.matches;
  }

  get stage() {
    return this.job.stages.find((row) => stageKey(row) === this.key);
  }

  // A stage once shown stays: what is photographed for it must not land in another.
  keepStage() {
    const rows = this.job.stages;
    const has = (key) => rows.some((row) => stageKey(row) === key);
    if (has(this.key)) return;
    if (this.key) toast(GONE);
    const wanted = new URLSearchParams(location.search).get("stage");
    const usual = [...rows].reverse().find((row) => row.photo !== null) || rows[0];
    this.key = has(wanted) ? wanted : stageKey(usual);
  }

  // The stage stands in the address, so that a reload or a link comes back to it.
  setStage(key) {
    this.key = key;
    const address = new URL(location.href);
    address.searchParams.set("stage", key);
    history.replaceState(null, "", address);
    this.render();
  }

  get photo() {
    const seq = this.stage.photo;
    return seq === null ? null : this.job.photos[String(seq)];
  }

  // The comparison that counts for the chip after reflow; older ones answer nothing.
  get pair() {
    if (this.stage.stage !== "after") return null;
    return this.job.pairs.find((pair) => pair.stands && pair.after === this.stage.photo) || null;
  }

  get sealed() {
    return this.job.step === "sealed";
  }

  async load() {
    const job = await getJson(this.url);
    this.job = job;
    this.doing = job.doing;
    this.trouble = job.trouble;
    this.keepStage();
    this.render();
  }

  // What was added is there, whether or not it can be read again at once.
  async refresh() {
    try {
      await this.load();
    } catch (error) {
      this.missed(error);
    }
    this.soon();
  }

  missed(error) {
    this.isLost = error.status === 0;
    toast(error.message, this.isLost ? "lost" : "told");
  }

  render() {
    for (const part of this.parts) part.render();
  }

  // What was asked for shows at once, not at the next calm look at the status.
  async ask(path, value) {
    try {
      await postJson(`${this.url}/${path}`, value, path === "seal" ? SEAL_MS : undefined);
    } catch (error) {
      if (error.message) toast(error.message, "act");
      return false;
    }
    toast("");
    toast("", "act");
    await this.refresh();
    return true;
  }

  async judge() {
    sessionStorage.removeItem(`dotward.stopped.${this.name}`);
    await this.ask("judge?limits=now");
  }

  async stop() {
    sessionStorage.setItem(`dotward.stopped.${this.name}`, "yes");
    await this.ask("stop");
  }

  // Photos that a stopped server left unjudged are judged now, unless a person stopped.
  async goOn() {
    const isJudging = this.doing.some((item) => item.kind === "check");
    if (!this.job.unjudged || isJudging || this.sealed) return;
    if (sessionStorage.getItem(`dotward.stopped.${this.name}`)) return;
    try {
      await postJson(`${this.url}/judge`);
      await this.load();
    } catch (error) {
      this.missed(error);
    }
  }

  soon() {
    clearTimeout(this.timer);
    const busy = this.doing.length > 0;
    this.timer = setTimeout(() => this.look(), busy ? BUSY_MS : CALM_MS);
  }

  async look() {
    clearTimeout(this.timer);
    try {
      if (document.visibilityState === "visible") await this.follow();
      if (this.isLost) {
        this.isLost = false;
        toast("", "lost");
        await this.load();
        await this.goOn();
      }
    } catch (error) {
      this.missed(error);
    }
    this.soon();
  }

  async follow() {
    const status = await getJson(`${this.url}/status`);
    const kinds = (doing) => doing.map((item) => item.kind).join();
    const changed = status.head !== this.job.head || kinds(status.doing) !== kinds(this.doing)
      || status.trouble !== this.trouble
      || JSON.stringify(status.limits) !== JSON.stringify(this.job.limits);
    this.doing = status.doing;
    if (changed) await this.load();
    else this.answer.renderWork();
  }

  async start() {
    await this.load();
    for (const name of ["visibilitychange", "pageshow", "online"]) {
      (name === "visibilitychange" ? document : window)
        .addEventListener(name, () => this.look());
    }
    // What a reload would lose: the browser asks before it leaves.
    window.addEventListener("beforeunload", (event) => {
      if (this.capture.sending || this.picture.isChanged) event.preventDefault();
    });
    postJson(`${this.url}/warm`).catch(() => {});
    await this.goOn();
    this.soon();
  }
}

export async function mount(host) {
  const name = jobOfPage();
  if (!name) {
    await mountStart(host);
    return;
  }
  const bench = new Bench(host, name);
  try {
    await bench.start();
  } catch (error) {
    host.replaceChildren(el("div", { class: "dw-card dw-box fault" }, el("p", {}, error.message),
      el("a", { class: "dw-button", href: "/" }, "All jobs")));
  }
}

// The Review screen: a queue, the job that is looked at, verdicts by key and by touch.

import { button, el, say } from "/own/dom.js";
import { getJson, jobOfPage, person, postJson } from "/own/net.js";
import { Agreement } from "/own/review_agreement.js";
import { askOverrule } from "/own/review_overrule.js";
import { JobPanel } from "/own/review_job.js";
import { Queue } from "/own/review_queue.js";

const POLL_MS = 3000;
const BUSY_POLL_MS = 700;
const KEYS_OFF = "dotward.keys-off";

function keysWanted(on) {
  try {
    if (on === true) localStorage.removeItem(KEYS_OFF);
    if (on === false) localStorage.setItem(KEYS_OFF, "1");
    return !localStorage.getItem(KEYS_OFF);
  } catch {
    return true;
  }
}

class Review {
  constructor(host) {
    this.job = jobOfPage();
    this.view = null;
    this.asked = 0;
    this.panel = new JobPanel();
    this.queue = new Queue((row) => this.open(row.job), (filters) => this.agreement.show(filters));
    this.agreement = new Agreement(() => this.queue.filters);
    this.status = el("p", { class: "review-said", role: "status" });
    this.by = el("input", { type: "text", maxlength: "120", autocomplete: "name",
      value: person(), id: "review-by" });
    this.by.addEventListener("change", () => person(this.by.value.trim()));
    this.help = this.keysHelp();
    host.append(
      el("div", { class: "review-head" }, el("h1", {}, "Review"),
        el("label", { class: "dw-field review-by", for: "review-by" }, "Reviewer", this.by)),
      el("div", { class: "review" },
        el("div", { class: "review-side dw-stack" }, this.queue.root, this.agreement.root,
          this.help),
        el("div", { class: "review-main dw-stack" }, this.panel.root, this.actions())));
    this.listen();
  }

  actions() {
    this.buttons = {
      accept: button("Accept", { class: "main", "data-key": "A" }, () => this.accept()),
      overrule: button("Overrule…", { "data-key": "O" }, () => this.overrule()),
      undo: button("Undo", { "data-key": "U" }, () => this.undo()),
      back: button("Back", { "data-key": "K" }, () => this.step(-1)),
      next: button("Next", { "data-key": "J" }, () => this.step(1)),
    };
    return el("div", { class: "review-bar dw-card" }, this.status,
      el("div", { class: "review-buttons", role: "group", "aria-label": "Verdict" },
        Object.values(this.buttons)));
  }

  keysHelp() {
    const on = el("input", { type: "checkbox", id: "review-keys" });
    on.checked = keysWanted();
    on.addEventListener("change", () => keysWanted(on.checked));
    const rows = [["A", "accept"], ["O", "overrule"], ["U", "undo"], ["J", "next"],
      ["K", "back"], ["W B F", "wipe, blink, fade"], ["?", "this list"]];
    return el("details", { class: "review-keys dw-card" }, el("summary", {}, "Keys"),
      el("label", { class: "dw-row" }, on, "Use single keys on this screen"),
      el("ul", {}, rows.map(([key, does]) => el("li", {}, el("kbd", {}, key), ` ${does}`))));
  }

  listen() {
    document.addEventListener("keydown", (event) => this.key(event));
    const look = () => document.visibilityState === "visible" && this.refresh();
    document.addEventListener("visibilitychange", look);
    window.addEventListener("pageshow", look);
  }

  key(event) {
    const typing = event.target.closest?.("input, textarea, select, dialog, [contenteditable]");
    if (typing || event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
    if (!keysWanted()) return;
    const blend = (mode) => () => this.panel.pane?.blend.setMode(mode);
    const actions = {
      a: () => this.buttons.accept.click(), o: () => this.buttons.overrule.click(),
      u: () => this.buttons.undo.click(), j: () => this.step(1), k: () => this.step(-1),
      w: blend("wipe"), b: blend("blink"), f: blend("fade"),
      "?": () => { this.help.open = !this.help.open; },
    };
    const action = actions[event.key.toLowerCase()];
    if (!action) return;
    event.preventDefault();
    action();
  }

  async start() {
    await this.queue.load();
    if (!this.job && this.queue.rows.length) this.job = this.queue.rows[0].job;
    else if (this.job) this.queue.fold();
    await this.refresh(true);
    this.poll();
  }

  poll() {
    const busy = this.view && (this.view.doing.length || this.panel.waits);
    setTimeout(async () => {
      if (document.visibilityState === "visible") await this.refresh().catch(() => {});
      this.poll();
    }, busy ? BUSY_POLL_MS : POLL_MS);
  }

  async open(job) {
    this.job = job;
    this.view = null;
    this.tell("");
    this.queue.mark(job);
    this.queue.link(job);
    this.queue.fold();
    await this.refresh(true);
    this.panel.heading.focus({ preventScroll: false });
  }

  async step(by) {
    const row = await this.queue.step(this.job, by);
    if (row) await this.open(row.job);
    else this.tell(by > 0 ? "This is the end of the queue." : "This is the first of the queue.");
  }

  // Reads the record; draws again only what is new.
  async refresh(whole = false) {
    if (!this.job) {
      this.panel.empty();
      this.draw();
      return;
    }
    const job = this.job;
    this.asked += 1;
    const mine = this.asked;
    const base = `/api/job/${encodeURIComponent(job)}`;
    if (!whole && this.view && !this.panel.waits) {
      const status = await getJson(`${base}/status`);
      if (status.head === this.view.head) return;
    }
    try {
      const [view, said] = await Promise.all(
        [getJson(base), getJson(`/api/review/job/${encodeURIComponent(job)}`)]);
      if (mine !== this.asked || job !== this.job) return;
      if (view.head !== said.head) {
        await this.refresh(true);
        return;
      }
      this.view = { ...view, said };
      this.panel.show(this.view, whole);
    } catch (error) {
      if (mine !== this.asked) return;
      this.view = null;
      this.panel.fail(job, error.message);
    }
    this.draw();
  }

  draw() {
    const said = this.view?.said;
    const standing = said?.reviews.at(-1);
    const open = Boolean(said && !said.why_not);
    this.buttons.accept.disabled = !open;
    this.buttons.overrule.disabled = !open;
    this.buttons.undo.disabled = !standing;
    this.buttons.undo.textContent = standing ? `Undo “${standing.verdict}”` : "Undo";
    this.queue.mark(this.job);
    this.queue.link(this.job);
  }

  // Beside the buttons, where the eyes are; a message over them would be in the way.
  tell(words, refused = false) {
    this.status.classList.toggle("refused", refused);
    say(this.status, words);
  }

  async send(what, body, words) {
    const by = this.by.value.trim();
    if (!by) {
      this.tell("Say who you are first: fill in the field “Reviewer”.", true);
      this.by.focus();
      return;
    }
    person(by);
    const { accept, overrule, undo } = this.buttons;
    for (const item of [accept, overrule, undo]) item.disabled = true;
    let refusal = "";
    try {
      await postJson(`/api/review/job/${encodeURIComponent(this.job)}/${what}`, { by, ...body });
    } catch (error) {
      refusal = error.message;
    }
    // First the record, then the word: what stands next to it is what it speaks of.
    await this.refresh(true);
    this.tell(refusal || words, Boolean(refusal));
    await this.queue.recount(this.job, this.view);
    this.agreement.show(this.queue.filters);
  }

  async accept() {
    const said = this.view?.said;
    if (!said || said.why_not) return;
    await this.send("accept", { decided: said.decided },
      "Accepted. Undo takes it back; Next goes on.");
  }

  async overrule() {
    const said = this.view?.said;
    if (!said || said.why_not) return;
    const asked = await askOverrule(this.view);
    if (!asked) return;
    await this.send("overrule", { decided: said.decided, ...asked },
      "Overruled. Undo takes it back; Next goes on.");
  }

  async undo() {
    const standing = this.view?.said.reviews.at(-1);
    if (!standing) return;
    await this.send("undo", { event: standing.seq },
      "Taken back by a further event; both stay in the record.");
  }
}

export async function mount(host) {
  const review = new Review(host);
  await review.start();
}

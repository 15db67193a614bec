// The Review screen: a queue, the job that is looked at, verdicts by key and by touch.

import { button, el, say, stateWord } from "/own/dom.js";
import { getJson, jobOfPage, person, postJson } from "/own/net.js";
import { Agreement } from "/own/review_agreement.js";
import { askWhyUndo, closeDialog } from "/own/review_dialog.js";
import { askOverrule, forgetOverrule } from "/own/review_overrule.js";
import { JobPanel } from "/own/review_job.js";
import { isLost, Queue } from "/own/review_queue.js";

const POLL_MS = 3000;
const BUSY_POLL_MS = 700;
const STEP_MS = 1000; // steps quicker than this leave one entry in the browser's history
const KEYS_OFF = "dotward.keys-off";
const LOST = "The page does not answer: nothing can be recorded, and what stands here may be old. "
  + "Is dotward still running? It goes on by itself.";
const UNKNOWN = "No answer came: it is not known whether this was recorded. The job shows it "
  + "when the page answers again.";

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
    this.lost = false;
    this.sending = null; // while a verdict is on its way: what it will come to
    this.stepped = -STEP_MS;
    this.panel = new JobPanel();
    this.queue = new Queue((row) => this.open(row.job), (filters) => this.agreement.show(filters));
    this.agreement = new Agreement(() => this.queue.filters);
    this.status = el("p", { class: "review-said", role: "status" });
    this.by = el("input", { type: "text", maxlength: "120", autocomplete: "name",
      value: person(undefined, "reviewer"), id: "review-by" });
    this.by.addEventListener("change", () => person(this.by.value.trim(), "reviewer"));
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
    this.lostNote = el("div", { role: "alert" });
    this.caution = el("p", { class: "review-caution", id: "review-caution" });
    this.buttons.accept.setAttribute("aria-describedby", this.caution.id);
    return el("div", { class: "review-bar dw-card" }, this.lostNote, this.caution, this.status,
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
    document.addEventListener("visibilitychange", () => this.look());
    window.addEventListener("pageshow", () => this.look());
    window.addEventListener("popstate", () => {
      const job = jobOfPage();
      if (job && job !== this.job) this.open(job, "kept");
    });
  }

  key(event) {
    const typing = event.target.closest?.("input, textarea, select, dialog, [contenteditable]");
    if (typing || event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
    if (!keysWanted() || document.querySelector("dialog[open]")) return;
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
    if (this.job) this.queue.fold();
    else this.job = this.queue.rows[0]?.job || "";
    await this.refresh(true);
    this.poll();
  }

  poll() {
    const busy = this.view && (this.view.doing.length || this.panel.waits);
    setTimeout(async () => {
      await this.look();
      this.poll();
    }, busy ? BUSY_POLL_MS : POLL_MS);
  }

  async look() {
    if (document.visibilityState !== "visible" || this.sending) return;
    if (this.queue.failed) {
      await this.queue.load();
      this.job ||= this.queue.rows[0]?.job || "";
    }
    await this.refresh();
  }

  // ``entry`` says what the browser's history gets: a new one, the present one or its own.
  async open(job, entry = "new") {
    closeDialog();
    if (this.sending) {
      this.tell("The verdict is still being recorded; then this goes on.");
      if (!await this.sending) {
        this.queue.link(this.job);
        return;
      }
    }
    if (entry === "new" && job !== this.job) history.pushState(null, "");
    this.job = job;
    this.view = null;
    this.tell("");
    this.draw(); // no verdict before the job has been read
    this.queue.fold();
    await this.refresh(true);
    this.panel.heading.focus({ preventScroll: false });
  }

  async step(by) {
    const quick = performance.now() - this.stepped < STEP_MS;
    this.stepped = performance.now();
    const row = await this.queue.step(this.job, by);
    if (row) await this.open(row.job, quick ? "present" : "new");
    else this.tell(by > 0 ? "This is the end of the queue." : "This is the first of the queue.");
  }

  // Reads the record; draws again only what is new.
  async refresh(whole = false) {
    const { job } = this;
    this.asked += 1;
    const mine = this.asked;
    try {
      const view = await this.read(job, whole);
      if (mine !== this.asked || !(view || this.lost || !job)) return;
      this.lost = false;
      if (view) {
        this.view = view;
        this.panel.show(view, whole);
      }
    } catch (error) {
      if (mine !== this.asked) return;
      this.fail(job, error);
    }
    this.draw();
  }

  // Gives nothing where nothing is new.
  async read(job, whole) {
    const shown = this.view;
    if (!job) {
      if (!this.queue.failed) this.panel.empty();
      return null;
    }
    const base = `/api/job/${encodeURIComponent(job)}`;
    if (!whole && shown && !this.panel.waits) {
      const status = await getJson(`${base}/status`);
      if (status.head === shown.head) return null;
    }
    const [view, said] = await Promise.all(
      [getJson(base), getJson(`/api/review/job/${encodeURIComponent(job)}`)]);
    return view.head === said.head ? { ...view, said } : this.read(job, true);
  }

  // What was read stays in sight while the page does not answer.
  fail(job, error) {
    this.lost = isLost(error);
    if (this.lost && this.view) return;
    this.view = null;
    this.panel.fail(job, error.message);
  }

  draw() {
    const said = this.view?.said;
    const standing = said?.reviews.at(-1);
    const open = Boolean(said && !said.why_not);
    const able = !this.lost && !this.sending;
    this.buttons.accept.disabled = !(open && able);
    this.buttons.overrule.disabled = !(open && able);
    this.buttons.undo.disabled = !(standing && able);
    this.buttons.undo.textContent = standing ? `Undo “${standing.verdict}”` : "Undo";
    this.drawNotes(open && !this.lost ? said.caution : null);
    this.queue.mark(this.job);
    this.queue.link(this.job);
  }

  drawNotes(caution) {
    if (this.lost !== Boolean(this.lostNote.firstChild)) {
      this.lostNote.replaceChildren(...(this.lost
        ? [el("p", { class: "review-lost dw-box fault" }, LOST)] : []));
    }
    this.caution.replaceChildren(...(caution
      ? [stateWord(caution.state, `${caution.word}. Be sure before you accept.`)] : []));
  }

  // Beside the buttons, where the eyes are; a message over them would be in the way.
  tell(words, refused = false) {
    this.status.classList.toggle("refused", refused);
    say(this.status, words);
  }

  // Gives whether it was recorded.  All that is said of it is about the job it was sent for.
  async send(job, what, body, words) {
    const by = this.by.value.trim();
    if (!by) {
      this.tell("Say who you are first: fill in the field “Reviewer”.", true);
      this.by.focus();
      return false;
    }
    person(by, "reviewer");
    this.sending = this.record(job, what, { by, ...body }, words);
    this.draw();
    const row = await this.sending;
    this.sending = null;
    this.draw();
    if (row) this.queue.recount(row);
    this.agreement.show(this.queue.filters);
    return Boolean(row);
  }

  // Gives the job's row as it is now, or null where the verdict was refused.
  async record(job, what, body, words) {
    let row = null;
    let refusal = "";
    try {
      ({ row } = await postJson(`/api/review/job/${encodeURIComponent(job)}/${what}`, body));
    } catch (error) {
      refusal = isLost(error) ? UNKNOWN : error.message;
      this.queue.failed ||= isLost(error); // the list may be older than the record
    }
    // First the record, then the word: what stands next to it is what it speaks of.
    await this.refresh(true);
    this.tell(refusal || words, Boolean(refusal));
    return row;
  }

  async accept() {
    const { view } = this;
    if (!view || view.said.why_not) return;
    await this.send(view.job, "accept", { decided: view.said.decided },
      "Accepted. Undo takes it back; Next goes on.");
  }

  async overrule() {
    const { view } = this;
    if (!view || view.said.why_not) return;
    const asked = await askOverrule(view);
    if (!asked) return;
    const done = await this.send(view.job, "overrule", { decided: view.said.decided, ...asked },
      "Overruled. Undo takes it back; Next goes on.");
    if (done) forgetOverrule(view.job);
  }

  async undo() {
    const { view } = this;
    const standing = view?.said.reviews.at(-1);
    if (!standing) return;
    const reason = standing.verdict === "overruled" ? await askWhyUndo(standing) : "";
    if (reason === null) return;
    await this.send(view.job, "undo", { event: standing.seq, reason },
      "Taken back by a further event; both stay in the record.");
  }
}

export async function mount(host) {
  const review = new Review(host);
  await review.start();
}

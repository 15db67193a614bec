// What the person decides, finishing the job, and the reports.

import { button, el, say, stateWord } from "/own/dom.js";
import { toast } from "/own/shell.js";
import { dropDraft, keepDraft, readDraft } from "/own/drafts.js";

const CHOICES = [
  ["no-fault-seen", "ok", "No fault seen"], ["stop", "fault", "Stop"],
  ["check-by-hand", "unsure", "Check by hand"], ["retake", "unsure", "Take the photo again"],
];

const CHANGED = "Something was added since you chose. Read the answer again, then choose.";

// Who looked at the decision, what that person says, and why.
export function reviewBox(review) {
  const did = review.verdict === "overruled" ? "Overruled" : "Accepted";
  return el("div", { class: `dw-card dw-box bench-review ${review.state}` },
    stateWord(review.state, `${did} by ${review.by}: ${review.word}`),
    review.reason.map((line) => el("p", {}, line)));
}

export class Decide {
  constructor(bench) {
    this.bench = bench;
    this.choices = CHOICES.map(([value, state, word]) => el("label", { class: "bench-choice" },
      el("input", { type: "radio", name: "decision", value }), stateWord(state, word)));
    this.reason = el("textarea", { rows: "2", maxlength: "2000" });
    this.reason.value = readDraft(bench.name).reason || "";
    this.changed = el("p", { class: "dw-hint", role: "status" });
    this.outvoted = el("p", { class: "dw-hint" });
    this.form = el("form", { class: "dw-stack" },
      this.outvoted,
      el("fieldset", { class: "bench-choices" }, el("legend", {}, "What do you decide?"), this.choices),
      this.changed,
      el("label", { class: "dw-field" }, "Why",
        el("span", { class: "dw-hint" },
          "Needed for “No fault seen” against the tool, or after an earlier stop"), this.reason),
      el("button", { type: "submit", class: "dw-button main" }, "Write it down"));
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.decide();
    });
    this.form.addEventListener("input", (event) => this.keep(event.target));
    this.said = el("div", { class: "dw-stack" });
    this.saidWord = el("p", {});
    this.finish = button("Finish job", { class: "main" }, () => this.act("seal"));
    this.back = button("Take it back", {}, () =>
      this.act("withdraw", { event: this.bench.job.decision.seq }));
    this.after = el("div", { class: "dw-row" }, this.finish, this.back);
    this.said.append(this.saidWord, this.after);
    this.links = el("p", { class: "dw-row" });
    this.review = el("div", { hidden: true });
    this.power = el("p", { class: "dw-box fault bench-power", hidden: true },
      el("strong", {}, "Do not power the board."));
    this.root = el("section", { class: "dw-card dw-stack", "aria-labelledby": "decide-title" },
      el("h2", { id: "decide-title" }, "Your decision"), this.power, this.review, this.form, this.said,
      this.links);
  }

  get chosen() {
    return this.form.querySelector("input:checked");
  }

  // A choice is kept with the state of the job that it was made on.
  keep(field) {
    const old = readDraft(this.bench.name);
    const isChoice = field.name === "decision";
    keepDraft(this.bench.name, {
      reason: this.reason.value,
      decision: isChoice ? field.value : old.decision,
      head: isChoice ? this.bench.job.head : old.head,
    });
    if (isChoice) say(this.changed, "");
  }

  // What was chosen on an answer that has changed since has to be chosen again.
  recall() {
    const { decision, head } = readDraft(this.bench.name);
    const stands = head === this.bench.job.head;
    for (const choice of this.choices) {
      const field = choice.querySelector("input");
      field.checked = stands && field.value === decision;
    }
    say(this.changed, decision && !stands ? CHANGED : "");
  }

  renderStanding() {
    const { decision, review } = this.bench.job;
    this.power.hidden = (review || decision)?.decision !== "stop";
    this.review.hidden = !review;
    this.review.replaceChildren(...(review ? [reviewBox(review)] : []));
  }

  render() {
    const { job, sealed } = this.bench;
    const { decision } = job;
    this.root.hidden = !Object.keys(job.photos).length;
    this.form.hidden = decision !== null || sealed;
    this.said.hidden = decision === null;
    this.after.hidden = sealed;
    say(this.outvoted, job.outvoted.join(" "));
    this.recall();
    this.renderStanding();
    if (decision) {
      say(this.saidWord, `${decision.word}, decided by ${decision.by}`
        + `${decision.reason.join(" ") ? `: ${decision.reason.join(" ")}` : ""}`
        + `${sealed ? ". The job is sealed." : ""}`);
    }
    const base = `/job/${encodeURIComponent(job.job)}`;
    this.links.replaceChildren(
      el("a", { class: "dw-button", href: `${base}/report`, target: "_blank", rel: "noopener" },
        sealed ? "Report" : "Report as it stands"),
      el("a", { class: "dw-button", href: `${base}/report.pdf`, target: "_blank", rel: "noopener" }, "PDF"));
  }

  async act(path, value) {
    const by = this.bench.strip.who();
    if (!by) {
      toast("Say who you are first: fill in the field “You”.");
      return false;
    }
    return this.bench.ask(path, { ...value, by });
  }

  async decide() {
    const decision = this.chosen?.value || "";
    const value = { decision, reason: this.reason.value, head: this.bench.job.head };
    if (!await this.act("decide", value)) return;
    dropDraft(this.bench.name);
    this.reason.value = "";
    this.recall();
  }
}

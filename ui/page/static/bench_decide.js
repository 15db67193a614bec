// What the person decides, finishing the job, and the reports.

import { button, el, say, stateWord } from "/own/dom.js";
import { toast } from "/own/shell.js";

const CHOICES = [
  ["no-fault-seen", "ok", "No fault seen"], ["stop", "fault", "Stop"],
  ["check-by-hand", "unsure", "Check by hand"], ["retake", "unsure", "Take the photo again"],
];

export class Decide {
  constructor(bench) {
    this.bench = bench;
    this.choices = CHOICES.map(([value, state, word]) => el("label", { class: "bench-choice" },
      el("input", { type: "radio", name: "decision", value }), stateWord(state, word)));
    this.reason = el("textarea", { rows: "2", maxlength: "2000" });
    this.form = el("form", { class: "dw-stack" },
      el("fieldset", { class: "bench-choices" }, el("legend", {}, "What do you decide?"), this.choices),
      el("label", { class: "dw-field" }, "Why",
        el("span", { class: "dw-hint" }, "Needed where you see it otherwise than the tool"), this.reason),
      el("button", { type: "submit", class: "dw-button main" }, "Write it down"));
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.decide();
    });
    this.said = el("div", { class: "dw-stack" });
    this.saidWord = el("p", {});
    this.finish = button("Finish job", { class: "main" }, () => this.act("seal"));
    this.back = button("Take it back", {}, () =>
      this.act("withdraw", { event: this.bench.job.decision.seq }));
    this.after = el("div", { class: "dw-row" }, this.finish, this.back);
    this.said.append(this.saidWord, this.after);
    this.links = el("p", { class: "dw-row" });
    this.root = el("section", { class: "dw-card dw-stack", "aria-labelledby": "decide-title" },
      el("h2", { id: "decide-title" }, "Your decision"), this.form, this.said, this.links);
  }

  render() {
    const { job, sealed } = this.bench;
    const { decision } = job;
    this.root.hidden = !Object.keys(job.photos).length;
    this.form.hidden = decision !== null || sealed;
    this.said.hidden = decision === null;
    this.after.hidden = sealed;
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
    const chosen = this.form.querySelector("input:checked");
    const value = { decision: chosen?.value || "", reason: this.reason.value, head: this.bench.job.head };
    if (await this.act("decide", value)) {
      this.reason.value = "";
      if (chosen) chosen.checked = false;
    }
  }
}

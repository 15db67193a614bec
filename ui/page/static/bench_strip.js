// The job strip: what the job is about, who works, and the stages with their state.

import { el, stateWord } from "/own/dom.js";
import { person } from "/own/net.js";
import { stageKey } from "/own/bench.js";

export class Strip {
  constructor(bench) {
    this.bench = bench;
    this.title = el("h1", {});
    this.about = el("p", { class: "dw-soft bench-about" });
    this.asked = el("div", {});
    this.you = el("input", { type: "text", maxlength: "120", autocomplete: "name", value: person() });
    this.you.addEventListener("input", () => person(this.you.value.trim()));
    this.stages = el("ol", { class: "bench-stages" });
    this.root = el("section", { class: "dw-stack", "aria-label": "Job" },
      el("div", { class: "bench-strip" },
        el("div", {}, el("a", { class: "bench-all", href: "/" }, "All jobs"), this.title, this.about,
          this.asked),
        el("label", { class: "dw-field bench-you" }, "You", this.you)),
      el("nav", { "aria-label": "Stages" }, this.stages));
  }

  // Gives the person's name, or asks for it and gives nothing.
  who() {
    const name = this.you.value.trim();
    if (!name) this.you.focus();
    return name;
  }

  render() {
    const { job, opened } = this.bench.job;
    this.title.textContent = `${opened.part} on ${opened.patient}`;
    this.about.textContent = [`Job ${job}`, opened.donor ? `to ${opened.donor}` : "",
      `opened by ${opened.technician}`].filter(Boolean).join(" · ");
    this.asked.replaceChildren(...opened.asked.map((line) => el("p", {}, line)));
    if (!this.you.value && !person()) this.you.placeholder = "Your name";
    this.renderStages();
  }

  renderStages() {
    const focused = document.activeElement?.dataset?.stage;
    const current = stageKey(this.bench.stage);
    let number = 0;
    this.stages.replaceChildren(...this.bench.job.stages.map((row) => {
      const key = stageKey(row);
      if (!row.optional) number += 1;
      const address = new URL(location.href);
      address.searchParams.set("stage", key);
      const link = el("a", {
        href: address.pathname + address.search, "data-stage": key,
        class: `bench-stage ${row.state}`, "aria-current": key === current ? "step" : null,
      },
      el("span", { class: "bench-stage-name" }, row.optional ? row.title : `${number}. ${row.title}`),
      stateWord(row.state, row.optional && row.photo === null ? "if needed" : row.word));
      link.addEventListener("click", (event) => {
        if (event.ctrlKey || event.metaKey || event.shiftKey) return;
        event.preventDefault();
        this.bench.setStage(key);
      });
      return el("li", {}, link);
    }));
    if (focused) this.stages.querySelector(`[data-stage="${CSS.escape(focused)}"]`)?.focus();
  }
}

// The answer, big; what is going on; what was found; the next step and the cautions.

import { button, el, say, sign, stateWord } from "/own/dom.js";

const lines = (texts) => texts.map((text) => el("p", {}, text));

export class Answer {
  constructor(bench) {
    this.bench = bench;
    this.big = el("section", { class: "dw-card bench-answer", "aria-labelledby": "answer-title",
      "aria-live": "polite" });
    this.workWords = el("span", {});
    this.workBar = el("progress", { max: "1" });
    this.stopButton = button("Stop", { class: "small" }, () => bench.stop());
    this.work = el("section", { class: "dw-card bench-work", "aria-label": "Work", hidden: true },
      this.workWords, this.workBar, this.stopButton);
    this.judgeButton = button("Judge", { class: "main" }, () => bench.judge());
    this.judgeWords = el("p", { role: "status" });
    this.judge = el("section", { class: "dw-card dw-stack dw-box unsure", "aria-label": "Not judged yet",
      hidden: true }, this.judgeWords, this.judgeButton);
    this.next = el("p", {});
    this.list = el("ul", { class: "bench-findings" });
    this.findings = el("section", { class: "dw-card", "aria-labelledby": "findings-title" },
      el("h2", { id: "findings-title" }, "Findings"), this.list);
    this.cautions = el("ul", { class: "bench-cautions" });
    this.warnings = el("section", { class: "dw-card", "aria-labelledby": "cautions-title" },
      el("h2", { id: "cautions-title" }, "Cautions"), this.cautions);
    this.root = el("div", { class: "dw-stack" }, this.work, this.judge, this.big,
      el("section", { class: "dw-card bench-next", "aria-labelledby": "next-title" },
        el("h2", { id: "next-title" }, "Next step"), this.next));
  }

  // The pair's answer counts for the chip after reflow; else that of the photo.
  get shown() {
    const { pair, photo } = this.bench;
    return pair?.answer || photo?.answer || null;
  }

  render() {
    this.renderWork();
    this.renderBig();
    this.renderFindings();
    say(this.next, this.bench.job.next);
    const cautions = this.shown?.cautions || [];
    this.cautions.replaceChildren(
      ...cautions.map((text) => el("li", { class: "dw-box fault" }, el("strong", {}, text))),
      ...this.bench.job.cautions.map((caution) => el("li", {}, el("strong", {}, `${caution.title}. `),
        caution.text, el("span", { class: "dw-soft" }, ` (${caution.source})`))));
  }

  renderWork() {
    const { doing, job } = this.bench;
    const shown = doing.filter((item) => item.kind !== "tiles");
    this.work.hidden = shown.length === 0;
    if (shown.length) {
      const [item] = shown;
      const seconds = item.since_s >= 1 ? `, ${Math.floor(item.since_s)} s` : "";
      say(this.workWords, `${item.words}${seconds}`);
      if (item.of) this.workBar.value = item.done / item.of;
      else this.workBar.removeAttribute("value");
    }
    this.judge.hidden = shown.length > 0 || !job.unjudged || this.bench.sealed;
    say(this.judgeWords, this.bench.trouble || "Something has not been judged yet.");
  }

  // What is the same is left alone: it keeps the focus, and is not read out again.
  isNew(part, ...values) {
    const key = JSON.stringify(values);
    if (this[part] === key) return false;
    this[part] = key;
    return true;
  }

  renderBig() {
    const { photo, pair, job } = this.bench;
    const answer = this.shown;
    const before = pair ? job.photos[String(pair.before)] : null;
    const key = [answer, photo?.seq, photo?.corrections, before?.corrections, this.bench.stage.stage];
    if (!this.isNew("bigKey", key)) return;
    const title = (text) => el("h2", { id: "answer-title" }, text);
    if (!answer) {
      this.big.className = "dw-card bench-answer none";
      this.big.replaceChildren(title(photo ? "No answer yet" : "No photo yet"));
      return;
    }
    // Only a comparison can say that a chip sits right: a look alone is no answer to it.
    const alone = this.bench.stage.stage === "after" && !this.bench.pair && !answer.error;
    const state = alone ? "unsure" : answer.state;
    const headline = answer.error ? `No answer. ${answer.headline}`
      : alone ? "Not compared with the photo before lifting" : answer.headline;
    this.big.className = `dw-card bench-answer ${state}`;
    this.big.replaceChildren(
      el("div", { class: `bench-big dw-state ${state}` }, sign(state), title(headline)),
      ...lines(answer.error ? [answer.error] : []),
      ...lines(alone ? [answer.headline] : []),
      ...lines(this.bench.pair ? [] : answer.next),
      ...this.corrected());
  }

  // Hand corrections are named beside the answer that rests on them.
  corrected() {
    const { pair, photo, job } = this.bench;
    const photos = pair ? [job.photos[String(pair.before)], photo] : [photo];
    return photos.flatMap((one) => (one ? one.corrections : []))
      .map((fix) => el("p", { class: "bench-by-hand" }, `By hand: ${fix.words}`));
  }

  renderFindings() {
    const answer = this.shown;
    const found = answer?.findings || [];
    this.findings.hidden = found.length === 0;
    if (!this.isNew("findingsKey", found)) return;
    this.list.replaceChildren(...found.map((finding) => {
      const content = [stateWord(finding.state, finding.word), el("span", {}, finding.text)];
      if (!finding.at) {
        return el("li", { class: `bench-finding ${finding.state}` }, el("div", {}, content));
      }
      return el("li", { class: `bench-finding ${finding.state}` },
        el("button", { type: "button", onclick: () => this.bench.picture.zoomTo(finding) },
          content, el("span", { class: "bench-show" }, "Show")));
    }));
  }
}

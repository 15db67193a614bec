// The answer, big; what is going on; what was found; the next step and the cautions.

import { button, el, say, sign, stateWord } from "/own/dom.js";
import { reviewBox } from "/own/bench_decide.js";

const lines = (texts) => texts.map((text) => el("p", {}, text));
const UNJUDGED = "Something has not been judged yet.";
const EARLIER = "This job was judged by earlier limits. Judge it by those in force now; a decision "
  + "then has to be made again.";

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
    this.findingsTitle = el("h2", { id: "findings-title" }, "Findings");
    this.findings = el("section", { class: "dw-card", "aria-labelledby": "findings-title" },
      this.findingsTitle, this.list);
    this.cautions = el("ul", { class: "bench-cautions" });
    this.warnings = el("section", { class: "dw-card", "aria-labelledby": "cautions-title" },
      el("h2", { id: "cautions-title" }, "Cautions"), this.cautions);
    this.standing = el("div", { hidden: true });
    this.root = el("div", { class: "dw-stack" }, this.work, this.judge, this.standing, this.big,
      el("section", { class: "dw-card bench-next", "aria-labelledby": "next-title" },
        el("h2", { id: "next-title" }, "Next step"), this.next));
  }

  // The pair's answer counts for the chip after reflow; else that of the photo.
  get shown() {
    const { pair, photo } = this.bench;
    return pair?.answer || photo?.answer || null;
  }

  // Why the answer shown does not stand as it was given; null where nothing speaks against it.
  get doubt() {
    const { pair, photo } = this.bench;
    return (pair || photo)?.doubt || null;
  }

  // Of a chip after reflow only a comparison can say that it sits right.
  get isAlone() {
    const { pair, photo, stage } = this.bench;
    return stage.stage === "after" && !pair && Boolean(photo?.answer) && !photo.answer.error;
  }

  render() {
    this.renderWork();
    this.renderStanding();
    this.renderBig();
    this.renderFindings();
    say(this.next, this.bench.job.next);
    this.cautions.replaceChildren(
      ...this.firstCautions().map((text) => el("li", { class: "dw-box fault" }, el("strong", {}, text))),
      ...this.bench.job.cautions.map((caution) => el("li", {}, el("strong", {}, `${caution.title}. `),
        caution.text, el("span", { class: "dw-soft" }, ` (${caution.source})`))));
  }

  // What comes with an answer; with one that does not stand as it was given, only this.
  firstCautions() {
    const answer = this.shown;
    if (!answer) return [];
    return this.told(answer).state === answer.state ? answer.cautions : ["Do not power the board."];
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
    const waits = job.unjudged > 0 || job.earlier_limits;
    this.judge.hidden = shown.length > 0 || !waits || this.bench.sealed;
    say(this.judgeWords, this.bench.trouble || (job.unjudged ? UNJUDGED : EARLIER));
  }

  // Who overruled the decision is told before anything that the tool says.
  renderStanding() {
    const { review } = this.bench.job;
    this.standing.hidden = review?.verdict !== "overruled";
    if (!this.isNew("standingKey", review)) return;
    this.standing.replaceChildren(...(this.standing.hidden ? [] : [reviewBox(review)]));
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
    const key = [answer, photo?.seq, photo?.corrections, before?.corrections, this.bench.stage.stage,
      this.doubt, photo?.waits];
    if (!this.isNew("bigKey", key)) return;
    const title = (text) => el("h2", { id: "answer-title" }, text);
    if (!answer) {
      this.big.className = "dw-card bench-answer none";
      this.big.replaceChildren(title(photo ? "No answer yet" : "No photo yet"));
      return;
    }
    const { state, headline, more } = this.told(answer);
    this.big.className = `dw-card bench-answer ${state}`;
    this.big.replaceChildren(
      el("div", { class: `bench-big dw-state ${state}` }, sign(state), title(headline)),
      ...lines(more),
      ...lines(this.bench.pair ? [] : answer.next),
      ...this.corrected());
  }

  // An answer that does not stand is never shown as good: what speaks against it stands
  // in its place.  A fault stays one.
  told(answer) {
    if (answer.error) {
      return { state: answer.state, headline: `No answer. ${answer.headline}`, more: [answer.error] };
    }
    if (this.isAlone) {
      const headline = this.bench.photo.waits ? "Not compared yet: it has to be judged"
        : "Not compared with the photo before lifting";
      return { state: "unsure", headline, more: [answer.headline] };
    }
    const { doubt } = this;
    if (!doubt) return { state: answer.state, headline: answer.headline, more: [] };
    if (answer.state === "fault") return { state: "fault", headline: answer.headline, more: [`${doubt.words}.`] };
    return { state: doubt.state, headline: doubt.words, more: [`The tool said: ${answer.headline}`] };
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
    if (!this.isNew("findingsKey", [found, this.doubt])) return;
    say(this.findingsTitle, this.doubt?.is_old ? "Findings of the answer given before" : "Findings");
    this.list.replaceChildren(...found.map((finding) => this.finding(finding)));
  }

  finding(finding) {
    const isOff = this.doubt?.is_old && finding.state === "ok";
    const [state, word] = isOff ? ["none", "looked right"] : [finding.state, finding.word];
    const content = [stateWord(state, word), el("span", {}, finding.text)];
    if (!finding.at) return el("li", { class: `bench-finding ${state}` }, el("div", {}, content));
    return el("li", { class: `bench-finding ${state}` },
      el("button", { type: "button", onclick: () => this.bench.picture.zoomTo(finding) },
        content, el("span", { class: "bench-show" }, "Show")));
  }
}

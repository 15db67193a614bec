// The job that is reviewed: who said what, the pictures, the findings.

import { button, el, sign, stateWord } from "/own/dom.js";
import { Pane } from "/own/pane.js";

export class JobPanel {
  constructor() {
    this.heading = el("h2", { class: "review-title", tabindex: "-1" });
    this.about = el("p", { class: "dw-soft" });
    this.said = el("div", { class: "review-sayings" });
    this.views = el("div", { class: "review-views", role: "group", "aria-label": "Picture" });
    this.paneHost = el("div", {});
    this.note = el("p", { class: "dw-soft", role: "status" });
    this.findings = el("div", { class: "review-findings" });
    this.more = el("div", { class: "dw-stack" });
    this.root = el("section", { class: "review-job dw-stack", "aria-label": "Job" },
      el("div", {}, this.heading, this.about), this.said,
      el("div", { class: "dw-card dw-stack" }, this.views, this.note, this.paneHost),
      this.findings, this.more);
    this.chosen = "pair";
    this.waits = false;
  }

  empty() {
    this.clear();
    this.heading.textContent = "No job to review";
    this.about.textContent = "When somebody decides on a job, it waits here for a second person.";
  }

  fail(job, message) {
    this.clear();
    this.heading.textContent = `Job ${job}`;
    this.about.textContent = message;
  }

  clear() {
    for (const node of [this.said, this.views, this.findings, this.more]) node.replaceChildren();
    this.note.textContent = "";
    this.paneHost.parentElement.hidden = true;
    this.waits = false;
  }

  show(view, anew) {
    const { opened, said } = view;
    this.view = view;
    if (this.job !== view.job) this.chosen = "pair";
    this.job = view.job;
    this.paneHost.parentElement.hidden = false;
    this.heading.textContent = `${opened.part} on ${opened.patient}`;
    const donor = opened.donor ? `, chip to ${opened.donor}` : "";
    this.about.textContent = `Job ${view.job}${donor}. Opened ${opened.at.slice(0, 10)} `
      + `by ${opened.technician}.`;
    this.said.replaceChildren(...this.sayings(view));
    this.drawPictures(!anew);
    this.more.replaceChildren(...[this.asked(opened), this.corrections(view),
      this.outcomes(said), this.cautions(view)].filter(Boolean));
  }

  sayings(view) {
    const pair = view.pairs.find((item) => item.counts);
    const boxes = [box("Tool", view.tool_state, view.tool_word,
      pair ? [] : ["It has not compared the photos that count."])];
    if (view.decision) {
      boxes.push(box(`Technician ${view.decision.by}`, view.decision.state, view.decision.word,
        view.decision.reason));
    } else boxes.push(box("Technician", "none", "not decided", [view.said.why_not]));
    for (const review of view.said.reviews) {
      boxes.push(box(`Reviewer ${review.by}, ${review.verdict}`, review.state, review.word,
        review.reason));
    }
    if (!view.said.reviews.length) boxes.push(box("Reviewer", "none", "not reviewed", []));
    const { caution } = view.said;
    if (caution) {
      boxes.push(el("p", { class: `dw-card dw-box ${caution.state} against`, role: "note" },
        caution.text));
    }
    return boxes;
  }

  // Every picture the job has: the pair in one frame first, then each photo as it is.
  choices() {
    const pairs = this.view.pairs.map((pair) => ({
      name: pair.counts ? "pair" : `pair-${pair.seq}`,
      word: pair.counts ? "Before and after" : `Before and after (${pair.role})`,
      answer: pair.answer, pictures: pair.pictures, pair,
      why: pair.laid_over ? "" : "The two photos could not be laid over each other: look at each "
        + "by itself.",
    }));
    const photos = this.view.stages.filter((stage) => stage.photo !== null).map((stage) => {
      const photo = this.view.photos[String(stage.photo)];
      return { name: `photo-${stage.photo}`, word: stage.title, answer: photo.answer,
        pictures: photo.picture ? [photo.picture] : null, why: "" };
    });
    return [...pairs, ...photos];
  }

  drawPictures(keep) {
    const choices = this.choices();
    const shown = choices.find((item) => item.name === this.chosen && !item.why)
      || choices.find((item) => !item.why) || choices[0];
    const cannot = choices.find((item) => item.why);
    this.views.replaceChildren(...(choices.length > 1 ? choices.filter((item) => !item.why) : [])
      .map((item) => button(item.word, { class: "small",
        "aria-pressed": String(item === shown) }, () => {
        this.chosen = item.name;
        this.drawPictures(false);
      })));
    this.note.textContent = shown ? cannot?.why || "" : "No photo has been added.";
    this.waits = Boolean(shown && !shown.pictures && !shown.why && !shown.answer?.error);
    if (shown?.pictures) this.drawPane(shown, keep);
    else {
      this.pane = null;
      this.paneHost.replaceChildren();
      if (this.waits) this.note.textContent = "The picture is being prepared…";
      else if (shown?.answer?.error) this.note.textContent = shown.answer.error;
    }
    this.drawFindings(shown);
  }

  drawPane(shown, keep) {
    const same = keep && this.pane && this.shownName === shown.name;
    if (!this.pane) this.pane = new Pane(this.paneHost, { label: "Photos of the job" });
    this.shownName = shown.name;
    const [first] = shown.pictures;
    this.pane.show({ size: [first.width_px, first.height_px],
      pictures: shown.pictures.map((picture) => ({ ...picture })),
      marks: shown.answer?.marks || [], keep: same });
  }

  drawFindings(shown) {
    const found = shown?.answer?.findings || [];
    const order = { fault: 0, unsure: 1, ok: 2 };
    const rows = [...found].sort((a, b) => order[a.state] - order[b.state]).map((row) =>
      el("li", { class: `dw-box ${row.state} finding` }, row.at && this.pane
        ? el("button", { type: "button", class: "finding-go", onclick: () => {
          this.pane.zoomTo(row.at, row.radius_px || 100);
          this.pane.svg.scrollIntoView({ block: "nearest" });
        } }, stateWord(row.state, row.word), el("span", {}, row.text))
        : el("div", { class: "finding-text" }, stateWord(row.state, row.word),
          el("span", {}, row.text))));
    const headline = shown?.answer?.headline;
    this.findings.replaceChildren(el("div", { class: "dw-card dw-stack" },
      el("h2", {}, "What the tool saw"), headline ? el("p", {}, headline) : null,
      rows.length ? el("ul", { class: "dw-stack findings" }, rows)
        : el("p", { class: "dw-soft" }, "Nothing has been judged yet.")));
  }

  asked(opened) {
    if (!opened.asked.length) return null;
    return el("div", { class: "dw-card" }, el("h2", {}, "What was asked"),
      opened.asked.map((line) => el("p", {}, line)));
  }

  corrections(view) {
    const rows = Object.values(view.photos).flatMap((photo) => photo.corrections);
    if (!rows.length) return null;
    return el("div", { class: "dw-card" }, el("h2", {}, "Corrected by hand"),
      el("ul", {}, rows.map((row) => el("li", {}, row.reason ? `${row.words}: ${row.reason}`
        : row.words))));
  }

  cautions(view) {
    if (!view.cautions.length) return null;
    return el("details", { class: "dw-card review-cautions" }, el("summary", {}, "Cautions"),
      el("ul", { class: "dw-stack" }, view.cautions.map((row) => el("li", {},
        el("strong", {}, row.title), el("p", {}, `${row.text} (Source: ${row.source}.)`)))));
  }

  outcomes(said) {
    if (!said.outcomes.length) return null;
    return el("div", { class: "dw-card" }, el("h2", {}, "After power-on"),
      el("ul", {}, said.outcomes.map((row) => el("li", {},
        `${row.by}: ${row.worked ? "worked" : "did not work"}`,
        row.text.map((line) => el("p", {}, line))))));
  }
}

function box(who, state, word, lines) {
  return el("div", { class: `dw-card dw-box saying ${state}` },
    el("p", { class: "saying-who" }, who),
    el("p", { class: `dw-state ${state} saying-word` }, sign(state), el("span", {}, word)),
    lines.filter(Boolean).map((line) => el("p", {}, line)));
}

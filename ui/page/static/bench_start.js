// Without a job: the newest jobs, above the form that opens one.

import { button, el, stateWord } from "/own/dom.js";
import { dropDraft, keepDraft, readDraft } from "/own/drafts.js";
import { getJson, person } from "/own/net.js";
import { appeared, toast } from "/own/shell.js";

const JOB_NUMBER = /^\d{8}-[a-z2-7]{6}$/;
const LONGEST_MS = 5000;
const FIRST = 12;
const MORE = 48;
const DRAFT = "new job";
const FIELDS = ["by", "part", "patient", "donor", "asked"];
let waiting = null;
const STEPS = {
  open: "no photo yet", photos: "not judged yet", checked: "judged, not decided",
  decided: "decided", sealed: "sealed", damaged: "record damaged",
};

function row(job) {
  const about = [job.job, STEPS[job.step] || job.step, job.technician ? `by ${job.technician}` : ""];
  return el("li", {}, el("a", { class: "bench-job", href: `/?job=${encodeURIComponent(job.job)}` },
    el("strong", {}, job.part || job.job),
    el("span", {}, job.donor ? `${job.patient}, to ${job.donor}` : job.patient),
    el("span", { class: "dw-soft" }, about.filter(Boolean).join(" · ")),
    job.word ? stateWord(job.state, job.word) : null));
}

const field = (name) => document.querySelector(`#dw-new-${name} textarea, #dw-new-${name} input`);

// Gradio's own field takes the text by an event.
function fill(name, text) {
  const node = field(name);
  if (!node || node.value || !text) return;
  node.value = text;
  node.dispatchEvent(new Event("input", { bubbles: true }));
}

// The form remembers who works here, and what was typed until the job is opened.
function rememberForm() {
  const draft = readDraft(DRAFT);
  for (const name of FIELDS) fill(name, draft[name] || (name === "by" ? person() : ""));
  document.getElementById("dw-new-job").addEventListener("input", () => {
    keepDraft(DRAFT, Object.fromEntries(FIELDS.map((name) => [name, field(name)?.value || ""])));
  });
}

// As soon as Gradio has brought the number of the new job, its screen is opened; but
// not before Gradio's own stream of answers has ended, or it complains of being cut off.
function goToOpened(clicked) {
  const number = document.querySelector("#dw-opened textarea, #dw-opened input")?.value || "";
  if (!JOB_NUMBER.test(number)) return;
  const ended = performance.getEntriesByType("resource").some((entry) =>
    entry.name.includes("/queue/data") && entry.startTime >= clicked);
  if (!ended && performance.now() - clicked < LONGEST_MS) return;
  clearInterval(waiting);
  dropDraft(DRAFT);
  location.assign(`/?job=${encodeURIComponent(number)}`);
}

function followOpening() {
  document.getElementById("dw-open").addEventListener("click", () => {
    const name = field("by")?.value.trim();
    if (name) person(name);
    clearInterval(waiting);
    const clicked = performance.now();
    waiting = setInterval(() => goToOpened(clicked), 60);
  }, { capture: true });
}

// The newest jobs, and more of them where there are more.
class JobList {
  constructor() {
    this.list = el("ul", { class: "bench-jobs" });
    this.none = el("p", { class: "dw-soft", hidden: true }, "No job has been opened yet.");
    this.more = button("Show more jobs", { hidden: true }, () => this.goOn());
    this.root = el("div", { class: "dw-stack" }, el("h1", {}, "Jobs"), this.list, this.none, this.more);
  }

  async show(count) {
    try {
      const { jobs, more } = await getJson(`/api/bench/jobs?limit=${count}`);
      this.list.replaceChildren(...jobs.map(row));
      this.none.hidden = jobs.length > 0;
      this.more.hidden = !more;
    } catch (error) {
      toast(error.message);
    }
  }

  async goOn() {
    const shown = this.list.children.length;
    await this.show(shown + MORE);
    this.list.children[shown]?.querySelector("a").focus();
  }
}

export async function mountStart(host) {
  const jobs = new JobList();
  host.append(jobs.root, el("h2", { class: "bench-new-title" }, "Open a new job"));
  await jobs.show(FIRST);
  await appeared("dw-open");
  rememberForm();
  followOpening();
}

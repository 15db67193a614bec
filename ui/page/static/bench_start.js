// Without a job: the newest jobs, above the form that opens one.

import { el, stateWord } from "/own/dom.js";
import { getJson, person } from "/own/net.js";
import { appeared } from "/own/shell.js";

const JOB_NUMBER = /^\d{8}-[a-z2-7]{6}$/;
const LONGEST_MS = 5000;
let waiting = null;
const STATES = { "no-fault-seen": "ok", stop: "fault" };
const STEPS = {
  open: "no photo yet", photos: "not judged yet", checked: "judged, not decided",
  decided: "decided", sealed: "sealed", damaged: "record damaged",
};

function row(job) {
  const word = job.decision_word || (job.photo_count ? `${job.tool_word} (tool)` : "");
  const state = STATES[job.decision || job.tool_decision] || "unsure";
  return el("li", {}, el("a", { class: "bench-job", href: `/?job=${encodeURIComponent(job.job)}` },
    el("strong", {}, job.part || job.job),
    el("span", {}, job.patient),
    el("span", { class: "dw-soft" }, `${job.job} · ${STEPS[job.step] || job.step}`),
    word && job.step !== "open" ? stateWord(state, word) : null));
}

// The form remembers who works here; Gradio's own field takes the text by an event.
function fillPerson() {
  const field = document.querySelector("#dw-new-by textarea, #dw-new-by input");
  if (!field || field.value || !person()) return;
  field.value = person();
  field.dispatchEvent(new Event("input", { bubbles: true }));
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
  location.assign(`/?job=${encodeURIComponent(number)}`);
}

function followOpening() {
  document.getElementById("dw-open").addEventListener("click", () => {
    const field = document.querySelector("#dw-new-by textarea, #dw-new-by input");
    if (field?.value.trim()) person(field.value.trim());
    clearInterval(waiting);
    const clicked = performance.now();
    waiting = setInterval(() => goToOpened(clicked), 60);
  }, { capture: true });
}

export async function mountStart(host) {
  const list = el("ul", { class: "bench-jobs" });
  const none = el("p", { class: "dw-soft", hidden: true }, "No job has been opened yet.");
  host.append(el("div", { class: "dw-stack" }, el("h1", {}, "Jobs"), list, none),
    el("h2", { class: "bench-new-title" }, "Open a new job"));
  const { jobs } = await getJson("/api/bench/jobs");
  list.replaceChildren(...jobs.map(row));
  none.hidden = jobs.length > 0;
  await appeared("dw-open");
  fillPerson();
  followOpening();
}

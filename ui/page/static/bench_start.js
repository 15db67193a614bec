// Without a job: the newest jobs, above the form that opens one.

import { el, stateWord } from "/own/dom.js";
import { getJson, person } from "/own/net.js";
import { appeared } from "/own/shell.js";

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

// As soon as Gradio has brought the link to the new job, it is followed.
function followLink() {
  const column = document.getElementById("dw-new-job");
  const watch = new MutationObserver(() => {
    const link = document.querySelector("#dw-opened a[href^='/?job=']");
    if (!link) return;
    watch.disconnect();
    location.assign(link.getAttribute("href"));
  });
  watch.observe(column, { childList: true, subtree: true });
  document.getElementById("dw-open").addEventListener("click", () => {
    const field = document.querySelector("#dw-new-by textarea, #dw-new-by input");
    if (field?.value.trim()) person(field.value.trim());
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
  followLink();
}

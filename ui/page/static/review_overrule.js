// Asks what holds instead of a decision, and why.  What was typed for a job is kept in this
// tab until it is sent.

import { el, stateWord } from "/own/dom.js";
import { dropDraft, keepDraft, readDraft } from "/own/drafts.js";
import { ask, saidIn, sawField } from "/own/review_dialog.js";

const WHY = ["Seen in the photos", "Seen under magnification", "Measured at the bench",
  "The tool marked the wrong place", "Another reason"];
const draftName = (job) => `overrule.${job}`;

export const forgetOverrule = (job) => dropDraft(draftName(job));

// Resolves to the decision and its reason, or to null where nothing is to be sent.
export function askOverrule(view) {
  const draft = readDraft(draftName(view.job));
  const choices = choicesOf(view, draft);
  const why = el("select", { id: "overrule-why" },
    WHY.map((word) => el("option", { selected: word === draft.why }, word)));
  const { text, field } = sawField("overrule-text", "What you saw", draft.text);
  const warning = el("p", { class: "dw-box fault overrule-warning" },
    "You let a board go on that was stopped. Be sure before power is applied: a chip that is "
    + "turned can burn and take the board with it.");
  const chosen = () => choices.querySelector("input:checked")?.value;
  const parts = el("div", { class: "dw-stack" }, choices, warning,
    el("label", { class: "dw-field", for: "overrule-why" }, "How do you know?", why), field);
  const follow = () => {
    warning.hidden = chosen() !== "no-fault-seen" || view.tool_decision === "no-fault-seen";
  };
  follow();
  parts.addEventListener("input", () => {
    follow();
    keepDraft(draftName(view.job), { decision: chosen(), why: why.value, text: text.value });
  });
  return ask(`Overrule “${view.decision.word}”`, parts, { send: "Overrule",
    answer: () => {
      const said = saidIn(text);
      return said && { decision: chosen(), reason: `${why.value}: ${said}` };
    } });
}

function choicesOf(view, draft) {
  const choices = view.said.choices.map(({ decision, word, state }) =>
    el("label", { class: `overrule-choice dw-box ${state}` },
      el("input", { type: "radio", name: "overrule", value: decision, required: true,
        checked: decision === draft.decision }),
      stateWord(state, word)));
  return el("fieldset", {}, el("legend", {}, "What holds instead"), choices);
}

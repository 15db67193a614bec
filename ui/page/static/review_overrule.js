// Asks what holds instead of a decision, and why.

import { button, el, stateWord } from "/own/dom.js";

const WHY = ["Seen in the photos", "Seen under magnification", "Measured at the bench",
  "The tool marked the wrong place", "Another reason"];

export function askOverrule(view) {
  const { said, decision } = view;
  const choices = said.choices.map(({ decision: value, word, state }) =>
    el("label", { class: `overrule-choice dw-box ${state}` },
      el("input", { type: "radio", name: "overrule", value, required: true }),
      stateWord(state, word)));
  const why = el("select", { id: "overrule-why" }, WHY.map((word) => el("option", {}, word)));
  const text = el("textarea", { id: "overrule-text", rows: "3", maxlength: "5000", required: true });
  const warning = el("p", { class: "dw-box fault overrule-warning", hidden: true },
    "You let a board go on that was stopped. Be sure before power is applied: a chip that is "
    + "turned can burn and take the board with it.");
  const form = el("form", { method: "dialog", class: "dw-stack" },
    el("h2", { id: "overrule-title" }, `Overrule “${decision.word}”`),
    el("fieldset", {}, el("legend", {}, "What holds instead"), choices),
    warning,
    el("label", { class: "dw-field", for: "overrule-why" }, "How do you know?", why),
    el("label", { class: "dw-field", for: "overrule-text" }, "What you saw", text),
    el("div", { class: "dw-row" },
      el("button", { type: "submit", class: "dw-button main" }, "Overrule"),
      button("Cancel", {}, () => dialog.close("cancel"))));
  const dialog = el("dialog", { class: "dw dw-card overrule", "aria-labelledby": "overrule-title" },
    form);
  form.addEventListener("change", () => {
    const chosen = new FormData(form).get("overrule");
    warning.hidden = !(chosen === "no-fault-seen" && view.tool_decision !== "no-fault-seen");
  });
  document.body.append(dialog);
  return new Promise((resolve) => {
    let result = null;
    form.addEventListener("submit", (event) => {
      if (!text.value.trim()) {
        event.preventDefault();
        text.setCustomValidity("Say what you saw.");
        text.reportValidity();
        return;
      }
      result = { decision: new FormData(form).get("overrule"),
        reason: `${why.value}: ${text.value.trim()}` };
    });
    text.addEventListener("input", () => text.setCustomValidity(""));
    dialog.addEventListener("close", () => {
      dialog.remove();
      resolve(result);
    });
    dialog.showModal();
  });
}

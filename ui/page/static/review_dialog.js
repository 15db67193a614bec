// A question of the Review screen: one dialog at a time, closed when another job is opened.

import { button, el } from "/own/dom.js";

export function closeDialog() {
  document.querySelector("dialog.review-dialog")?.close();
}

// Resolves to what ``answer`` gives for the sent form, or to null where it was closed.
// ``answer`` gives null for a form that cannot be sent yet.
export function ask(title, parts, { send, answer }) {
  const form = el("form", { method: "dialog", class: "dw-stack" },
    el("h2", { id: "review-question" }, title), parts,
    el("div", { class: "dw-row" },
      el("button", { type: "submit", class: "dw-button main" }, send),
      button("Cancel", {}, closeDialog)));
  const dialog = el("dialog", { class: "dw dw-card review-dialog",
    "aria-labelledby": "review-question" }, form);
  document.body.append(dialog);
  return new Promise((resolve) => {
    let result = null;
    form.addEventListener("submit", (event) => {
      result = answer();
      if (result === null) event.preventDefault();
    });
    dialog.addEventListener("close", () => {
      dialog.remove();
      resolve(result);
    });
    dialog.showModal();
  });
}

export function sawField(id, label, typed = "") {
  const text = el("textarea", { id, rows: "3", maxlength: "5000", required: true }, typed);
  text.addEventListener("input", () => text.setCustomValidity(""));
  return { text, field: el("label", { class: "dw-field", for: id }, label, text) };
}

// Gives what was typed, or null and asks for it.
export function saidIn(text) {
  if (text.value.trim()) return text.value.trim();
  text.setCustomValidity("Say what you saw.");
  text.reportValidity();
  return null;
}

// An overruling is not taken back without a word: the reason stands beside it in the record.
export function askWhyUndo(review) {
  const { text, field } = sawField("undo-text", "What you saw");
  return ask(`Take back “${review.word}”`, [field], { send: "Take back",
    answer: () => saidIn(text) });
}

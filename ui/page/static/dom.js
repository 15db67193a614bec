// Makes elements.  Text only ever becomes a text node or an attribute, never markup.

const SVG = "http://www.w3.org/2000/svg";

function fill(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes || {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on") && typeof value === "function") {
      node.addEventListener(name.slice(2), value);
    } else {
      node.setAttribute(name, value === true ? "" : String(value));
    }
  }
  for (const child of children.flat()) {
    if (child === null || child === undefined || child === false) continue;
    node.append(child instanceof Node ? child : String(child));
  }
  return node;
}

export function el(name, attributes, ...children) {
  return fill(document.createElement(name), attributes, children);
}

export function svg(name, attributes, ...children) {
  return fill(document.createElementNS(SVG, name), attributes, children);
}

// The signs of the states: a tick in a disc, a bar in an octagon, a question mark in
// a diamond; a ring for what is not there yet.
const SIGNS = {
  ok: ["M12 2a10 10 0 1 0 0 20a10 10 0 1 0 0-20", "M7.5 12.5l3 3l6-7"],
  fault: ["M8 2h8l6 6v8l-6 6h-8l-6-6v-8z", "M7 12h10"],
  unsure: ["M12 1.5l10.5 10.5l-10.5 10.5l-10.5-10.5z",
    "M9.5 10a2.5 2.5 0 1 1 3.6 2.2c-.8.4-1.1.8-1.1 1.8M12 16.6v.6"],
  none: ["M12 3a9 9 0 1 0 0 18a9 9 0 1 0 0-18"],
};

export function sign(state) {
  const paths = SIGNS[state] || SIGNS.none;
  return svg("svg", { viewBox: "0 0 24 24", class: "dw-sign", "aria-hidden": "true" },
    paths.map((d) => svg("path", { d, "stroke-dasharray": SIGNS[state] ? null : "3 3" })));
}

export function stateWord(state, word) {
  return el("span", { class: `dw-state ${state}` }, sign(state), el("span", {}, word));
}

export function button(label, attributes, onclick) {
  const { class: more = "", ...rest } = attributes || {};
  return el("button", { type: "button", ...rest, class: `dw-button ${more}`, onclick }, label);
}

// Changes a text only if it is another one, so that screen readers say it once.
export function say(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

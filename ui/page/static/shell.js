// The frame around each screen: navigation, messages, and the screen's own script.

import { button, el } from "/own/dom.js";
import { jobOfPage } from "/own/net.js";

const SCREENS = [
  { name: "bench", title: "Bench", path: "/" },
  { name: "review", title: "Review", path: "/review" },
];

function shelf() {
  const made = document.querySelector(".dw-toasts");
  if (made) return made;
  document.body.append(el("div", { class: "dw dw-toasts" }));
  return document.querySelector(".dw-toasts");
}

// A message takes the place of the last one of its kind and of no other: what was not
// sent stays told when the page answers again.  An empty one ends its kind.
export function toast(message, kind = "told") {
  const old = document.querySelector(`.dw-toast[data-kind="${kind}"]`);
  if (message && old?.querySelector("p").textContent === message) return;
  old?.remove();
  if (!message) return;
  const box = el("div", { class: "dw-toast", role: "alert", "data-kind": kind }, el("p", {}, message));
  box.append(button("Close", { class: "small" }, () => box.remove()));
  shelf().append(box);
}

// A dropped file would take the place of the page.  The screen may take it instead.
function catchDrops() {
  const hasFiles = (event) => event.dataTransfer?.types.includes("Files");
  document.addEventListener("dragover", (event) => {
    if (hasFiles(event)) event.preventDefault();
  });
  document.addEventListener("drop", (event) => {
    if (!hasFiles(event)) return;
    event.preventDefault();
    const files = [...event.dataTransfer.files];
    const offer = new CustomEvent("dw-files", { detail: files, cancelable: true });
    if (!document.dispatchEvent(offer)) return;
    toast("Nothing was done with what you dropped. Open a job at the Bench and drop its photo there.");
  });
}

function header(current, present) {
  const job = jobOfPage();
  const links = SCREENS.filter((screen) => present.includes(screen.name)).map((screen) =>
    el("a", {
      href: job ? `${screen.path}?job=${encodeURIComponent(job)}` : screen.path,
      "aria-current": screen === current ? "page" : null,
    }, screen.title));
  return el("header", { class: "dw dw-top" },
    el("span", { class: "dw-name" }, "dotward"),
    el("nav", { "aria-label": "Screens" }, links));
}

// Waits for a part of the page: Gradio builds its own some time after the scripts.
function found(look) {
  return new Promise((resolve) => {
    if (look()) {
      resolve(look());
      return;
    }
    const watch = new MutationObserver(() => {
      if (!look()) return;
      watch.disconnect();
      resolve(look());
    });
    watch.observe(document.documentElement, { childList: true, subtree: true });
  });
}

export const appeared = (id) => found(() => document.getElementById(id));

// Gradio sets the theme when it has started; what stands here is drawn before.
function setTheme() {
  const asked = new URLSearchParams(location.search).get("__theme");
  const dark = matchMedia("(prefers-color-scheme: dark)").matches;
  document.body.classList.toggle("dark", asked === "dark" || (dark && asked !== "light"));
}

// The screens stand beside Gradio's own part, not in it: they are there at once, and
// stay while Gradio looks for a server that was restarted.
async function start() {
  const current = SCREENS.find((screen) => screen.path === location.pathname) || SCREENS[0];
  const present = [...document.querySelectorAll('link[rel="stylesheet"]')]
    .map((link) => (link.getAttribute("href") || "").match(/^\/own\/(\w+)\.css$/)?.[1]);
  const alone = current.name !== "bench" || jobOfPage() !== "";
  document.documentElement.lang = "en";
  document.documentElement.dataset.alone = alone ? "yes" : "no";
  const script = import(`/own/${current.name}.js`);
  await found(() => document.body);
  setTheme();
  catchDrops();
  const host = el(alone ? "main" : "section", { id: `dw-${current.name}-host`,
    "aria-label": alone ? null : "Jobs" });
  document.body.prepend(el("div", { class: "dw dw-page" }, header(current, present), host));
  const { mount } = await script;
  await mount(host);
  document.documentElement.dataset.ready = current.name;
}

start().catch((error) => toast(error.message));

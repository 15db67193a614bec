// The frame around each screen: navigation, messages, and the screen's own script.

import { button, el } from "/own/dom.js";
import { jobOfPage } from "/own/net.js";

const SCREENS = [
  { name: "bench", title: "Bench", path: "/" },
  { name: "review", title: "Review", path: "/review" },
];

export function toast(message) {
  document.querySelector(".dw-toast")?.remove();
  if (!message) return;
  const box = el("div", { class: "dw dw-toast", role: "alert" }, el("p", {}, message));
  box.append(button("Close", { class: "small" }, () => box.remove()));
  document.body.append(box);
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

// Gradio builds its columns some time after the scripts are there.
function appeared(id) {
  return new Promise((resolve) => {
    const look = () => document.getElementById(id);
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

async function start() {
  const current = SCREENS.find((screen) => screen.path === location.pathname) || SCREENS[0];
  const present = [...document.querySelectorAll('link[rel="stylesheet"]')]
    .map((link) => (link.getAttribute("href") || "").match(/^\/own\/(\w+)\.css$/)?.[1]);
  const script = import(`/own/${current.name}.js`);
  const column = await appeared(`dw-${current.name}`);
  document.documentElement.lang = "en";
  const host = el("div", { class: "dw", id: `dw-${current.name}-host` });
  column.prepend(header(current, present), host);
  const { mount } = await script;
  await mount(host);
  document.documentElement.dataset.ready = current.name;
}

start().catch((error) => toast(error.message));

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
  const host = el(alone ? "main" : "section", { id: `dw-${current.name}-host`,
    "aria-label": alone ? null : "Jobs" });
  document.body.prepend(el("div", { class: "dw dw-page" }, header(current, present), host));
  const { mount } = await script;
  await mount(host);
  document.documentElement.dataset.ready = current.name;
}

start().catch((error) => toast(error.message));

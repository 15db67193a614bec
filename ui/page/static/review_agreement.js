// How far tool, technician and reviewer agree: tables and sentences.

import { el } from "/own/dom.js";
import { getJson } from "/own/net.js";

export class Agreement {
  constructor(filtersNow) {
    this.filtersNow = filtersNow;
    this.inside = el("div", { class: "dw-stack agreement-inside" });
    this.root = el("details", { class: "agreement dw-card" },
      el("summary", {}, "Agreement"), this.inside);
    this.root.addEventListener("toggle", () => this.show(this.filtersNow()));
  }

  // Figures are over all jobs that the other filters leave, reviewed or not.
  async show(filters) {
    if (!this.root.open) return;
    const wanted = Object.entries({ ...filters, show: "all" }).filter(([, value]) => value);
    this.asked = (this.asked || 0) + 1;
    const mine = this.asked;
    let found;
    try {
      found = await getJson(`/api/review/agreement?${new URLSearchParams(wanted)}`);
      if (mine !== this.asked) return;
    } catch (error) {
      this.inside.replaceChildren(el("p", { role: "alert" }, error.message));
      return;
    }
    this.inside.replaceChildren(
      el("p", { class: "dw-soft" }, "Over all jobs that the filters leave, reviewed or not."),
      ...found.pairs.map((pair) => this.pair(pair, found.heads)),
      found.outcomes.length ? el("h2", {}, "After power-on") : "",
      ...found.outcomes.map((line) => el("p", {}, line)),
      el("p", {}, found.note),
      el("ul", { class: "agreement-sources" },
        found.sources.map((source) => el("li", {}, source))));
  }

  pair(pair, heads) {
    const title = `${pair.first} (rows) and ${pair.second} (columns)`;
    const lines = pair.lines.map((line) => el("p", {}, line));
    if (!pair.job_count) return el("div", {}, el("h2", {}, title), lines);
    const head = el("tr", {}, el("td", {}), heads.map((word) => el("th", { scope: "col" }, word)));
    const rows = pair.counts.map((counts, row) => el("tr", {},
      el("th", { scope: "row" }, heads[row]),
      counts.map((count, column) => el("td", { class: row === column ? "same" : null },
        row === column ? el("strong", {}, count) : count))));
    return el("div", {}, el("h2", {}, title),
      el("div", { class: "agreement-table", tabindex: "0", role: "region", "aria-label": title },
        el("table", {}, el("thead", {}, head), el("tbody", {}, rows))), lines);
  }
}

// The queue: filters with counts, the list, what comes next, the exports.

import { button, el, say, stateWord } from "/own/dom.js";
import { getJson, Refused } from "/own/net.js";

const SHOWS = { open: "Open", reviewed: "Reviewed", undecided: "Not decided", all: "All" };
const KINDS = { any: "Any", stop: "Stop", "by-hand": "By hand", corrected: "Corrected",
  differs: "Differs" };
const TEXTS = ["technician", "part", "board", "since", "until"];
const WAIT_MS = 250;

export const isLost = (error) => error instanceof Refused && error.status === 0;

function filtersOfPage() {
  const query = new URLSearchParams(location.search);
  const filters = { show: query.get("show") || "open", kind: query.get("kind") || "any" };
  if (!SHOWS[filters.show]) filters.show = "open";
  if (!KINDS[filters.kind]) filters.kind = "any";
  for (const name of TEXTS) filters[name] = query.get(name) || "";
  return filters;
}

export class Queue {
  constructor(onOpen, onChange) {
    this.onOpen = onOpen;
    this.onChange = onChange;
    this.rows = [];
    this.loads = 0;
    this.count = 0;
    this.failed = false; // the page gave no answer: it is asked again
    this.filters = filtersOfPage();
    this.list = el("ul", { class: "queue-list" });
    this.more = button("More", { class: "small", hidden: true }, () => this.loadMore());
    this.summary = el("summary", { class: "queue-summary" }, "Queue");
    this.shows = this.choices("show", SHOWS, "Review");
    this.kinds = this.choices("kind", KINDS, "Kind");
    this.fields = Object.fromEntries(TEXTS.map((name) => [name, this.field(name)]));
    this.names = { technician: el("datalist", { id: "queue-technicians" }),
      part: el("datalist", { id: "queue-parts" }), board: el("datalist", { id: "queue-boards" }) };
    this.exports = el("p", { class: "queue-exports" });
    this.details = el("details", { class: "queue dw-card", open: true }, this.summary,
      el("div", { class: "dw-stack queue-inside" },
        this.shows.root, this.kinds.root,
        el("div", { class: "queue-fields" },
          this.labelled("Technician", this.fields.technician),
          this.labelled("Part", this.fields.part),
          this.labelled("Board", this.fields.board, "queue-wide"),
          this.labelled("Opened from", this.fields.since),
          this.labelled("until", this.fields.until)),
        ...Object.values(this.names), this.list, this.more, this.exports));
    this.root = el("nav", { "aria-label": "Queue" }, this.details);
  }

  labelled(word, input, more = "") {
    return el("label", { class: `dw-field ${more}` }, word, input);
  }

  field(name) {
    const isDay = name === "since" || name === "until";
    const input = el("input", { type: isDay ? "date" : "search", maxlength: "500",
      list: isDay ? null : `queue-${name}s`, autocomplete: "off" });
    input.value = this.filters[name];
    input.addEventListener("input", () => {
      clearTimeout(this.waiting);
      this.waiting = setTimeout(() => this.choose(name, input.value), WAIT_MS);
    });
    return input;
  }

  choices(name, words, title) {
    const buttons = Object.entries(words).map(([value, word]) => {
      const count = el("span", { class: "queue-count" });
      const item = button("", { class: "small", "aria-pressed": "false" },
        () => this.choose(name, value));
      item.append(el("span", {}, word), count);
      return { value, item, count };
    });
    return { buttons, root: el("div", { class: "queue-choices", role: "group",
      "aria-label": title }, buttons.map(({ item }) => item)) };
  }

  get query() {
    const wanted = Object.entries(this.filters).filter(([, value]) => value);
    return new URLSearchParams(wanted);
  }

  async choose(name, value) {
    this.filters[name] = value;
    this.link(this.job);
    await this.load();
    this.onChange(this.filters);
  }

  // Keeps the address in step, so that a reload shows the same.
  link(job) {
    const query = this.query;
    if (job) query.set("job", job);
    history.replaceState(null, "", `${location.pathname}?${query}`);
    for (const link of document.querySelectorAll(".dw-top nav a")) {
      const { pathname } = new URL(link.href);
      const own = pathname === location.pathname;
      link.href = own ? `${pathname}?${query}` : `${pathname}${job ? `?job=${encodeURIComponent(job)}` : ""}`;
    }
  }

  async ask(after) {
    const query = this.query;
    for (const [name, value] of Object.entries(after || {})) query.set(name, value);
    return getJson(`/api/review/queue?${query}`);
  }

  async load() {
    this.loads += 1;
    const mine = this.loads;
    let found;
    try {
      found = await this.ask();
      if (mine !== this.loads) return; // other filters were set meanwhile
      this.failed = false;
    } catch (error) {
      if (mine !== this.loads) return;
      this.failed = isLost(error);
      this.rows = [];
      this.list.replaceChildren(el("li", { class: "queue-none", role: "alert" }, error.message));
      return;
    }
    this.rows = found.rows;
    this.drawCounts(found);
    this.drawRows();
  }

  async loadMore() {
    const last = this.rows.at(-1);
    if (!last) return false;
    const mine = this.loads;
    let found;
    try {
      found = await this.ask(last.after);
    } catch (error) {
      this.list.append(el("li", { class: "queue-none", role: "alert" }, error.message));
      return false;
    }
    if (mine !== this.loads) return false;
    const known = new Set(this.rows.map((row) => row.job));
    const fresh = found.rows.filter((row) => !known.has(row.job));
    this.rows.push(...fresh);
    this.drawCounts(found);
    this.drawRows();
    return fresh.length > 0;
  }

  drawCounts(found) {
    this.count = found.count;
    for (const [name, set] of [["show", this.shows], ["kind", this.kinds]]) {
      for (const { value, item, count } of set.buttons) {
        item.setAttribute("aria-pressed", String(this.filters[name] === value));
        count.textContent = String(found[`by_${name}`][value]);
      }
    }
    for (const [name, list] of Object.entries(this.names)) {
      list.replaceChildren(...found[`${name}s`].map((value) => el("option", { value })));
    }
    say(this.summary, `Queue: ${found.count} ${SHOWS[this.filters.show].toLowerCase()}`);
    const files = [["csv", "CSV"], ["jsonl", "JSON lines"]].map(([form, word]) =>
      el("a", { class: "dw-button small", href: `/api/review/queue.${form}?${this.query}`,
        download: `dotward-queue.${form}` }, word));
    this.exports.replaceChildren(el("span", { class: "dw-soft" }, "Save this list as "), ...files);
  }

  drawRows() {
    const rows = this.rows.map((row) => el("li", {}, this.row(row)));
    if (!rows.length) rows.push(el("li", { class: "queue-none" }, "No job fits these filters."));
    this.list.replaceChildren(...rows);
    this.more.hidden = this.rows.length >= this.count;
    if (this.job) this.mark(this.job);
  }

  row(row) {
    const notes = [row.corrected && "corrected by hand",
      row.differs && !row.caution && `the tool said ${row.tool_word.toLowerCase()}`,
      row.review === "overruled" ? `overruled: ${row.technician} said `
        + `${row.technician_word.toLowerCase()}` : row.review].filter(Boolean);
    const item = el("button", { type: "button", "data-job": row.job,
      class: `queue-row ${row.caution ? `dw-box ${row.caution.state}` : ""}`,
      onclick: () => this.onOpen(row) },
      this.lead(row),
      el("span", { class: "queue-what" }, row.part || row.job),
      row.patient ? el("span", { class: "queue-board" }, `on ${row.patient}`) : null,
      el("span", { class: "queue-small" },
        row.damaged ? "" : `${row.day} · ${row.technician} · `,
        el("span", { class: "queue-job" }, row.job)),
      notes.length ? el("span", { class: "queue-notes" }, notes.join("; ")) : null);
    return item;
  }

  // What was let go against the tool never leads with a tick.
  lead(row) {
    if (row.damaged) return stateWord("fault", "Damaged record");
    if (row.caution) {
      return [stateWord(row.caution.state, row.caution.word),
        el("span", { class: "queue-holds" }, `decided: ${row.word.toLowerCase()}`)];
    }
    return stateWord(row.state, row.decided ? row.word : `${row.word} (the tool; not decided)`);
  }

  mark(job) {
    this.job = job;
    for (const item of this.list.querySelectorAll(".queue-row")) {
      const here = item.dataset.job === job;
      if (here) item.setAttribute("aria-current", "true");
      else item.removeAttribute("aria-current");
    }
  }

  // On a phone the queue makes room for the job.
  fold() {
    if (matchMedia("(max-width: 56rem)").matches) this.details.open = false;
  }

  // The list stays as it was loaded, so that Back goes back to what was just judged.
  async step(job, by) {
    const at = this.rows.findIndex((row) => row.job === job);
    if (at < 0) return this.rows[0] || null;
    if (!this.rows[at + by] && by > 0 && this.rows.length < this.count) await this.loadMore();
    return this.rows[at + by] || null;
  }

  // Puts in a row as the record has it after a verdict, and counts anew.
  async recount(row) {
    const at = this.rows.findIndex((item) => item.job === row.job);
    if (at >= 0) this.rows[at] = row;
    this.drawRows();
    const mine = this.loads;
    try {
      const found = await this.ask();
      if (mine !== this.loads) return;
      this.drawCounts(found);
      this.drawRows();
    } catch {
      // The counts stay as they were; that the page does not answer is said elsewhere.
    }
  }
}

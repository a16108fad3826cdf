/* Sections below the front: sentences, charts and tables that the content brings. */

const LONGEST_SENTENCE = 1200;
const LONGEST_CELL = 420;
/** A table with more columns stands on a phone as one small list for each row. */
const WIDE_TABLE = 4;
const CHARTS = { curve: CurveChart, bars: BarChart, strips: StripChart, stairs: StairsChart };

let unitAfterNumber = null;

/** Blank between a number and a unit that the page knows. */
function unitBlank() {
  if (unitAfterNumber) return unitAfterNumber;
  const units = Object.values(content.kinds).flatMap(({ us, metric }) => [us.unit, metric.unit]).filter((unit) => unit);
  const known = [...new Set([...units, "h"])].map((unit) => unit.replace(/[.*+?^${}()|[\]\\/]/g, "\\$&"));
  unitAfterNumber = new RegExp(`(\\d) (?=(?:${known.join("|")})(?!\\w))`, "gu");
  return unitAfterNumber;
}

/** A sentence as the page writes numbers: unit on the line of its number, thousands as elsewhere. */
function typeset(text, system) {
  const thousands = (words) => words.replace(/(\d),(?=\d{3}(?!\d))/g, `$1${THOUSANDS[system]}`);
  return thousands(brief(text, LONGEST_SENTENCE)).replace(unitBlank(), "$1\u00a0");
}

/** Words in which no line breaks at the hyphens of an option such as --set. */
function unbroken(text) {
  return text.split(/(--[a-z][a-z-]*)/).map((words, nth) => (nth % 2 ? make("span", { class: "option" }, words) : words));
}

/** Words, words in both unit systems, or a figure after its kind of unit. */
function piece(part) {
  if (Array.isArray(part)) return quantity(part[1], part[0]);
  const said = typeof part === "string" ? { us: part, metric: part } : part;
  const words = { us: typeset(said.us, "us"), metric: typeset(said.metric, "metric") };
  return make("bdi", { class: "both", "data-us": words.us, "data-metric": words.metric }, unbroken(words[state.system]));
}

function refreshBoth() {
  for (const element of document.querySelectorAll(".both")) {
    element.replaceChildren(...unbroken(element.dataset[state.system]));
  }
}

/** Words of a cell, cut where they are endless; words in both unit systems follow the switch. */
function cellWords(part, most) {
  return typeof part === "string" ? make("bdi", { class: "foreign" }, brief(part, most)) : piece(part);
}

function tableCell(part, [words, kind]) {
  const attributes = { role: "cell", "data-head": words };
  if (Array.isArray(part)) return make("td", attributes, quantity(part[1], part[0]));
  const long = typeof part === "string" && part.length > 60 ? " long" : "";
  const empty = part === "" || part.us === "" ? " empty" : "";
  return make("td", { ...attributes, class: `${kind ? "" : `text${long}`}${empty}` }, cellWords(part, LONGEST_CELL));
}

/** Button that shows the rows of a table that are folded away; null where all are in sight. */
function unfoldButton(title, folded, count) {
  if (folded.length === 0) return null;
  const words = (open) => (open ? `Show the first ${count - folded.length} only` : `Show all ${count}`);
  const button = make("button", { type: "button", class: "unfold", "aria-expanded": "false", "aria-label": `${words(false)}: ${title}` }, words(false));
  button.addEventListener("click", () => {
    const open = button.getAttribute("aria-expanded") === "false";
    for (const row of folded) row.hidden = !open;
    button.setAttribute("aria-expanded", String(open));
    button.setAttribute("aria-label", `${words(open)}: ${title}`);
    button.textContent = words(open);
  });
  return button;
}

function sectionTable({ title, head, rows, designs, shown }) {
  const named = rows.some(([first]) => typeof first !== "string" || first.length > 12);
  const chooses = designs.some((design) => design !== null);
  const wide = head.length > WIDE_TABLE ? " wide" : "";
  const lines = rows.map(([first, ...rest], at) => {
    const button = () => make("button", { type: "button", class: "link", onclick: () => select(designs[at]) }, brief(first, 40));
    const name = chooses && designs[at] !== null ? button() : cellWords(first, 160);
    return make(
      "tr",
      { role: "row", hidden: at >= shown },
      make("th", { scope: "row", role: "rowheader", class: "text" }, name),
      rest.map((part, nth) => tableCell(part, head[nth + 1])),
    );
  });
  return make(
    "div",
    { class: "section-table" },
    make("h3", {}, title),
    make(
      "div",
      { class: "scroller", tabindex: "0", role: "region", "aria-label": title },
      make(
        "table",
        { class: `${named ? "ledger named" : "ledger"}${wide}`, role: "table" },
        make(
          "thead",
          { role: "rowgroup" },
          make("tr", { role: "row" }, head.map(([words, kind]) => make("th", { scope: "col", role: "columnheader", class: kind ? "" : "text" }, words))),
        ),
        make("tbody", { role: "rowgroup" }, lines),
      ),
    ),
    unfoldButton(title, lines.slice(shown), lines.length),
  );
}

function startSections() {
  const root = byId("sections");
  const charts = [];
  if (content.asked) {
    root.append(make("p", { class: "message" }, "What follows is about the machine with the parts put on for this question."));
  }
  /** Sentence, notes, charts and tables of a section or a group. */
  const body = ({ sentence, charts: specs, notes, tables }) => {
    const drawn = specs.map((spec) => new CHARTS[spec.type](spec));
    charts.push(...drawn);
    return [
      sentence.length ? make("p", { class: "sentence lead-in" }, sentence.map(piece)) : null,
      notes.length ? make("ul", { class: "notes-list" }, notes.map((note) => make("li", {}, note.map(piece)))) : null,
      drawn.length ? make("div", { class: drawn.length > 1 ? "charts" : "charts one" }, drawn.map(({ figure }) => figure)) : null,
      tables.map(sectionTable),
    ];
  };
  for (const section of content.sections) {
    const { key, title, groups } = section;
    root.append(
      make(
        "section",
        { class: "section", id: `section-${key}`, "aria-labelledby": `title-${key}` },
        make("h2", { id: `title-${key}`, tabindex: "-1" }, title),
        body(section),
        groups.map((group) => make("div", { class: "group" }, make("h3", { class: "group-title" }, brief(group.title, 90)), body(group))),
      ),
    );
  }
  on("units", () => {
    refreshBoth();
    charts.forEach((chart) => chart.refresh());
  });
}

/** Links to the parts of the page; they leave the address to the state of the views. */
function startContents() {
  const nav = byId("contents");
  const places = [
    ["front", isFront() ? "The front" : "The nearest machines"],
    ["sheet", "Sheet"],
    ["compare", "Side by side"],
    ["chosen", "Circuit and hands"],
    ["bench", "What if"],
    ...content.sections.map(({ key, title }) => [`section-${key}`, title]),
    ["colophon", "Where this comes from"],
  ];
  const go = (event, id) => {
    event.preventDefault();
    const target = byId(id);
    target.scrollIntoView();
    const heading = target.querySelector("h2") ?? target;
    heading.tabIndex = -1;
    heading.focus({ preventScroll: true });
  };
  nav.append(
    make("ul", {}, places.map(([id, title]) => make("li", {}, make("a", { href: `#${id}`, onclick: (event) => go(event, id) }, title)))),
  );
  nav.hidden = false;
}

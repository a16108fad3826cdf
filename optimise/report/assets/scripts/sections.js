/* Sections below the front: sentences, charts and tables that the content brings. */

const LONGEST_SENTENCE = 1200;
const CHARTS = { curve: CurveChart, bars: BarChart, strips: StripChart };

/** Words, words in both unit systems, or a figure after its kind of unit. */
function piece(part) {
  if (typeof part === "string") return make("bdi", {}, brief(part, LONGEST_SENTENCE));
  if (Array.isArray(part)) return quantity(part[1], part[0]);
  return make("bdi", { class: "both", "data-us": brief(part.us, LONGEST_SENTENCE), "data-metric": brief(part.metric, LONGEST_SENTENCE) }, brief(part[state.system], LONGEST_SENTENCE));
}

function refreshBoth() {
  for (const element of document.querySelectorAll(".both")) {
    element.textContent = element.dataset[state.system];
  }
}

function tableCell(part, kind) {
  if (Array.isArray(part)) return make("td", {}, quantity(part[1], part[0]));
  return make("td", { class: kind ? "" : "text" }, foreign(brief(part, 160)));
}

function sectionTable({ title, head, rows, designs }) {
  const chooses = designs.some((design) => design !== null);
  return make(
    "div",
    { class: "section-table" },
    make("h3", {}, title),
    make(
      "div",
      { class: "scroller", tabindex: "0", role: "region", "aria-label": title },
      make(
        "table",
        { class: "ledger" },
        make("thead", {}, make("tr", {}, head.map(([words, kind]) => make("th", { scope: "col", class: kind ? "" : "text" }, words)))),
        make(
          "tbody",
          {},
          rows.map(([first, ...rest], at) => {
            const button = () => make("button", { type: "button", class: "link", onclick: () => select(designs[at]) }, brief(first, 40));
            const name = chooses && designs[at] !== null ? button() : foreign(brief(first, 160));
            return make(
              "tr",
              {},
              make("th", { scope: "row", class: "text" }, name),
              rest.map((part, nth) => tableCell(part, head[nth + 1][1])),
            );
          }),
        ),
      ),
    ),
  );
}

function startSections() {
  const root = byId("sections");
  const charts = [];
  if (content.asked) {
    root.append(make("p", { class: "message" }, "What follows is about the machine with the parts put on for this question."));
  }
  for (const { key, title, sentence, charts: specs, notes, tables } of content.sections) {
    const drawn = specs.map((spec) => new CHARTS[spec.type](spec));
    charts.push(...drawn);
    root.append(
      make(
        "section",
        { class: "section", id: `section-${key}`, "aria-labelledby": `title-${key}` },
        make("h2", { id: `title-${key}`, tabindex: "-1" }, title),
        sentence.length ? make("p", { class: "sentence lead-in" }, sentence.map(piece)) : null,
        notes.length ? make("ul", { class: "notes-list" }, notes.map((note) => make("li", {}, note.map(piece)))) : null,
        make("div", { class: drawn.length > 1 ? "charts" : "charts one" }, drawn.map(({ figure }) => figure)),
        tables.map(sectionTable),
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

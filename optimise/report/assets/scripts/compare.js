/* Up to four machines beside the one owned. */

const COMPARED = [
  ["Cycle, no log", TIME, "time", -1],
  ["Out", "cycle.extend_s", "time", -1],
  ["Back", "cycle.retract_s", "time", -1],
  ["Reversals", "cycle.reversal_s", "time", -1],
  ["Cycle, average log", "cycle.loaded_total_s", "time", -1],
  ["Force at relief", FORCE, "force", 1],
  ["Pieces added per hour", "work.pieces_per_h", "count", 1],
  ["Fuel per piece", "work.fuel_per_piece_kg", "mass", -1],
  ["Oil, steady", "oil.steady_degC", "temperature", -1],
  ["Buckling factor", "strength.buckling_factor", "count", 1],
  ["Least margin", LEAST_MARGIN, "share", 1],
  ["Outlay", OUTLAY, "money", -1],
];

function compareHead({ machine, letter }) {
  const off = () => togglePin(machine.index);
  const chosen = machine.index === state.selected;
  return make(
    "th",
    { scope: "col", class: chosen ? "chosen" : "" },
    letter ? make("b", { class: `pin-mark pin-${letter}` }, letter) : make("span", { class: "sign owned" }, "◆"),
    " ",
    make("button", { type: "button", class: "link", onclick: () => select(machine.index) }, machine.isOwned ? "yours" : machine.title),
    " ",
    letter ? make("button", { type: "button", class: "quiet", onclick: off, "aria-label": `Take off ${machine.title}` }, "×") : null,
  );
}

/** Best value of a row as it is written, so that what looks alike is marked alike. */
function bestOf(values, kind, better) {
  const known = values.filter((value) => value !== null);
  if (new Set(known.map((value) => written(value, kind))).size < 2) return null;
  return written(better > 0 ? Math.max(...known) : Math.min(...known), kind);
}

function writeCompare() {
  const root = byId("compare");
  const pins = state.pins.map((pin) => ({ machine: new Machine(pin.index), letter: pin.letter }));
  if (pins.length === 0) {
    root.replaceChildren(
      make("h2", { id: "compare-title" }, "Side by side"),
      make("p", { class: "sentence" }, "Press “Compare” on a sheet to set up to four machines next to yours."),
    );
    return;
  }
  const own = { machine: new Machine(OWNED), letter: null };
  const columns = pins.some(({ machine }) => machine.isOwned) ? pins : [own, ...pins];
  const figures = COMPARED.map(([title, key, kind, better]) => {
    const values = columns.map(({ machine }) => machine.result(key));
    const best = bestOf(values, kind, better);
    const cells = values.map((value) =>
      make("td", { class: written(value, kind) === best ? "best" : "" }, quantity(value, kind)),
    );
    return make("tr", {}, make("th", { scope: "row" }, title), cells);
  });
  const limits = make(
    "tr",
    {},
    make("th", { scope: "row" }, "Closest limit"),
    columns.map(({ machine }) => make("td", { class: "text" }, make("bdi", {}, brief(machine.binding.title, 60)))),
  );
  const parts = content.categories.map((category, number) => {
    const list = columns.map(({ machine }) => machine.parts()[number]);
    const alike = new Set(list.map((part) => part.name)).size === 1;
    const cells = list.map((part) => make("td", { class: part.changed ? "text new" : "text" }, foreign(part.name)));
    return make("tr", { class: alike ? "alike" : "" }, make("th", { scope: "row" }, category.title), cells);
  });
  root.replaceChildren(
    make("h2", { id: "compare-title" }, "Side by side"),
    make("p", { class: "sentence" }, "The best figure of each row is set bold; parts that are not on your machine too."),
    swipeHint("Swipe the table sideways to see all machines."),
    make(
      "div",
      { class: "scroller", tabindex: "0", role: "region", "aria-label": "Comparison" },
      make(
        "table",
        { class: "ledger side" },
        make("thead", {}, make("tr", {}, make("td", {}), columns.map(compareHead))),
        make("tbody", {}, figures, limits, parts),
      ),
    ),
  );
}

function startCompare() {
  writeCompare();
  for (const what of ["pins", "units", "selection"]) on(what, writeCompare);
}

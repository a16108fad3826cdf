/* The sheet of one machine: figures, seconds, parts, limits. */

const KEY_FIGURES = [
  ["cycle.extend_s", "Out", "time"],
  ["cycle.retract_s", "Back", "time"],
  ["cycle.reversal_s", "Reversals", "time"],
  [TIME, "Cycle, no log", "time"],
  ["cycle.loaded_total_s", "Cycle, average log", "time"],
  [FORCE, "Force at relief", "force"],
  ["work.pieces_per_h", "Pieces added per hour", "count"],
  ["oil.steady_degC", "Oil, steady", "temperature"],
  [OUTLAY, "Outlay", "money"],
];

const difference = (one, other) => (one === null || other === null ? null : one - other);

function figuresTable(machine, mine = new Machine(OWNED)) {
  const rows = KEY_FIGURES.map(([key, title, kind]) => {
    const value = machine.result(key);
    const change = machine.isOwned ? null : changeOf(difference(value, mine.result(key)), kind);
    return make(
      "tr",
      { "data-result": key, class: key === TIME ? "sum" : "" },
      make("th", { scope: "row" }, title),
      make("td", {}, quantity(value, kind)),
      machine.isOwned ? null : make("td", { class: "change" }, change),
    );
  });
  const head = ["Figure", "This machine", machine.isOwned ? null : "Against yours"].filter((text) => text !== null);
  return make(
    "table",
    { class: "ledger figures" },
    machine.isOwned ? null : make("thead", {}, make("tr", {}, head.map((text) => make("th", { scope: "col" }, text)))),
    make("tbody", {}, rows),
  );
}

/** What is to be said in words about a machine, with its numbers in the gaps of the sentences. */
function findings(machine) {
  const kindOf = new Map(content.results.map(({ key, unit }) => [key, unit]));
  return content.findings
    .filter(({ result, below }) => machine.result(result) < below)
    .map(({ template }) => {
      const words = template.split(/\{([\w.]+)\}/).map((piece, place) =>
        place % 2 ? quantity(machine.result(piece), kindOf.get(piece)) : piece,
      );
      return make("p", { class: "why" }, ...words);
    });
}

/** Seconds of one average piece, in the order in which they pass. */
function secondsOf(machine) {
  const [back, reversals, loaded, piece] = [
    "cycle.retract_s", "cycle.reversal_s", "cycle.loaded_total_s", "work.piece_period_s",
  ].map((key) => machine.result(key) ?? NaN);
  return [
    { title: "Out, through wood", seconds: loaded - back - reversals },
    { title: "Reversals", seconds: reversals },
    { title: "Back", seconds: back },
    { title: "Hands alone", seconds: piece - loaded },
  ];
}

function secondsBlock(machine, label = "Where the seconds go") {
  const mine = secondsOf(new Machine(OWNED));
  const parts = secondsOf(machine);
  const total = (list) => list.reduce((sum, { seconds }) => sum + seconds, 0);
  const longest = Math.max(total(mine), total(parts));
  if (!Number.isFinite(longest) || longest <= 0) return null;
  const bar = (kind, from, seconds) =>
    make("i", {
      class: kind,
      style: { left: `${(100 * from) / longest}%`, width: `${Math.max((100 * seconds) / longest, 0.4)}%` },
    });
  const row = (title, own, here, from, fromOwn, classes = "") =>
    make(
      "div",
      { class: `seconds-row ${classes}` },
      make("span", { class: "seconds-title" }, title),
      make(
        "span",
        { class: "seconds-bar", "aria-hidden": true },
        bar("here", from, here),
        machine.isOwned ? null : bar("before", fromOwn, own),
      ),
      make("span", { class: "seconds-value" }, quantity(here, "time")),
      machine.isOwned ? null : make("span", { class: "seconds-change" }, changeOf(here - own, "time")),
    );
  let from = 0;
  let fromOwn = 0;
  const rows = parts.map(({ title, seconds }, place) => {
    const line = row(title, mine[place].seconds, seconds, from, fromOwn);
    from += seconds;
    fromOwn += mine[place].seconds;
    return line;
  });
  rows.push(row("A piece", total(mine), total(parts), 0, 0, "sum"));
  const hands = parts[3].seconds;
  const sentence =
    hands >= Math.max(...parts.slice(0, 3).map(({ seconds }) => seconds))
      ? "Hands take longer than any part of the stroke: a quicker ram gains little from here."
      : "Each bar starts where the one above it ends.";
  const key = machine.isOwned
    ? null
    : make("p", { class: "legend" }, make("i", { class: "key here" }), " this machine ", make("i", { class: "key before" }), " yours");
  return make(
    "section",
    { class: machine.isOwned ? "seconds alone" : "seconds", "aria-label": label },
    make("h3", {}, "Where the seconds go"),
    make("p", { class: "sentence" }, `One average piece of the wood mix, in seconds. ${sentence}`),
    key,
    rows,
  );
}

/** From the seconds of the machine owned to those of another, part by part. */
function waterfallBlock(machine) {
  if (machine.isOwned) return null;
  const mine = secondsOf(new Machine(OWNED));
  const here = secondsOf(machine);
  const total = (list) => list.reduce((sum, { seconds }) => sum + seconds, 0);
  const [before, after] = [total(mine), total(here)];
  if (!Number.isFinite(before) || !Number.isFinite(after)) return null;
  let level = before;
  const changes = here.map(({ title, seconds }, place) => {
    const from = level;
    level += seconds - mine[place].seconds;
    return { title, from, to: level };
  });
  const longest = Math.max(before, ...changes.map(({ to }) => to));
  const share = (seconds) => `${(100 * seconds) / longest}%`;
  const row = (title, low, high, value, style, classes = "") =>
    make(
      "div",
      { class: `seconds-row fall ${classes}` },
      make("span", { class: "seconds-title" }, title),
      make("span", { class: "seconds-bar", "aria-hidden": true }, make("i", { class: style, style: { left: share(low), width: `max(2px, ${share(high - low)})` } })),
      make("span", { class: "seconds-value" }, value),
    );
  return make(
    "section",
    { class: "seconds waterfall", "aria-label": "From yours to this machine" },
    make("h3", {}, "From yours to this one"),
    make("p", { class: "sentence" }, "Seconds of one piece that each part takes away (plain) or adds (hatched)."),
    row("Yours", 0, before, quantity(before, "time"), "whole", "sum"),
    changes.map(({ title, from, to }) =>
      row(title, Math.min(from, to), Math.max(from, to), changeOf(to - from, "time"), to > from ? "added" : "saved"),
    ),
    row("This machine", 0, after, quantity(after, "time"), "whole", "sum"),
  );
}

/** What the outlay of a part is made of, or what a part that stays is worth. */
function accountOf(part) {
  const pieces = [["list ", quantity(part.price, "money")]];
  const { labour_rate: rate } = content.study;
  if (part.changed && part.hours > 0) {
    const work = [` + ${Number(part.hours.toFixed(2))}\u00a0h`];
    if (rate > 0) work.push(" at ", quantity(rate, "money"));
    pieces.push(work);
  }
  const back = part.changed ? part.back : part.resale;
  if (back > 0) pieces.push([part.changed ? " − " : ", sells for ", quantity(back, "money"), part.changed ? " for the old one" : ""]);
  return make("small", { class: "account" }, ...pieces.flat());
}

function partsBlock(machine) {
  const parts = machine.parts();
  const fresh = parts.filter((part) => part.changed);
  const hours = fresh.reduce((sum, part) => sum + part.hours, 0);
  const sentence = machine.isOwned
    ? ["What is bolted together today. "]
    : [
        `${fresh.length} of ${parts.length} parts are new, `,
        `${Number(hours.toFixed(1))} h of work; the others stay on the machine. `,
      ];
  const whole = parts.reduce((sum, part) => sum + part.price, 0);
  sentence.push("All its parts bought new: ", quantity(whole, "money"), ".");
  return make(
    "section",
    { class: "parts", "aria-label": "Parts" },
    make("h3", {}, "Parts"),
    make("p", { class: "sentence" }, ...sentence),
    make(
      "table",
      { class: "ledger" },
      make("thead", {}, make("tr", {}, make("th", { scope: "col", class: "text" }, "Part"), make("th", { scope: "col" }, "Outlay"))),
      make(
        "tbody",
        {},
        parts.map((part) =>
          make(
            "tr",
            { class: part.changed ? "new" : "", "data-category": part.key },
            make(
              "th",
              { scope: "row" },
              make("small", {}, part.category, part.changed ? make("b", {}, "new") : null),
              foreign(part.name),
              accountOf(part),
            ),
            make("td", {}, part.changed ? quantity(part.outlay, "money") : "–"),
          ),
        ),
      ),
    ),
  );
}

function allResults(machine) {
  const rows = content.results.map(({ key, title, unit }) =>
    make("tr", {}, make("th", { scope: "row" }, title), make("td", {}, quantity(machine.result(key), unit))),
  );
  return make(
    "details",
    { class: "all-results" },
    make("summary", {}, "Every figure of this machine"),
    make("table", { class: "ledger" }, make("tbody", {}, rows)),
  );
}

function sheetHead(machine) {
  const mine = new Machine(OWNED);
  const gained = difference(machine.result(TIME), mine.result(TIME));
  const pinned = state.pins.some((pin) => pin.index === machine.index);
  const outside = machine.index >= 0 && !state.mask[machine.index];
  const words = [];
  if (!machine.isOwned) {
    words.push(changeOf(gained, "time"), " a cycle, force ");
    words.push(changeOf(difference(machine.result(FORCE), mine.result(FORCE)), "force"), " against yours");
  } else {
    words.push("out and back, without a log");
  }
  return make(
    "header",
    {},
    make("p", { class: "kicker" }, machine.isOwned ? "Sheet" : "Sheet of a chosen machine"),
    make("h2", { id: "sheet-title" }, machine.title),
    make("p", { class: "headline" }, quantity(machine.result(TIME), "time")),
    make("p", { class: "sentence" }, words),
    outside ? make("p", { class: "message" }, "This machine is outside the filters.") : null,
    make(
      "p",
      { class: "actions" },
      make(
        "button",
        { type: "button", id: "pin", "aria-pressed": String(pinned), onclick: () => togglePin(machine.index) },
        pinned ? "Take off comparison" : "Compare",
      ),
      make("button", { type: "button", id: "try-parts", onclick: () => tryParts(machine) }, "Try other parts"),
      make("button", { type: "button", id: "save-parts", onclick: () => saveParts(machine) }, "Save parts list"),
      make("button", { type: "button", id: "print-sheet", onclick: printSheet }, "Print sheet"),
      machine.isOwned
        ? null
        : make("button", { type: "button", class: "quiet", id: "own", onclick: () => select(OWNED) }, "Show yours"),
    ),
  );
}

function writeSheet() {
  const machine = new Machine(state.selected);
  const root = byId("sheet");
  root.replaceChildren(
    sheetHead(machine),
    figuresTable(machine),
    ...findings(machine),
    ...[secondsBlock(machine), waterfallBlock(machine)].filter((block) => block !== null),
    partsBlock(machine),
    limitsBlock(machine),
    allResults(machine),
  );
  root.scrollTop = 0;
  const dock = byId("dock");
  dock.hidden = false;
  dock.replaceChildren(
    make("b", {}, machine.title),
    make("span", {}, machine.summary),
    make("span", { class: "go" }, "Sheet ↓"),
  );
}

function startSheet() {
  writeSheet();
  const head = () => byId("sheet").firstChild.replaceWith(sheetHead(new Machine(state.selected)));
  on("selection", writeSheet);
  on("units", writeSheet);
  on("pins", head);
  on("filter", () => {
    if (state.selected !== OWNED) head();
  });
}

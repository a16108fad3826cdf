/* What if: any part of the price list on the machine, worked out here by the translated model. */

const MOST_HINTED = 400;
const HINT_SLICE = 12;
const LONGEST_OPTION = 44;

/** Study and price lists as objects of the model. */
const model = { setting: null, parts: [] };

function readModel() {
  const { setting, levels, lists } = content.bench;
  model.setting = retold(setting);
  model.setting.levels = retold(levels);
  model.parts = lists.map(({ kind, columns }) =>
    columns.price.map((_, at) => objectOf(kind, (field) => retold(columns[field][at]))),
  );
}

const ownedParts = () => content.categories.map(({ owned: at }) => at);
const isChangedBench = () => state.bench.some((at, category) => at !== content.categories[category].owned);

const finite = (value) => (Number.isFinite(value) ? value : null);

/** A machine put together on this page; it has the figures that those of the front have. */
class BenchMachine {
  constructor(positions) {
    this.positions = positions;
    this.isOwned = false;
    this.title = "The machine on the bench";
    const place = new Map(content.categories.map(({ key }, category) => [key, category]));
    const machine = objectOf("parts$Machine", (key) => model.parts[place.get(key)][positions[place.get(key)]]);
    this.sheet = sheet$sheet_of(machine, model.setting);
  }

  result(key) {
    return finite(this.sheet.results.get(key));
  }

  limits() {
    return this.sheet.limits.map(({ value, bound, margin }, number) => ({
      ...content.limits[number],
      number,
      value: finite(value),
      bound: finite(bound),
      margin: finite(margin),
    }));
  }

  /** Limits of a kind that are crossed, the worst first. */
  crossed(kind) {
    const limits = this.limits().filter((limit) => limit.kind === kind && roomOf(limit) < 0);
    return limits.sort((one, other) => roomOf(one) - roomOf(other));
  }

  parts() {
    return partsAt(this.positions);
  }

  with(category, at) {
    return new BenchMachine(this.positions.map((old, number) => (number === category ? at : old)));
  }
}

/** Put the parts of a machine on the bench and go there. */
function tryParts(machine) {
  state.bench = machine.positions();
  tell("bench");
  const title = byId("bench-title");
  byId("bench").scrollIntoView();
  title.focus({ preventScroll: true });
}

/** What a part says in its list: name, outlay, and what it would change. */
function optionWords(category, at, hint) {
  const { names, outlays, owned: mine } = content.categories[category];
  const outlay = at === mine ? "yours" : written(outlays[at], "money");
  return [brief(names[at], LONGEST_OPTION), brief(outlay, 30), ...(hint ?? [])].join(" · ");
}

class Bench {
  constructor(root) {
    this.root = root;
    this.round = 0;
    this.seen = false;
    this.machine = null;
    this.mine = null;
    this.selects = content.categories.map((_, category) => this.select(category));
    this.outlays = content.categories.map(() => make("span", { class: "bench-outlay" }));
    this.labels = content.categories.map(({ key, title }, category) =>
      make(
        "div",
        { class: "bench-part", "data-category": key },
        make("label", { for: `bench-${key}` }, title),
        make("b", { class: "bench-new", hidden: true }, "new"),
        this.outlays[category],
        this.selects[category],
      ),
    );
    this.take = make("button", { type: "button", id: "bench-take", onclick: () => this.put(new Machine(state.selected).positions()) });
    this.back = make("button", { type: "button", id: "bench-back", onclick: () => this.put(ownedParts()) }, "Back to mine");
    this.save = make("button", { type: "button", id: "bench-save", onclick: () => saveParts(this.machine, "tried") }, "Save parts list");
    this.strip = make("p", { class: "bench-strip" });
    this.answer = make("div", { class: "bench-answer" });
    this.room = make("div", { class: "bench-limits" });
    root.append(
      make("h2", { id: "bench-title", tabindex: "-1" }, "What if"),
      make(
        "p",
        { class: "sentence lead-in" },
        "Put any part of the price list on and see what becomes of the machine. Each list says what its part alone would change: seconds of a cycle without a log, and how many hard limits would be crossed. The page works this out with the formulas of the model; it leaves out how sure the figures are, a cycle followed in time, and the oil over a day.",
      ),
      make("p", { class: "actions" }, this.take, this.back, this.save),
      this.strip,
      make("div", { class: "bench-columns" }, make("div", { class: "bench-parts", role: "group", "aria-label": "Parts on the bench" }, this.labels), this.answer, this.room),
    );
  }

  select(category) {
    const { key, names } = content.categories[category];
    const change = (event) => this.put(state.bench.map((at, number) => (number === category ? Number(event.target.value) : at)));
    return make(
      "select",
      { id: `bench-${key}`, onchange: change },
      names.map((_, at) => make("option", { value: at }, optionWords(category, at))),
    );
  }

  put(positions) {
    state.bench = positions;
    tell("bench");
    const { machine } = this;
    if (machine) say(`${machine.title}: ${KEY_SUMMARY.map(([name, kind]) => written(machine.result(name), kind)).join(", ")}`);
  }

  write() {
    this.round += 1;
    this.writeParts();
    try {
      this.mine ??= new BenchMachine(ownedParts());
      this.machine = new BenchMachine(state.bench);
    } catch (error) {
      this.machine = null;
      this.strip.replaceChildren();
      this.room.replaceChildren();
      this.answer.replaceChildren(make("p", { class: "message" }, `The model stopped: ${brief(String(error?.message ?? error), 160)}.`));
      reportError(error);
      return;
    }
    const { machine, mine } = this;
    this.strip.replaceChildren(...stripWords(machine, mine));
    const seconds = secondsBlock(machine, "Seconds of the machine on the bench") ?? [];
    this.answer.replaceChildren(figuresTable(machine, mine), caution(), ...warnings(machine), ...findings(machine), ...[seconds].flat());
    this.room.replaceChildren(limitsBlock(machine, "Limits of the machine on the bench", true));
    this.hint();
  }

  writeParts() {
    for (const [category, { owned: mine, outlays }] of content.categories.entries()) {
      const at = state.bench[category];
      const isNew = at !== mine;
      this.selects[category].value = String(at);
      this.labels[category].classList.toggle("changed", isNew);
      this.labels[category].querySelector(".bench-new").hidden = !isNew;
      this.outlays[category].replaceChildren(isNew ? quantity(outlays[at], "money") : "");
    }
    this.back.disabled = !isChangedBench();
    this.writeTake();
  }

  writeTake() {
    const chosen = new Machine(state.selected);
    const same = chosen.positions().every((at, category) => at === state.bench[category]);
    this.take.textContent = chosen.isOwned ? "Take the chosen machine" : `Take ${chosen.title.toLowerCase()}`;
    this.take.disabled = chosen.isOwned || same;
  }

  /** Say in every list what each part alone would change, a few at a time, once it is in sight. */
  hint() {
    const { round } = this;
    const waiting = this.selects.flatMap((select, category) =>
      select.options.length > MOST_HINTED ? [] : [...select.options].map((option, at) => ({ option, category, at })),
    );
    for (const { option, category, at } of waiting) option.textContent = optionWords(category, at);
    this.root.dataset.hinted = "no";
    const some = () => {
      if (round !== this.round) return;
      const end = performance.now() + HINT_SLICE;
      while (waiting.length && performance.now() < end) {
        const { option, category, at } = waiting.shift();
        const mounted = at === state.bench[category];
        option.textContent = optionWords(category, at, mounted ? null : changeWords(this.machine.with(category, at), this.machine));
      }
      if (waiting.length) setTimeout(some);
      else this.root.dataset.hinted = "yes";
    };
    if (this.seen) setTimeout(some);
  }

  /** Nothing is worked out for the lists until a person comes near them. */
  watch() {
    const watcher = new IntersectionObserver(([{ isIntersecting }]) => {
      if (!isIntersecting) return;
      watcher.disconnect();
      this.seen = true;
      if (this.machine) this.hint();
    }, { rootMargin: "400px" });
    watcher.observe(this.root);
  }
}

const KEY_SUMMARY = [
  [TIME, "time"],
  [FORCE, "force"],
  [OUTLAY, "money"],
];

/** What another machine would change: its cycle, and hard limits that it crosses. */
function changeWords(machine, before) {
  const change = difference(machine.result(TIME), before.result(TIME));
  const time = change === null ? "does not move" : writtenChange(change, "time");
  const crossed = machine.crossed("hard").length;
  return [time === "±0" ? null : time, crossed ? `crosses ${crossed}` : null].filter((word) => word !== null);
}

/** The answer in one line, in sight while parts are changed on a small screen. */
function stripWords(machine, mine) {
  const hard = machine.crossed("hard").length;
  const limits = hard === 0 ? "hard limits kept" : `${hard} hard ${hard === 1 ? "limit" : "limits"} crossed`;
  return [
    make("span", {}, make("b", {}, quantity(machine.result(TIME), "time")), " a cycle"),
    make("span", {}, changeOf(difference(machine.result(TIME), mine.result(TIME)), "time")),
    make("span", {}, quantity(machine.result(FORCE), "force")),
    make("span", {}, quantity(machine.result(OUTLAY), "money")),
    make("span", { class: hard ? "crossed" : "" }, limits),
  ];
}

/** Limits that are crossed, with what to change. */
function warnings(machine) {
  const advised = (limits) =>
    make("ul", { class: "notes-list" }, limits.map(({ title, advice }) => make("li", {}, make("b", {}, make("bdi", {}, brief(title, 90))), ": ", make("bdi", {}, brief(advice, LONGEST_NAME)))));
  const [hard, soft] = [machine.crossed("hard"), machine.crossed("advisory")];
  return [
    hard.length ? make("div", { class: "why crossed-hard" }, make("p", {}, make("strong", {}, "Hard limits crossed. Do not run it like this.")), advised(hard)) : null,
    soft.length ? make("div", { class: "crossed-advice" }, make("p", {}, "Against advice:"), advised(soft)) : null,
  ].filter((block) => block !== null);
}

const caution = () =>
  make(
    "p",
    { class: "small bench-caution" },
    "Estimates for choosing parts, not a certificate: frame and welds are not checked, and local codes, the makers of the parts and licensed practice decide. Release the pressure before a line is opened.",
  );

function startBench() {
  readModel();
  state.bench = ownedParts();
  const root = byId("bench");
  const bench = new Bench(root);
  root.figuresOf = (positions) => new BenchMachine(positions).sheet;
  bench.write();
  bench.watch();
  on("bench", () => bench.write());
  on("units", () => bench.write());
  on("selection", () => bench.writeTake());
}

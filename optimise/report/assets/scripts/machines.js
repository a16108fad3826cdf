/* The machines of the page: those of the front (or the nearest ones), and the one owned. */

const OWNED = -1;
const TIME = "cycle.total_s";
const FORCE = "force_N";
const OUTLAY = "cost.outlay";
const LEAST_MARGIN = "least margin";

let content = null;
let front = null;
let owned = null;
let plan = null;

/* Machines after the steps of the plan have the numbers -2, -3 and so on. */
const planCount = () => plan?.count ?? 0;
const planIndex = (row) => -2 - row;
const planRow = (index) => -2 - index;
const planSteps = () => Array.from({ length: planCount() }, (_, row) => planIndex(row));

class Machines {
  constructor(raw) {
    this.raw = raw;
    this.count = raw.count;
    this.kept = new Map();
  }

  figure(place, index) {
    const column = content.columns[place];
    return Array.isArray(column) ? column[index] : column;
  }

  place(key) {
    return key === LEAST_MARGIN ? this.raw.least_margin : this.raw.results[key];
  }

  result(key, index) {
    return this.figure(this.place(key), index);
  }

  limit(number, index) {
    const places = this.raw.limits[number];
    return {
      ...content.limits[number],
      number,
      value: this.figure(places.value, index),
      bound: this.figure(places.bound, index),
      margin: this.figure(places.margin, index),
    };
  }

  point(stroke, name, index) {
    return this.figure(this.raw.points[stroke][name], index);
  }

  part(category, index) {
    return this.raw.parts[category][index];
  }

  /** One result of all machines as numbers; NaN where there is none. */
  series(key) {
    if (!this.kept.has(key)) {
      const place = this.place(key);
      this.kept.set(
        key,
        Float64Array.from({ length: this.count }, (_, index) => this.figure(place, index) ?? NaN),
      );
    }
    return this.kept.get(key);
  }
}

/** Machines along the plan from where it starts, if that is a machine of the page. */
const planWay = () => (content.asked ? planSteps() : [OWNED, ...planSteps()]);

/** A figure of every step of the plan; NaN where there is none. */
const stepFigures = (key) => planSteps().map((index) => new Machine(index).result(key) ?? NaN);

/** Parts with category, name and money; `changed` where the machine owned has another, for which
    `back` is what the old one brings. */
function partsAt(positions) {
  return content.categories.map((category, number) => {
    const at = positions[number];
    return {
      category: category.title,
      key: category.key,
      name: category.names[at],
      outlay: category.outlays[at],
      price: category.prices[at],
      hours: category.hours[at],
      resale: category.resales[at],
      back: category.resales[category.owned],
      changed: at !== category.owned,
    };
  });
}

/** One machine: `OWNED`, a step of the plan (see `planIndex`), or the position of a design. */
class Machine {
  constructor(index) {
    this.isOwned = index === OWNED;
    this.index = index;
    this.isStep = index < OWNED;
    this.group = this.isOwned ? owned : this.isStep ? plan : front;
    this.row = this.isOwned ? 0 : this.isStep ? planRow(index) : index;
  }

  get title() {
    if (this.isOwned) return "The machine you have";
    return this.isStep ? `Step ${this.row + 1} of the plan` : `Machine ${grouped(this.index + 1, 0)}`;
  }

  result(key) {
    return this.group.result(key, this.row);
  }

  /** Figure of the circuit in a stroke, "out" or "back". */
  point(stroke, name) {
    return this.group.point(stroke, name, this.row);
  }

  /** Quantity of a part by its name in the price list; null where the page does not hold it. */
  part(category, quantityName) {
    const number = content.categories.findIndex(({ key }) => key === category);
    const column = content.categories[number].quantities[quantityName];
    return column ? column[this.group.part(number, this.row)] : null;
  }

  limits() {
    return content.limits.map((_, number) => this.group.limit(number, this.row));
  }

  get binding() {
    return content.limits[this.group.raw.binding[this.row]];
  }

  /** Positions of its parts in the price lists. */
  positions() {
    return content.categories.map((_, number) => this.group.part(number, this.row));
  }

  parts() {
    return partsAt(this.positions());
  }

  get summary() {
    const figures = [
      [TIME, "time"],
      [FORCE, "force"],
      [OUTLAY, "money"],
    ];
    return figures.map(([key, kind]) => written(this.result(key), kind)).join(" · ");
  }
}

async function readContent() {
  content = JSON.parse(await unpacked("packed-content"));
  owned = new Machines(content.owned);
  plan = content.plan ? new Machines(content.plan) : null;
  front = new Machines(content.designs.count ? content.designs : content.nearest ?? content.designs);
}

const isFront = () => content.designs.count > 0;

function endsOf(series, ...more) {
  let low = Infinity;
  let high = -Infinity;
  for (const value of [...series, ...more]) {
    if (!Number.isFinite(value)) continue;
    if (value < low) low = value;
    if (value > high) high = value;
  }
  return low <= high ? [low, high] : [0, 1];
}

/* Quantities in the unit system chosen; SI everywhere else. */

const MINUS = "−";
const NO_VALUE = "no value";
const THOUSANDS = { us: ",", metric: "\u202f" };

const scaleOf = (kind) => content.kinds[kind][state.system];
const unitOf = (kind) => scaleOf(kind).unit;

function inUnit(value, kind) {
  const { scale, offset } = scaleOf(kind);
  return (value - offset) / scale;
}

function fromUnit(number, kind) {
  const { scale, offset } = scaleOf(kind);
  return number * scale + offset;
}

/** Decimals as the kind has them, else those of three significant digits. */
function decimalsOf(number, decimals) {
  if (decimals !== null) return decimals;
  if (number === 0) return 0;
  return Math.min(Math.max(2 - Math.floor(Math.log10(Math.abs(number))), 0), 6);
}

function grouped(number, decimals) {
  const [whole, part] = Math.abs(number).toFixed(decimals).split(".");
  const text = whole.replace(/\B(?=(\d{3})+$)/g, THOUSANDS[state.system]) + (part ? `.${part}` : "");
  return number < 0 && /[1-9]/.test(text) ? MINUS + text : text;
}

/** A number as its kind is written, without the unit. */
function bare(value, kind) {
  if (value === null || !Number.isFinite(value)) return NO_VALUE;
  const number = inUnit(value, kind);
  return grouped(number, decimalsOf(number, scaleOf(kind).decimals));
}

function withUnit(text, unit) {
  return unit ? `${text}\u00a0${unit}` : text;
}

function written(value, kind) {
  const text = bare(value, kind);
  return text === NO_VALUE ? text : withUnit(text, unitOf(kind));
}

/** Round steps of an axis between two ends in SI: their places in SI, and their figures. */
function ticksIn(low, high, kind, wanted) {
  const { ticks, decimals } = ticksBetween(inUnit(low, kind), inUnit(high, kind), wanted);
  return { places: ticks.map((tick) => fromUnit(tick, kind)), words: ticks.map((tick) => grouped(tick, decimals)) };
}

/** A difference with its sign. */
function writtenChange(change, kind) {
  if (change === null || !Number.isFinite(change)) return NO_VALUE;
  const { scale, decimals, unit } = scaleOf(kind);
  const number = change / scale;
  const text = grouped(number, decimalsOf(number, decimals));
  if (!/[1-9]/.test(text)) return "±0";
  return withUnit(number > 0 ? `+${text}` : text, unit);
}

/** Element that shows a quantity and follows the unit switch. */
function quantity(value, kind) {
  const attributes = { class: "q", "data-kind": kind, "data-value": value ?? null };
  return make("span", attributes, written(value, kind));
}

function changeOf(change, kind) {
  const attributes = { class: "q", "data-kind": kind, "data-change": change ?? null };
  return make("span", attributes, writtenChange(change, kind));
}

function refreshQuantities() {
  for (const element of document.querySelectorAll(".q")) {
    const { kind, value, change } = element.dataset;
    if (change !== undefined) element.textContent = writtenChange(Number(change), kind);
    else if (value !== undefined) element.textContent = written(Number(value), kind);
  }
}

const titled = (title, kind) => (unitOf(kind) ? `${title}, ${brief(unitOf(kind), 12)}` : title);

/* One selection, one set of filters and one unit system for every view of the page. */

const MOST_PINS = 4;
const PIN_LETTERS = ["A", "B", "C", "D"];

const state = {
  system: document.documentElement.dataset.units,
  selected: OWNED,
  pins: [],
  bounds: { [OUTLAY]: Infinity, [FORCE]: -Infinity, [TIME]: Infinity, [LEAST_MARGIN]: -Infinity },
  hiddenParts: [],
  fewOnly: false,
  brushes: new Map(),
  mask: new Uint8Array(0),
  shown: [],
  bench: [],
};

const listeners = { filter: [], selection: [], pins: [], bench: [], units: [], theme: [], print: [] };
const on = (what, action) => listeners[what].push(action);
const tell = (what) => listeners[what].forEach((action) => action());

function say(text) {
  byId("said").textContent = text;
}

function select(index) {
  if (state.selected === index) return;
  state.selected = index;
  tell("selection");
  const machine = new Machine(index);
  say(`${machine.title}: ${machine.summary}`);
}

/** Pin a machine for comparison, or take it off again. */
function togglePin(index) {
  const at = state.pins.findIndex((pin) => pin.index === index);
  if (at >= 0) {
    state.pins.splice(at, 1);
  } else if (state.pins.length >= MOST_PINS) {
    say(`${MOST_PINS} machines are side by side already. Take one off first.`);
    return;
  } else {
    const free = PIN_LETTERS.find((letter) => !state.pins.some((pin) => pin.letter === letter));
    state.pins.push({ index, letter: free });
    state.pins.sort((one, other) => one.letter.localeCompare(other.letter));
  }
  tell("pins");
}

/** Rounding that a person sees must not throw a machine out of its own filter. */
function halfStep(kind) {
  const { scale, decimals } = scaleOf(kind);
  return 0.5000001 * scale * 10 ** -(decimals ?? 6);
}

/** What a bound is when it bounds nothing. */
const openEnd = (key) => (key === FORCE || key === LEAST_MARGIN ? -Infinity : Infinity);

function isBounded(key) {
  return Number.isFinite(state.bounds[key]);
}

function isFiltered() {
  return (
    Object.keys(state.bounds).some(isBounded) ||
    state.brushes.size > 0 ||
    state.fewOnly ||
    state.hiddenParts.some((hidden) => hidden.size > 0)
  );
}

/** Work out which machines pass all filters, then tell every view. */
function applyFilters() {
  const time = front.series(TIME);
  const force = front.series(FORCE);
  const outlay = front.series(OUTLAY);
  const mostTime = state.bounds[TIME] + halfStep("time");
  const leastForce = state.bounds[FORCE] - halfStep("force");
  const margin = front.series(LEAST_MARGIN);
  const leastMargin = state.bounds[LEAST_MARGIN] - halfStep("share");
  const mostOutlay = state.bounds[OUTLAY] + halfStep("money");
  const brushes = [...state.brushes].map(([key, [low, high]]) => [front.series(key), low, high]);
  const hidden = state.hiddenParts
    .map((parts, category) => [front.raw.parts[category], parts])
    .filter(([, parts]) => parts.size > 0);
  const few = state.fewOnly ? new Set(content.alike.shown) : null;
  const shown = [];
  for (let index = 0; index < front.count; index += 1) {
    const passes =
      (few === null || few.has(index)) &&
      !(time[index] > mostTime) &&
      !(force[index] < leastForce) &&
      !(outlay[index] > mostOutlay) &&
      !(margin[index] < leastMargin) &&
      hidden.every(([column, parts]) => !parts.has(column[index])) &&
      brushes.every(([series, low, high]) => series[index] >= low && series[index] <= high);
    state.mask[index] = passes ? 1 : 0;
    if (passes) shown.push(index);
  }
  state.shown = shown;
  tell("filter");
}

function clearFilters() {
  for (const key of Object.keys(state.bounds)) {
    state.bounds[key] = openEnd(key);
  }
  state.brushes.clear();
  state.fewOnly = false;
  state.hiddenParts.forEach((hidden) => hidden.clear());
  applyFilters();
}

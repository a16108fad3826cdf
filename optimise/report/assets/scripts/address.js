/* The views' state in the fragment of the address, so that a link opens the same view again. */

const ADDRESS_BOUNDS = { budget: OUTLAY, force: FORCE, time: TIME, margin: LEAST_MARGIN };

function nameOf(index) {
  if (index === OWNED) return "yours";
  return index < OWNED ? `step${-1 - index}` : String(index + 1);
}

/** Position of a machine by its name in an address; null for a name of none. */
function indexNamed(name) {
  if (name === "yours") return OWNED;
  const step = /^step(\d{1,3})$/.exec(name);
  if (step) {
    const index = -1 - Number(step[1]);
    return index < OWNED && planRow(index) < planCount() ? index : null;
  }
  if (!/^\d{1,9}$/.test(name)) return null;
  const index = Number(name) - 1;
  return index >= 0 && index < front.count ? index : null;
}

/** Parts on the bench by their positions in an address; null where they make no machine. */
function benchNamed(text) {
  const parts = text.split(".");
  const known = parts.length === content.categories.length &&
    parts.every((part, category) => /^\d{1,6}$/.test(part) && Number(part) < content.categories[category].names.length);
  return known ? parts.map(Number) : null;
}

function addressOf() {
  const words = new URLSearchParams();
  if (state.selected !== OWNED) words.set("machine", nameOf(state.selected));
  if (state.pins.length) words.set("beside", state.pins.map(({ index, letter }) => `${letter}${nameOf(index)}`).join("."));
  for (const [word, key] of Object.entries(ADDRESS_BOUNDS)) {
    if (isBounded(key)) words.set(word, String(state.bounds[key]));
  }
  if (state.fewOnly) words.set("alike", "one");
  state.hiddenParts.forEach((hidden, category) => {
    if (hidden.size) words.set(`without-${content.categories[category].key}`, [...hidden].sort((a, b) => a - b).join("."));
  });
  for (const [key, ends] of state.brushes) words.set(`axis-${key}`, ends.join("_"));
  if (isChangedBench()) words.set("try", state.bench.join("."));
  if (state.system !== content.study.units) words.set("units", state.system);
  const text = words.toString();
  return text ? `#of=${content.mark}&${text}` : "";
}

/** Take over what an address says, whatever makes no sense left out; false where it is refused. */
function readAddress() {
  const text = location.hash.slice(1);
  if (!text.includes("=")) return true;
  const words = new URLSearchParams(text);
  const notice = byId("notice");
  notice.hidden = words.get("of") === content.mark;
  if (!notice.hidden) {
    notice.textContent =
      "The link was made for another study, or for another front or plan of it. It was not used.";
    notice.scrollIntoView({ block: "nearest" });
    say(notice.textContent);
    return false;
  }
  const read = (word) => finite(word === null || word.trim() === "" ? NaN : Number(word));
  for (const [word, key] of Object.entries(ADDRESS_BOUNDS)) {
    state.bounds[key] = read(words.get(word)) ?? openEnd(key);
  }
  state.fewOnly = words.get("alike") === "one";
  state.hiddenParts.forEach((hidden, category) => {
    hidden.clear();
    const { key, names } = content.categories[category];
    for (const part of (words.get(`without-${key}`) ?? "").split(".")) {
      if (/^\d{1,6}$/.test(part) && Number(part) < names.length) hidden.add(Number(part));
    }
  });
  state.brushes.clear();
  for (const { key } of AXES) {
    const ends = (words.get(`axis-${key}`) ?? "").split("_").map(read);
    if (ends.length === 2 && ends.every((end) => end !== null)) state.brushes.set(key, ends.sort((one, other) => one - other));
  }
  state.pins = [];
  for (const word of (words.get("beside") ?? "").split(".").slice(0, MOST_PINS)) {
    const [letter, index] = [word[0], indexNamed(word.slice(1))];
    const free = PIN_LETTERS.includes(letter) && !state.pins.some((pin) => pin.letter === letter || pin.index === index);
    if (index !== null && free) state.pins.push({ index, letter });
  }
  const units = words.get("units") ?? content.study.units;
  if (units === "us" || units === "metric") setUnits(units);
  state.selected = indexNamed(words.get("machine") ?? "yours") ?? OWNED;
  state.bench = benchNamed(words.get("try") ?? "") ?? ownedParts();
  applyFilters();
  tell("pins");
  tell("selection");
  tell("bench");
  return true;
}

/** Let the address say what is shown; a place within the page stays where there is nothing to say. */
function writeAddress() {
  const wanted = addressOf();
  if (wanted === location.hash || (wanted === "" && !location.hash.includes("="))) return;
  history.replaceState(null, "", wanted || location.pathname + location.search);
}

function startAddress() {
  let known = location.hash;
  const read = () => {
    if (!readAddress()) writeAddress();
    known = location.hash;
  };
  read();
  const write = afterPause(() => {
    // An address just put in is read first.
    if (location.hash !== known) return;
    writeAddress();
    known = location.hash;
  }, 150);
  for (const what of ["filter", "selection", "pins", "bench", "units"]) on(what, write);
  addEventListener("hashchange", read);
  // Back from a refused link may lead to the address that has taken its place.
  addEventListener("popstate", () => { byId("notice").hidden = true; });
}

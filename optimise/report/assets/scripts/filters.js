/* Filters over all views: budget, force, time, and the parts of each category. */

const SLIDER_STEPS = 200;

/** Slider and number field for one bound; the open end of the slider means no bound. */
function boundControl(key, kind, words, sense) {
  const [low, high] = endsOf(front.series(key));
  const open = sense === "at most" ? SLIDER_STEPS : 0;
  const id = `filter-${kind}`;
  const number = make("input", { type: "number", id, step: "any", inputmode: "decimal" });
  const slider = make("input", {
    type: "range", min: 0, max: SLIDER_STEPS, "aria-label": `${words} ${sense}`,
  });
  const unit = make("span", { class: "unit" });

  const roundedTo = (value) => {
    const decimals = scaleOf(kind).decimals;
    return Number(inUnit(value, kind).toFixed(decimals));
  };
  const show = (besides) => {
    const bounded = isBounded(key);
    const value = state.bounds[key];
    if (besides !== number) number.value = bounded ? String(roundedTo(value)) : "";
    number.placeholder = "any";
    unit.textContent = brief(unitOf(kind), 12);
    const at = bounded ? Math.round(((value - low) / (high - low || 1)) * SLIDER_STEPS) : open;
    if (besides !== slider) slider.value = String(at);
    slider.setAttribute(
      "aria-valuetext",
      bounded ? withUnit(grouped(roundedTo(value), scaleOf(kind).decimals), unitOf(kind)) : "any",
    );
    slider.style.setProperty("--filled", `${(100 * at) / SLIDER_STEPS}%`);
    slider.classList.toggle("from-right", sense === "at least");
  };
  const none = sense === "at most" ? Infinity : -Infinity;
  slider.addEventListener("input", () => {
    const at = Number(slider.value);
    const value = low + ((high - low) * at) / SLIDER_STEPS;
    state.bounds[key] = at === open ? none : fromUnit(roundedTo(value), kind);
    show(slider);
    applyFilters();
  });
  number.addEventListener("input", () => {
    const typed = number.value.trim() === "" ? NaN : Number(number.value);
    state.bounds[key] = Number.isFinite(typed) ? fromUnit(typed, kind) : none;
    show(number);
    applyFilters();
  });
  on("units", () => show(null));
  on("filter", () => {
    if (document.activeElement !== number && document.activeElement !== slider) show(null);
  });
  show(null);
  const label = make("label", { for: id }, make("b", {}, words), ` ${sense}`);
  const field = make("span", { class: "field" }, number, unit);
  return make("div", { class: "bound" }, label, field, slider);
}

function partsOnFront(category) {
  const counts = new Map();
  for (const at of front.raw.parts[category]) counts.set(at, (counts.get(at) ?? 0) + 1);
  return [...counts].sort(([one], [other]) => one - other);
}

/** Check boxes for the parts of one category that some machine of the page has. */
function partsControl(facts, category) {
  const hidden = state.hiddenParts[category];
  const used = partsOnFront(category);
  if (used.length < 2) return null;
  const boxes = used.map(([at, count]) => {
    const box = make("input", { type: "checkbox", "data-part": at });
    box.checked = true;
    box.addEventListener("change", () => {
      if (box.checked) hidden.delete(at);
      else hidden.add(at);
      applyFilters();
    });
    const name = make("bdi", { title: facts.names[at].slice(0, 300) }, brief(facts.names[at], 48));
    const tally = make("span", { class: "tally" }, String(count));
    return make("label", { class: "check" }, box, name, tally);
  });
  const refresh = () => {
    for (const label of boxes) {
      const box = label.firstChild;
      box.checked = !hidden.has(Number(box.dataset.part));
    }
  };
  on("filter", refresh);
  return make("fieldset", { "data-category": facts.key }, make("legend", {}, facts.title), boxes);
}

/** Check box that leaves one machine of each set that is nearly alike. */
function alikeControl() {
  const { time_s: time, price_share: share, shown } = content.alike;
  if (shown.length === front.count) return null;
  const box = make("input", { type: "checkbox", id: "filter-alike" });
  box.addEventListener("change", () => {
    state.fewOnly = box.checked;
    applyFilters();
  });
  on("filter", () => { box.checked = state.fewOnly; });
  const words = `Only ${grouped(shown.length, 0)} that stand for all `;
  const near = `(none that they stand for is stronger, more than ${time} s quicker or more than `
    + `${100 * share} % of its price cheaper)`;
  return make("label", { class: "check alike" }, box, make("span", {}, words, make("span", { class: "small" }, near)));
}

/** Button of small screens: there the filters stay in sight as one line, the rest on demand. */
function foldButton(root) {
  const button = make("button", { type: "button", class: "fold", "aria-controls": "filters" });
  const fold = (folded) => {
    root.classList.toggle("folded", folded);
    button.setAttribute("aria-expanded", String(!folded));
    button.textContent = folded ? "Filters" : "Close";
  };
  button.addEventListener("click", () => fold(!root.classList.contains("folded")));
  fold(true);
  return button;
}

/** What sticks to the top of the window must not hide what is jumped to, nor the sheet beside it. */
function keepClear(root) {
  const tell = () => document.documentElement.style.setProperty("--stuck", `${root.offsetHeight}px`);
  new ResizeObserver(tell).observe(root);
}

function startFilters() {
  state.hiddenParts = content.categories.map(() => new Set());
  state.mask = new Uint8Array(front.count);
  const root = byId("filters");
  if (!isFront()) {
    root.remove();
    return;
  }
  const count = make("p", { class: "count", id: "shown-count", role: "status" });
  const clear = make("button", { type: "button", class: "quiet", onclick: clearFilters }, "Show all");
  const toggle = foldButton(root);
  const partsSummary = make("summary", {}, "Parts");
  const groups = content.categories.map(partsControl).filter((group) => group !== null);
  const single = content.categories
    .filter((_, category) => partsOnFront(category).length === 1)
    .map((facts) => facts.title.toLowerCase());
  const note = single.length
    ? make("p", { class: "small" }, `The same on every machine here: ${single.join(", ")}.`)
    : null;
  const panel = make("div", { class: "part-groups" }, groups);
  const parts = make("details", { class: "parts-filter" }, partsSummary, panel, note);
  root.append(
    make("div", { class: "state" }, count, clear, toggle),
    boundControl(OUTLAY, "money", "Budget", "at most"),
    boundControl(FORCE, "force", "Force", "at least"),
    boundControl(TIME, "time", "Cycle time", "at most"),
    boundControl(LEAST_MARGIN, "share", "Margin", "at least"),
    parts,
    ...[alikeControl()].filter(Boolean),
  );
  keepClear(root);
  const refresh = () => {
    const all = `${grouped(front.count, 0)} ${front.count === 1 ? "machine" : "machines"}`;
    count.textContent = isFiltered() ? `${grouped(state.shown.length, 0)} of ${all}` : all;
    clear.disabled = !isFiltered();
    const hidden = state.hiddenParts.reduce((sum, parts) => sum + parts.size, 0);
    partsSummary.textContent = hidden ? `Parts: ${hidden} left out` : "Parts: all";
  };
  on("filter", refresh);
  on("units", refresh);
}

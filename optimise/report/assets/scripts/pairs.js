/* The front two figures at a time: scatter charts in SVG. */

const PAIRS = [
  {
    id: "pair-time-outlay",
    x: { key: TIME, title: "Cycle time", kind: "time", better: -1 },
    y: { key: OUTLAY, title: "Outlay", kind: "money", better: -1 },
    shade: { key: FORCE, kind: "force", better: 1, words: "stronger" },
    heading: "What the seconds cost",
    sentence:
      "Each dot is a machine of the front. The stepped line joins the cheapest at every cycle " +
      "time: where it runs steeply, the next second is dear. Lower left is better.",
    height: 400,
    wide: true,
  },
  {
    id: "pair-time-force",
    x: { key: TIME, title: "Cycle time", kind: "time", better: -1 },
    y: { key: FORCE, title: "Force", kind: "force", better: 1 },
    shade: { key: OUTLAY, kind: "money", better: -1, words: "cheaper" },
    heading: "Seconds against force",
    sentence:
      "A larger bore pushes harder and fills slower. The line joins the strongest at every " +
      "cycle time. Upper left is better.",
    height: 320,
  },
  {
    id: "pair-outlay-force",
    x: { key: OUTLAY, title: "Outlay", kind: "money", better: -1 },
    y: { key: FORCE, title: "Force", kind: "force", better: 1 },
    shade: { key: TIME, kind: "time", better: -1, words: "quicker" },
    heading: "What force costs",
    sentence:
      "Dots straight above each other cost the same and differ in seconds. The line joins the " +
      "strongest for the money. Upper left is better.",
    height: 320,
  },
];
const BANDS = 5;
const REACH = 26;
const MOST_NUMBERS = 24;

/** Rank of each machine in five equal groups, 4 for the best; the same for equal values. */
function bandsOf(series, better) {
  const sorted = Float64Array.from(series).sort();
  const steps = Array.from({ length: BANDS - 1 }, (_, step) =>
    sorted[Math.floor(((step + 1) * sorted.length) / BANDS)],
  );
  return Array.from(series, (value) => {
    const rank = steps.filter((step) => value >= step).length;
    return better > 0 ? rank : BANDS - 1 - rank;
  });
}

/** Positions of all machines, the best in the first figure first, ties by the second one. */
function orderBy(x, y, xBetter, yBetter) {
  return Array.from(x.keys()).sort(
    (one, other) => xBetter * (x[other] - x[one]) || yBetter * (y[other] - y[one]),
  );
}

/** Machines that pass the filters and that no other such one beats in both figures. */
function edgeOf(order, y, yBetter) {
  const edge = [];
  let best = -Infinity;
  for (const index of order) {
    if (state.mask[index] && yBetter * y[index] > best) {
      best = yBetter * y[index];
      edge.push(index);
    }
  }
  return edge;
}

class PairChart {
  constructor(spec) {
    this.spec = spec;
    this.figure = byId(spec.id);
    this.x = front.series(spec.x.key);
    this.y = front.series(spec.y.key);
    this.ownX = owned.result(spec.x.key, 0);
    this.ownY = owned.result(spec.y.key, 0);
    this.order = orderBy(this.x, this.y, spec.x.better, spec.y.better);
    this.bands = bandsOf(front.series(spec.shade.key), spec.shade.better);
    this.zoom = null;
    this.build();
    new ResizeObserver(oncePerFrame(() => this.layout())).observe(this.box);
    this.inView = true;
    new IntersectionObserver(([entry]) => {
      this.inView = entry.isIntersecting;
    }).observe(this.box);
  }

  build() {
    const { spec } = this;
    const clip = `clip-${spec.id}`;
    this.clip = draw("rect");
    this.ground = draw("rect", { class: "ground" });
    this.axes = draw("g", { class: "axes" });
    this.cloud = draw("g", { class: "cloud" });
    this.overlay = draw("g", { class: "overlay" });
    this.frame = draw("rect", { class: "zoom-box", visibility: "hidden" });
    this.marks = Array.from({ length: BANDS }, (_, band) =>
      draw("path", { class: `mark band-${band}`, "stroke-width": spec.wide ? 6 : 5 }),
    );
    this.cloud.append(...this.marks);
    const inside = draw("g", { "clip-path": `url(#${clip})` }, this.cloud, this.overlay);
    this.svg = draw(
      "svg",
      { role: "img", tabindex: "0", "aria-label": `${spec.heading}. ${spec.sentence}`, height: spec.height },
      draw("defs", {}, draw("clipPath", { id: clip }, this.clip)),
      this.ground,
      this.axes,
      inside,
      this.frame,
    );
    this.box = make("div", { class: "canvas-box" }, this.svg);
    this.whole = make(
      "button",
      { type: "button", class: "quiet", hidden: true, onclick: () => this.zoomTo(null) },
      "Whole chart",
    );
    this.legend = make("p", { class: "legend" });
    this.numbers = make("div", { class: "numbers", hidden: true });
    const tools = chartTools(spec.id, () => this.svg, this.numbers, () => this.showNumbers(), [this.whole]);
    this.figure.append(
      make("figcaption", {}, make("h3", {}, spec.heading), make("p", {}, spec.sentence)),
      this.box,
      make("div", { class: "under" }, this.legend, tools),
      this.numbers,
    );
    this.listen();
    this.showLegend();
  }

  /** Ends of an axis, in SI: the zoom, or all machines and the one owned with some room. */
  ends(axis) {
    if (this.zoom) return this.zoom[axis];
    const { key } = this.spec[axis];
    const [low, high] = axis === "x" ? endsOf(this.x, this.ownX, ...stepFigures(key)) : endsOf(this.y, this.ownY, ...stepFigures(key));
    const room = 0.04 * (high - low) || 0.05 * Math.abs(high) || 1;
    return [low - room, high + room];
  }

  layout() {
    const width = this.box.clientWidth;
    if (width === 0) return;
    const { spec } = this;
    const [x0, x1] = this.ends("x");
    const [y0, y1] = this.ends("y");
    const left = marginFor(ticksIn(y0, y1, spec.y.kind, (spec.height - 26 - 44) / 55).words, width);
    this.area = { left, top: 26, width: width - left - 12, height: spec.height - 26 - 44 };
    const { area } = this;
    this.toX = (value) => area.left + ((value - x0) / (x1 - x0)) * area.width;
    this.toY = (value) => area.top + area.height - ((value - y0) / (y1 - y0)) * area.height;
    this.backX = (pixel) => x0 + ((pixel - area.left) / area.width) * (x1 - x0);
    this.backY = (pixel) => y0 + ((area.top + area.height - pixel) / area.height) * (y1 - y0);
    fill(this.svg, { width, viewBox: `0 0 ${width} ${spec.height}` }, []);
    for (const rect of [this.clip, this.ground]) {
      fill(rect, { x: area.left, y: area.top, width: area.width, height: area.height }, []);
    }
    this.pixels = { x: new Float64Array(front.count), y: new Float64Array(front.count) };
    this.dots = Array.from({ length: front.count }, (_, index) => {
      this.pixels.x[index] = this.toX(this.x[index]);
      this.pixels.y[index] = this.toY(this.y[index]);
      return `M${this.pixels.x[index].toFixed(1)},${this.pixels.y[index].toFixed(1)}h0`;
    });
    this.svg.places = this.pixels;
    this.drawDots();
    this.drawAxes();
    this.drawOverlay();
  }

  /** Dots that pass the filters: one path for each band, each dot a line of no length. */
  drawDots() {
    if (!this.dots) return;
    const paths = Array.from({ length: BANDS }, () => []);
    for (const index of state.shown) paths[this.bands[index]].push(this.dots[index]);
    this.marks.forEach((mark, band) => mark.setAttribute("d", paths[band].join("")));
  }

  drawAxes() {
    if (!this.area) return;
    const { area, spec } = this;
    const across = ticksIn(...this.ends("x"), spec.x.kind, area.width / 85);
    const up = ticksIn(...this.ends("y"), spec.y.kind, area.height / 55);
    const bottom = area.top + area.height;
    const parts = [];
    up.places.forEach((place, nth) => {
      const y = this.toY(place);
      parts.push(
        draw("line", { class: "grid", x1: area.left, x2: area.left + area.width, y1: y, y2: y }),
        draw("text", { x: area.left - 8, y: y + 4, "text-anchor": "end" }, up.words[nth]),
      );
    });
    across.places.forEach((place, nth) => {
      const x = this.toX(place);
      const words = across.words[nth];
      parts.push(
        draw("line", { class: "tick", x1: x, x2: x, y1: bottom, y2: bottom + 5 }),
        draw("text", { x: within(x, words, area.left + area.width + 12), y: bottom + 19, "text-anchor": "middle" }, words),
      );
    });
    parts.push(
      draw("line", { class: "base", x1: area.left, x2: area.left + area.width, y1: bottom, y2: bottom }),
      draw("text", { class: "axis-title", x: 0, y: 13 }, titled(spec.y.title, spec.y.kind)),
      draw(
        "text",
        { class: "axis-title", x: area.left + area.width, y: bottom + 38, "text-anchor": "end" },
        titled(spec.x.title, spec.x.kind),
      ),
    );
    this.axes.replaceChildren(...parts);
  }

  /** Stepped edge, machine owned, pins and selection, over the dots. */
  drawOverlay() {
    if (!this.area) return;
    const parts = [];
    const edge = this.edge();
    parts.push(...this.planParts());
    if (edge.length > 1) {
      const path = edge.map((index, step) => {
        const x = this.pixels.x[index].toFixed(1);
        const y = this.pixels.y[index].toFixed(1);
        return step === 0 ? `M${x},${y}` : `H${x}V${y}`;
      });
      parts.push(draw("path", { class: "edge", d: path.join("") }));
    }
    const own = { x: this.toX(this.ownX), y: this.toY(this.ownY) };
    const toLeft = own.x > this.area.left + this.area.width - 60;
    parts.push(
      draw("path", { class: "own", d: `M${own.x},${own.y - 8}l8,8l-8,8l-8,-8z` }),
      draw(
        "text",
        {
          class: "own-label", x: own.x + (toLeft ? -13 : 13), y: own.y - 6,
          "text-anchor": toLeft ? "end" : "start",
        },
        "yours",
      ),
    );
    for (const { index, letter } of state.pins) {
      if (index === OWNED) continue;
      const [x, y] = this.placeOf(index);
      parts.push(
        draw("rect", { class: `pin pin-${letter}`, x: x - 8, y: y - 8, width: 16, height: 16, rx: 2 }),
        draw("text", { class: `pin-letter pin-${letter}`, x, y: y + 4, "text-anchor": "middle" }, letter),
      );
    }
    if (state.selected === OWNED) {
      parts.push(draw("circle", { class: "chosen", cx: own.x, cy: own.y, r: 13 }));
    } else {
      const [x, y] = this.placeOf(state.selected);
      parts.push(
        draw("circle", { class: "chosen", cx: x, cy: y, r: 10 }),
        draw("circle", { class: "chosen-dot", cx: x, cy: y, r: 4 }),
      );
    }
    this.overlay.replaceChildren(...parts);
  }

  /** Pixels of any machine, of the front or not. */
  placeOf(index) {
    if (index >= 0) return [this.pixels.x[index], this.pixels.y[index]];
    const machine = new Machine(index);
    return [this.toX(machine.result(this.spec.x.key)), this.toY(machine.result(this.spec.y.key))];
  }

  /** Steps of the plan, joined in their order and numbered where there is room. */
  planParts() {
    const places = planSteps().map((index) => this.placeOf(index));
    if (places.length === 0) return [];
    const way = planWay().map((index) => this.placeOf(index)).map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`);
    const parts = [draw("path", { class: "plan-way", d: `M${way.join("L")}` })];
    let last = [-99, -99];
    places.forEach(([x, y], row) => {
      parts.push(draw("rect", { class: "plan-step", x: x - 4, y: y - 4, width: 8, height: 8 }));
      if (Math.hypot(x - last[0], y - last[1]) < 15) return;
      last = [x, y];
      parts.push(draw("text", { class: "plan-number", x: x - 8, y: y + 14, "text-anchor": "end" }, String(row + 1)));
    });
    return parts;
  }

  edge() {
    const { spec } = this;
    return edgeOf(this.order, this.y, spec.y.better);
  }

  applyMask() {
    this.drawDots();
    this.drawOverlay();
    if (!this.numbers.hidden) this.showNumbers();
  }

  nearest(x, y) {
    let best = null;
    let distance = REACH * REACH;
    const { area } = this;
    if (!area || x < area.left - 10 || x > area.left + area.width + 10) return null;
    const look = (index, px, py) => {
      const apart = (px - x) ** 2 + (py - y) ** 2;
      if (apart < distance) {
        distance = apart;
        best = index;
      }
    };
    for (const index of state.shown) look(index, this.pixels.x[index], this.pixels.y[index]);
    for (const index of planSteps()) look(index, ...this.placeOf(index));
    look(OWNED, this.toX(this.ownX), this.toY(this.ownY));
    return best;
  }

  listen() {
    let start = null;
    const clicked = placesOfClicks(this.svg);
    const place = (event) => {
      const frame = this.svg.getBoundingClientRect();
      return [event.clientX - frame.left, event.clientY - frame.top];
    };
    const stop = () => {
      start = null;
      this.frame.setAttribute("visibility", "hidden");
    };
    this.svg.addEventListener("pointerdown", (event) => {
      if (event.pointerType !== "mouse" || event.button !== 0) return;
      start = place(event);
      event.preventDefault();
      this.svg.setPointerCapture(event.pointerId);
    });
    this.svg.addEventListener("pointermove", (event) => {
      const [x, y] = place(event);
      if (start && Math.hypot(x - start[0], y - start[1]) > 8) {
        hideTip();
        fill(
          this.frame,
          {
            x: Math.min(x, start[0]), y: Math.min(y, start[1]),
            width: Math.abs(x - start[0]), height: Math.abs(y - start[1]), visibility: "visible",
          },
          [],
        );
        return;
      }
      const index = this.nearest(x, y);
      this.svg.classList.toggle("over", index !== null);
      if (index === null) hideTip();
      else showTip(index, event);
    });
    this.svg.addEventListener("pointerleave", hideTip);
    this.svg.addEventListener("pointercancel", stop);
    this.svg.addEventListener("pointerup", (event) => {
      const [x, y] = place(event);
      const dragged = start && Math.hypot(x - start[0], y - start[1]) > 8;
      const from = start;
      stop();
      if (dragged && Math.abs(x - from[0]) > 8 && Math.abs(y - from[1]) > 8) {
        const ordered = (one, other) => (one < other ? [one, other] : [other, one]);
        this.zoomTo({
          x: ordered(this.backX(from[0]), this.backX(x)),
          y: ordered(this.backY(from[1]), this.backY(y)),
        });
      }
      this.dragged = Boolean(dragged);
    });
    this.svg.addEventListener("click", (event) => {
      const index = this.nearest(...place(clicked(event)));
      if (!this.dragged && index !== null) select(index);
      this.dragged = false;
    });
    this.svg.addEventListener("dblclick", () => this.zoomTo(null));
    this.svg.addEventListener("keydown", (event) => this.pressed(event));
  }

  /** Arrow keys walk along the stepped line from left to right. */
  pressed(event) {
    const edge = [...this.edge()].sort((one, other) => this.x[one] - this.x[other]);
    const last = edge.length - 1;
    if (last < 0) return;
    const place = new Machine(state.selected).result(this.spec.x.key);
    const exact = edge.indexOf(state.selected);
    const after = edge.findIndex((index) => this.x[index] > place);
    const moves = {
      ArrowRight: exact >= 0 ? exact + 1 : after < 0 ? last : after,
      ArrowLeft: exact >= 0 ? exact - 1 : after < 0 ? last : after - 1,
      Home: 0,
      End: last,
    };
    if (!(event.key in moves)) return;
    event.preventDefault();
    select(edge[Math.min(Math.max(moves[event.key], 0), last)]);
  }

  zoomTo(zoom) {
    this.zoom = zoom;
    this.whole.hidden = zoom === null;
    this.layout();
  }

  showLegend() {
    const { shade } = this.spec;
    const [low, high] = endsOf(front.series(shade.key));
    const ends = shade.better > 0 ? [low, high] : [high, low];
    const swatches = Array.from({ length: BANDS }, (_, band) =>
      make("i", { class: `swatch band-${band}`, "aria-hidden": true }),
    );
    const words = [
      quantity(ends[0], shade.kind),
      make("span", { class: "swatches" }, swatches),
      quantity(ends[1], shade.kind),
      make("span", { class: "legend-words" }, ` a fuller colour is ${shade.words}`),
      this.spec.wide && planCount() ? make("span", { class: "legend-words" }, make("span", { class: "key-step", "aria-hidden": true }), " steps of the plan") : null,
      this.spec.wide ? make("span", { class: "legend-words tip-zoom" }, " Drag over a chart to look closer; arrow keys go along the stepped line.") : null,
    ];
    this.legend.replaceChildren(...words.filter((part) => part !== null));
  }

  /** Machines of the edge from the slowest on, a stride or more apart, and the quickest. */
  strides(edge) {
    const [low, high] = endsOf(edge.map((index) => this.x[index]));
    const stride = (high - low) / MOST_NUMBERS;
    const kept = [];
    for (const index of [...edge].reverse()) {
      const last = kept.at(-1);
      if (last === undefined || this.x[last] - this.x[index] >= stride) kept.push(index);
    }
    if (edge.length > 0 && kept.at(-1) !== edge[0]) kept.push(edge[0]);
    return kept;
  }

  showNumbers() {
    const { spec } = this;
    const priced = spec.y.key === OUTLAY;
    const edge = this.edge();
    const rows = priced ? this.strides(edge) : spread(edge.length, MOST_NUMBERS).map((step) => edge[step]);
    const header = ["Machine", titled(spec.x.title, spec.x.kind), titled(spec.y.title, spec.y.kind)];
    if (priced) header.push(`A second less costs, ${brief(content.study.currency, 12)}`);
    const body = rows.map((index, step) => {
      const cells = [machineButton(index), bare(this.x[index], spec.x.kind), bare(this.y[index], spec.y.kind)];
      if (priced) {
        const before = rows[step - 1];
        const price =
          before === undefined
            ? null
            : (this.y[index] - this.y[before]) / (this.x[before] - this.x[index]);
        cells.push(price === null ? "" : bare(price, "money"));
      }
      return cells;
    });
    const some = rows.length < edge.length ? `, ${rows.length} of ${edge.length}` : "";
    const caption = `Machines on the stepped line${some}`;
    this.numbers.replaceChildren(numbersTable(caption, header, body, `${spec.heading}: ${caption}`));
  }
}

function machineButton(index) {
  return make(
    "button",
    { type: "button", class: "link", onclick: () => select(index) },
    index === OWNED ? "yours" : index < OWNED ? `step ${planRow(index) + 1}` : `No. ${grouped(index + 1, 0)}`,
  );
}

function numbersTable(caption, header, rows, label = caption) {
  return make(
    "div",
    { class: "scroller", tabindex: "0", role: "region", "aria-label": label },
    make(
      "table",
      { class: "ledger" },
      make("caption", {}, caption),
      make("thead", {}, make("tr", {}, header.map((text) => make("th", { scope: "col" }, text)))),
      make(
        "tbody",
        {},
        rows.map(([first, ...rest]) =>
          make("tr", {}, make("th", { scope: "row" }, first), rest.map((cell) => make("td", {}, cell))),
        ),
      ),
    ),
  );
}

function numbersToggle(target, show) {
  const button = make("button", { type: "button", class: "quiet", "aria-expanded": "false" }, "Show numbers");
  button.addEventListener("click", () => {
    target.hidden = !target.hidden;
    if (!target.hidden) show();
    button.textContent = target.hidden ? "Show numbers" : "Hide numbers";
    button.setAttribute("aria-expanded", String(!target.hidden));
  });
  return button;
}

/* One tip for all charts. */

function showTip(index, event) {
  if (event.pointerType === "touch") return;
  const tip = byId("tip");
  if (tip.dataset.index !== String(index)) {
    const machine = new Machine(index);
    const rows = [
      ["Cycle", TIME, "time"],
      ["Out", "cycle.extend_s", "time"],
      ["Back", "cycle.retract_s", "time"],
      ["Force", FORCE, "force"],
      ["Outlay", OUTLAY, "money"],
      ["Oil, steady", "oil.steady_degC", "temperature"],
    ];
    const changed = machine.parts().filter((part) => part.changed);
    const parts = changed
      .slice(0, 7)
      .map((part) => make("li", {}, `${part.category}: `, make("bdi", {}, brief(part.name, 44))));
    if (changed.length > 7) parts.push(make("li", {}, `and ${changed.length - 7} more`));
    const list = machine.isOwned
      ? null
      : make("div", {}, make("b", {}, "Parts that are new"), make("ul", {}, parts));
    tip.replaceChildren(
      make("b", { class: "tip-title" }, machine.title),
      make(
        "dl",
        {},
        rows.map(([title, key, kind]) => [
          make("dt", {}, title),
          make("dd", {}, written(machine.result(key), kind)),
        ]),
      ),
      list,
    );
    tip.dataset.index = String(index);
  }
  placeTip(event);
}

/** Beside the pointer, inside the window. */
function placeTip(event) {
  const tip = byId("tip");
  tip.hidden = false;
  const { offsetWidth, offsetHeight } = tip;
  const right = event.clientX + 18 + offsetWidth > innerWidth;
  const x = right ? event.clientX - 18 - offsetWidth : event.clientX + 18;
  const y = Math.min(event.clientY + 14, innerHeight - offsetHeight - 8);
  tip.style.left = `${Math.max(4, x)}px`;
  tip.style.top = `${Math.max(4, y)}px`;
}

function hideTip() {
  const tip = byId("tip");
  tip.hidden = true;
  tip.dataset.index = "";
}

function startPairs() {
  if (!isFront()) return;
  const charts = PAIRS.map((spec) => new PairChart(spec));
  const overlays = oncePerFrame(() => charts.forEach((chart) => chart.drawOverlay()));
  const outOfView = afterPause(() => charts.forEach((chart) => chart.applyMask()), 30);
  const masks = oncePerFrame(() => {
    charts.filter((chart) => chart.inView).forEach((chart) => chart.applyMask());
    outOfView();
  });
  on("filter", masks);
  on("selection", overlays);
  on("pins", overlays);
  on("units", () => {
    charts.forEach((chart) => {
      chart.layout();
      if (!chart.numbers.hidden) chart.showNumbers();
    });
  });
}

/* All figures of every machine at once: parallel coordinates on a canvas of our own. */

const AXES = [
  { key: TIME, title: "Cycle", kind: "time", better: -1 },
  { key: "cycle.extend_s", title: "Out", kind: "time", better: -1 },
  { key: "cycle.retract_s", title: "Back", kind: "time", better: -1 },
  { key: FORCE, title: "Force", kind: "force", better: 1 },
  { key: OUTLAY, title: "Outlay", kind: "money", better: -1 },
  { key: "oil.steady_degC", title: "Oil, steady", kind: "temperature", better: -1 },
  { key: LEAST_MARGIN, title: "Least margin", kind: "share", better: 1 },
];
const PARALLEL_HEIGHT = 330;
const GRIP = 18;
const KEY_STEPS = 20;
const LINES_A_FRAME = 1500;

class ParallelChart {
  constructor(figure) {
    this.figure = figure;
    this.axes = AXES.map((axis) => {
      const series = front.series(axis.key);
      const own = owned.result(axis.key, 0);
      return { ...axis, series, own, ends: endsOf(series, own ?? NaN, ...stepFigures(axis.key)) };
    });
    this.canvas = make("canvas", {
      role: "img", tabindex: "0", "aria-label": "Parallel coordinates of all machines. Left and right choose an axis, up and down keep only the better machines on it, Delete lets go.",
    });
    this.labels = make("div", { class: "axis-labels", "aria-hidden": true });
    this.box = make("div", { class: "canvas-box parallel-box" }, this.canvas, this.labels);
    this.chips = make("p", { class: "chips" });
    this.numbers = make("div", { class: "numbers", hidden: true });
    const toggle = numbersToggle(this.numbers, () => this.showNumbers());
    const png = make(
      "button",
      { type: "button", class: "quiet", "aria-label": "Save as PNG: parallel", onclick: () => this.savePng() },
      "PNG",
    );
    const sentence =
      "One line is one machine; up is better on every axis. Lines that cross between two axes " +
      "trade one for the other. Drag along an axis to keep only what passes there, tap the axis " +
      "to let go.";
    figure.append(
      make("figcaption", {}, make("h3", {}, "Everything at once"), make("p", {}, sentence)),
      this.box,
      make(
        "div",
        { class: "under" },
        make("p", { class: "legend" }, make("span", { class: "key-own" }), "yours ", make("span", { class: "key-chosen" }), "chosen ", planCount() ? make("span", {}, make("span", { class: "key-plan" }), "steps of the plan") : null),
        this.chips,
        make("span", { class: "tools" }, png, toggle),
      ),
      this.numbers,
    );
    this.inView = true;
    const later = afterPause(() => this.paint(), 30);
    this.redraw = oncePerFrame(() => (this.inView ? this.paint() : later()));
    new IntersectionObserver(([entry]) => {
      this.inView = entry.isIntersecting;
    }).observe(this.box);
    this.width = 0;
    new ResizeObserver(([entry]) => {
      this.width = Math.floor(entry.contentRect.width);
      this.redraw();
    }).observe(this.box);
    this.listen();
  }

  layout() {
    this.top = this.width < 480 ? 60 : 46;
    this.bottom = PARALLEL_HEIGHT - 22;
    const inset = this.width < 480 ? 24 : 44;
    this.places = this.axes.map(
      (_, number) => inset + (number * (this.width - 2 * inset)) / (this.axes.length - 1),
    );
  }

  /** Height of a value on an axis; better is up. */
  level(axis, value) {
    const [low, high] = axis.ends;
    const share = high > low ? (value - low) / (high - low) : 0.5;
    const up = axis.better > 0 ? share : 1 - share;
    return this.bottom - up * (this.bottom - this.top);
  }

  valueAt(axis, y) {
    const up = Math.min(1, Math.max(0, (this.bottom - y) / (this.bottom - this.top)));
    const share = axis.better > 0 ? up : 1 - up;
    return axis.ends[0] + share * (axis.ends[1] - axis.ends[0]);
  }

  trace(pen, values) {
    pen.beginPath();
    values.forEach((value, number) => {
      if (!Number.isFinite(value)) return;
      const x = this.places[number];
      const y = this.level(this.axes[number], value);
      if (number === 0) pen.moveTo(x, y);
      else pen.lineTo(x, y);
    });
    pen.stroke();
  }

  paint() {
    if (this.width === 0) return;
    this.layout();
    const sharpness = Math.min(devicePixelRatio || 1, 2);
    this.canvas.width = Math.round(this.width * sharpness);
    this.canvas.height = Math.round(PARALLEL_HEIGHT * sharpness);
    this.canvas.style.width = `${this.width}px`;
    this.canvas.style.height = `${PARALLEL_HEIGHT}px`;
    const pen = this.canvas.getContext("2d");
    pen.scale(sharpness, sharpness);
    pen.lineJoin = "round";
    this.turn = (this.turn ?? 0) + 1;
    this.writeLabels();
    this.writeChips();
    this.paintSome(pen, this.turn, 0, state.shown);
  }

  /** A share of the lines, spread over all; the rest in the frames that follow. */
  paintSome(pen, turn, part, list) {
    if (turn !== this.turn) return;
    const parts = Math.max(1, Math.ceil(list.length / LINES_A_FRAME));
    pen.strokeStyle = styled("--mark");
    pen.lineWidth = 1;
    pen.globalAlpha = Math.max(0.06, Math.min(0.7, 40 / Math.max(list.length, 1)));
    const columns = this.axes.map((axis) => axis.series);
    for (let at = part; at < list.length; at += parts) {
      this.trace(pen, columns.map((column) => column[list[at]]));
    }
    pen.globalAlpha = 1;
    this.paintOver(pen);
    if (part + 1 < parts) requestAnimationFrame(() => this.paintSome(pen, turn, part + 1, list));
  }

  /** Axes, and the machines that stand out. */
  paintOver(pen) {
    this.paintAxes(pen);
    pen.lineWidth = 2;
    pen.strokeStyle = styled("--ink");
    pen.setLineDash([5, 4]);
    this.trace(pen, this.axes.map((axis) => axis.own ?? NaN));
    pen.setLineDash([]);
    const figuresOf = (index) => this.axes.map((axis) => new Machine(index).result(axis.key) ?? NaN);
    pen.lineWidth = 1.5;
    pen.strokeStyle = styled("--plan");
    pen.setLineDash([2, 3]);
    for (const index of planSteps()) this.trace(pen, figuresOf(index));
    pen.setLineDash([]);
    pen.lineWidth = 2;
    for (const { index } of state.pins) {
      pen.strokeStyle = styled("--mark-strong");
      if (index !== OWNED) this.trace(pen, figuresOf(index));
    }
    if (state.selected !== OWNED) {
      pen.lineWidth = 2.5;
      pen.strokeStyle = styled("--chosen");
      this.trace(pen, figuresOf(state.selected));
    }
  }

  paintAxes(pen) {
    this.axes.forEach((axis, number) => {
      const x = this.places[number];
      pen.strokeStyle = styled("--ink-2");
      pen.lineWidth = 1;
      pen.beginPath();
      pen.moveTo(x, this.top);
      pen.lineTo(x, this.bottom);
      pen.stroke();
      const brush = state.brushes.get(axis.key);
      if (!brush) return;
      const ends = brush.map((value) => this.level(axis, value));
      const [y, height] = [Math.min(...ends), Math.abs(ends[1] - ends[0])];
      pen.fillStyle = styled("--chosen");
      pen.globalAlpha = 0.25;
      pen.fillRect(x - 6, y, 12, height);
      pen.globalAlpha = 1;
      pen.strokeStyle = styled("--chosen");
      pen.strokeRect(x - 6, y, 12, height);
    });
  }

  writeLabels() {
    const room = this.places[1] - this.places[0];
    this.labels.replaceChildren(
      ...this.axes.flatMap((axis, number) => {
        const [low, high] = axis.ends;
        const [best, worst] = axis.better > 0 ? [high, low] : [low, high];
        const share = (pixels) => `${(100 * pixels) / this.width}%`;
        const style = { left: share(this.places[number] - room / 2), width: share(room) };
        return [
          make(
            "span",
            { class: "axis-name", style },
            make("b", {}, axis.title),
            " ",
            make("i", {}, brief(unitOf(axis.kind), 8)),
          ),
          make("span", { class: "axis-best", style }, bare(best, axis.kind)),
          make("span", { class: "axis-worst", style }, bare(worst, axis.kind)),
        ];
      }),
    );
  }

  writeChips() {
    this.chips.replaceChildren(
      ...[...state.brushes].map(([key, ends]) => {
        const axis = this.axes.find((one) => one.key === key);
        const words = `${axis.title} ${bare(ends[0], axis.kind)} to ${written(ends[1], axis.kind)}`;
        const drop = () => {
          state.brushes.delete(key);
          applyFilters();
        };
        return make("button", { type: "button", class: "chip", onclick: drop }, `${words} ×`);
      }),
    );
  }

  axisAt(x) {
    const distances = this.places.map((place) => Math.abs(place - x));
    const number = distances.indexOf(Math.min(...distances));
    return distances[number] <= GRIP ? this.axes[number] : null;
  }

  /** Machine whose line passes nearest to a place between two axes. */
  nearest(x, y) {
    const right = this.places.findIndex((place) => place >= x);
    if (right < 1) return null;
    const share = (x - this.places[right - 1]) / (this.places[right] - this.places[right - 1]);
    const [one, other] = [this.axes[right - 1], this.axes[right]];
    let best = null;
    let distance = 12;
    for (const index of state.shown) {
      const from = this.level(one, one.series[index]);
      const to = this.level(other, other.series[index]);
      const apart = Math.abs(from + share * (to - from) - y);
      if (apart < distance) {
        distance = apart;
        best = index;
      }
    }
    return best;
  }

  listen() {
    let brushing = null;
    const place = (event) => {
      const frame = this.canvas.getBoundingClientRect();
      return [event.clientX - frame.left, event.clientY - frame.top];
    };
    const brushTo = (y) => {
      const ends = [brushing.from, this.valueAt(brushing.axis, y)].sort((one, other) => one - other);
      state.brushes.set(brushing.axis.key, ends);
      applyFilters();
    };
    this.canvas.addEventListener("pointerdown", (event) => {
      const [x, y] = place(event);
      const axis = this.axisAt(x);
      if (!axis) return;
      brushing = { axis, from: this.valueAt(axis, y), y, moved: false };
      this.canvas.setPointerCapture(event.pointerId);
      event.preventDefault();
    });
    this.canvas.addEventListener("pointermove", (event) => {
      const [x, y] = place(event);
      if (brushing) {
        brushing.moved ||= Math.abs(y - brushing.y) > 4;
        if (brushing.moved) brushTo(y);
        return;
      }
      const axis = this.axisAt(x);
      this.canvas.style.cursor = axis ? "ns-resize" : "crosshair";
      const index = axis ? null : this.nearest(x, y);
      if (index === null) hideTip();
      else showTip(index, event);
    });
    this.canvas.addEventListener("pointerup", (event) => {
      if (!brushing) {
        const index = this.nearest(...place(event));
        if (index !== null) select(index);
        return;
      }
      if (!brushing.moved && state.brushes.delete(brushing.axis.key)) applyFilters();
      brushing = null;
    });
    this.canvas.addEventListener("pointercancel", () => {
      brushing = null;
    });
    this.canvas.addEventListener("pointerleave", hideTip);
    this.canvas.addEventListener("keydown", (event) => this.pressed(event));
  }

  /** Keys: left and right choose an axis, up and down move its lower end, Delete lets go. */
  pressed(event) {
    const last = this.axes.length - 1;
    const here = this.active ?? 0;
    const turn = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    const rise = { ArrowUp: 1, ArrowDown: -1 }[event.key];
    if (turn === undefined && rise === undefined && event.key !== "Delete") return;
    event.preventDefault();
    if (turn) this.active = Math.min(last, Math.max(0, here + turn));
    const axis = this.axes[this.active ?? 0];
    const [best, worst] = axis.better > 0 ? [axis.ends[1], axis.ends[0]] : axis.ends;
    if (event.key === "Delete") state.brushes.delete(axis.key);
    if (rise) {
      const brush = state.brushes.get(axis.key);
      const end = brush ? brush[axis.better > 0 ? 0 : 1] : worst;
      const share = (end - worst) / (best - worst || 1) + rise / KEY_STEPS;
      if (share < 0.5 / KEY_STEPS) state.brushes.delete(axis.key);
      else {
        const moved = worst + Math.min(share, 1) * (best - worst);
        state.brushes.set(axis.key, [moved, best].sort((one, other) => one - other));
      }
    }
    if (!turn) applyFilters();
    const kept = state.brushes.get(axis.key);
    const range = kept ? `${bare(kept[0], axis.kind)} to ${written(kept[1], axis.kind)}` : "all";
    say(`${axis.title}: ${range}; ${grouped(state.shown.length, 0)} machines`);
  }

  async savePng() {
    saveBlob(`${fileStem()}-parallel.png`, await pictureOf(this.canvas, this.canvas, this.labels));
  }

  showNumbers() {
    const header = ["Axis", "From", "to", "Yours", "Chosen"];
    const machine = new Machine(state.selected);
    const rows = this.axes.map((axis) => {
      const [low, high] = endsOf(state.shown.map((index) => axis.series[index]));
      const some = state.shown.length > 0;
      return [
        titled(axis.title, axis.kind),
        some ? bare(low, axis.kind) : NO_VALUE,
        some ? bare(high, axis.kind) : NO_VALUE,
        bare(axis.own, axis.kind),
        bare(machine.result(axis.key), axis.kind),
      ];
    });
    const caption = "Range of each figure over the machines that pass the filters";
    this.numbers.replaceChildren(numbersTable(caption, header, rows));
  }
}

function startParallel() {
  const figure = byId("parallel");
  if (!figure) return;
  const chart = new ParallelChart(figure);
  const refresh = () => {
    chart.redraw();
    if (!chart.numbers.hidden) chart.showNumbers();
  };
  for (const what of Object.keys(listeners)) on(what, refresh);
  on("print", () => chart.paint());
}

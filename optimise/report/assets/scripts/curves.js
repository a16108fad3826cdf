/* Charts of lines: panels one above the other that share the axis across. */

const CURVE_HEIGHT = { alone: 270, stacked: 170 };
const CURVE_TOP = 26;
const CURVE_SIGNS = 12;
const CURVE_FOOT = 44;
const CURVE_NUMBERS = 24;
const CURSOR_STEPS = 60;

/** Time of the day, such as 07:30. */
function clockOf(seconds) {
  const minutes = Math.round(seconds / 60);
  const two = (number) => String(number).padStart(2, "0");
  return `${two(Math.floor(minutes / 60) % 24)}:${two(minutes % 60)}`;
}

function axisText(axis, value) {
  if (axis.clock) return clockOf(value);
  return axis.whole ? `${axis.title}: ${grouped(value, 0)}` : written(value, axis.kind);
}

/** Value of a series at a place; null outside of it. */
function valueAt({ x, y, step }, place) {
  if (x.length === 0 || place < x[0] || place > x.at(-1)) return null;
  let after = x.findIndex((one) => one > place);
  if (after < 0) after = x.length;
  const before = after - 1;
  if (step || after === x.length) return y[before];
  if (y[before] === null || y[after] === null) return null;
  const share = (place - x[before]) / (x[after] - x[before]);
  return y[before] + share * (y[after] - y[before]);
}

class CurveChart {
  constructor(spec) {
    this.spec = spec;
    this.cursor = null;
    this.svg = draw("svg", { role: "img", tabindex: "0", "aria-label": spec.title });
    this.box = make("div", { class: "canvas-box" }, this.svg);
    this.numbers = make("div", { class: "numbers", hidden: true });
    this.figure = chartFigure(this, "curve", this.markList());
    new ResizeObserver(oncePerFrame(() => this.layout())).observe(this.box);
    this.listen();
  }

  allSeries() {
    return this.spec.panels.flatMap((panel) => panel.series);
  }

  /** Lines by their looks; where there are panels, each with its own, as looks come again. */
  legend() {
    const { panels } = this.spec;
    return panels.map(({ title, series }) =>
      make(
        "span",
        { class: "legend-panel" },
        panels.length > 1 ? make("b", {}, `${title}: `) : null,
        series.map(({ name, style }) =>
          make("span", { class: "legend-item" }, make("span", { class: `line-key line-${style}`, "aria-hidden": true }), name),
        ),
      ),
    );
  }

  markList() {
    if (this.spec.marks.length === 0) return null;
    const entry = ({ sign, before, value, after }) => make("li", {}, make("b", {}, sign), " ", brief(before, 120), this.spec.across.whole ? grouped(value, 0) : quantity(value, this.spec.across.kind), brief(after, 160));
    return make("ul", { class: "marks-list" }, this.spec.marks.map(entry));
  }

  ends() {
    const { bands } = this.spec;
    return endsOf(this.allSeries().flatMap(({ x }) => x.filter((one) => one !== null)), ...bands.map(({ start }) => start));
  }

  layout() {
    const width = this.box.clientWidth;
    if (width === 0) return;
    const { panels, across } = this.spec;
    const tall = panels.length > 1 ? CURVE_HEIGHT.stacked : CURVE_HEIGHT.alone;
    const [x0, x1] = this.ends();
    const room = x1 > x0 ? 0 : 1;
    const scales = panels.map((panel, nth) => this.panelScale(panel, nth * tall, tall));
    const left = marginFor(scales.flatMap(({ up }) => up.words), width);
    this.area = { left, width: width - left - 14 };
    this.toX = (value) => left + ((value - x0) / (x1 - x0 + room)) * this.area.width;
    this.backX = (pixel) => x0 + ((pixel - left) / this.area.width) * (x1 - x0);
    const height = panels.length * tall + CURVE_FOOT - 20;
    fill(this.svg, { width, height, viewBox: `0 0 ${width} ${height}` }, []);
    this.line = draw("line", { class: "cursor", y1: CURVE_TOP, y2: height - CURVE_FOOT, visibility: "hidden" });
    const parts = panels.flatMap((panel, nth) => this.panelParts(panel, nth * tall, scales[nth]));
    this.svg.replaceChildren(...parts, ...this.footParts(height), this.line);
    this.across = across;
  }

  /** Middle of a text near a place that keeps it inside the drawing. */
  inside(x, text) {
    return within(x, text, this.area.left + this.area.width + 14);
  }

  /** Signs of the marks from left to right, those that would touch in one. */
  markLabels() {
    const room = (text) => 3.6 * text.length + 4;
    const labels = this.spec.marks
      .map(({ sign, value }) => ({ x: this.inside(this.toX(value), sign), text: sign }))
      .sort((one, other) => one.x - other.x);
    for (let at = 1; at < labels.length; ) {
      const [one, other] = [labels[at - 1], labels[at]];
      if (other.x - one.x >= room(one.text) + room(other.text)) {
        at += 1;
        continue;
      }
      const text = `${one.text}, ${other.text}`;
      labels.splice(at - 1, 2, { x: this.inside((one.x + other.x) / 2, text), text });
      at = Math.max(1, at - 1);
    }
    return labels;
  }

  /** Upper and lower edge of a panel in pixels, the ends of its axis in SI, and its figures. */
  panelScale(panel, from, tall) {
    const signs = from === 0 && this.spec.marks.length > 0 ? CURVE_SIGNS : 0;
    const [top, bottom] = [from + CURVE_TOP + signs, from + tall - 20];
    const values = panel.series.flatMap(({ y }) => y.filter((one) => one !== null));
    let [low, high] = endsOf(values, ...panel.levels.map(({ value }) => value ?? NaN));
    if (low > 0 && low < 0.35 * high && panel.kind !== "temperature") low = 0;
    const room = 0.06 * (high - low) || 1;
    [low, high] = [low === 0 ? 0 : low - room, high + room];
    return { top, bottom, low, high, up: ticksIn(low, high, panel.kind, (bottom - top) / 42) };
  }

  panelParts(panel, from, { top, bottom, low, high, up }) {
    const { left, width } = this.area;
    const toY = (value) => bottom - ((value - low) / (high - low)) * (bottom - top);
    const parts = [];
    for (const { start, end, name } of this.spec.bands) {
      const [x, to] = [this.toX(start), this.toX(end)];
      parts.push(draw("rect", { class: "band", x, y: top, width: Math.max(to - x, 1), height: bottom - top }));
      const words = [name, name.split(" ").at(-1)].find((some) => 6.2 * some.length < to - x);
      if (panel === this.spec.panels.at(-1) && words && this.spec.marks.length === 0) {
        parts.push(draw("text", { class: "band-name", x: (x + to) / 2, y: top - 4, "text-anchor": "middle" }, words));
      }
    }
    up.places.forEach((place, nth) => {
      const y = toY(place);
      if (y > bottom + 1 || y < top - 1) return;
      parts.push(
        draw("line", { class: "grid", x1: left, x2: left + width, y1: y, y2: y }),
        draw("text", { x: left - 8, y: y + 4, "text-anchor": "end" }, up.words[nth]),
      );
    });
    parts.push(draw("line", { class: "base", x1: left, x2: left + width, y1: bottom, y2: bottom }));
    for (const { value } of this.spec.marks) {
      const x = this.toX(value);
      parts.push(draw("line", { class: "mark-line", x1: x, x2: x, y1: top, y2: bottom }));
    }
    if (from === 0) {
      for (const { x, text } of this.markLabels()) parts.push(draw("text", { class: "mark-number", x, y: top - 4, "text-anchor": "middle" }, text));
    }
    panel.levels.forEach(({ name, value }, nth) => {
      if (value === null) return;
      const y = toY(value);
      const label = nth % 2 ? { x: left + 4, "text-anchor": "start" } : { x: left + width, "text-anchor": "end" };
      parts.push(
        draw("line", { class: "level", x1: left, x2: left + width, y1: y, y2: y }),
        draw("text", { class: "level-name", y: y - 5, ...label }, `${name} ${written(value, panel.kind)}`),
      );
    });
    for (const one of panel.series) parts.push(...this.seriesParts(one, toY));
    parts.push(draw("text", { class: "axis-title", x: 0, y: from + 13 }, titled(panel.title, panel.kind)));
    return parts;
  }

  seriesParts(one, toY) {
    const path = [];
    let open = false;
    one.x.forEach((x, at) => {
      const y = one.y[at];
      if (y === null || x === null) {
        open = false;
        return;
      }
      const [px, py] = [this.toX(x).toFixed(1), toY(y).toFixed(1)];
      if (!open) path.push(`M${px},${py}`);
      else path.push(one.step ? `H${px}V${py}` : `L${px},${py}`);
      open = true;
    });
    const parts = [draw("path", { class: `series line-${one.style}`, d: path.join("") })];
    if (one.dots) {
      one.x.forEach((x, at) => {
        if (one.y[at] !== null) parts.push(draw("circle", { class: `dot line-${one.style}`, cx: this.toX(x), cy: toY(one.y[at]), r: 3.5 }));
      });
    }
    return parts;
  }

  footParts(height) {
    const { across } = this.spec;
    const [x0, x1] = this.ends();
    const bottom = height - CURVE_FOOT;
    const hour = 3600;
    const scale = (value) => (across.clock ? value / hour : inUnit(value, across.kind));
    const back = (number) => (across.clock ? number * hour : fromUnit(number, across.kind));
    const { ticks, decimals } = ticksBetween(scale(x0), scale(x1), across.whole ? Math.min(x1 - x0, this.area.width / 80) : this.area.width / 80);
    const parts = ticks.map((tick) => {
      const x = this.toX(back(tick));
      const words = across.clock ? clockOf(back(tick)) : grouped(tick, decimals);
      return [
        draw("line", { class: "tick", x1: x, x2: x, y1: bottom, y2: bottom + 5 }),
        draw("text", { x: this.inside(x, words), y: bottom + 19, "text-anchor": "middle" }, words),
      ];
    });
    const title = across.clock ? across.title : titled(across.title, across.kind);
    const end = { class: "axis-title", x: this.area.left + this.area.width, y: bottom + 38, "text-anchor": "end" };
    return [...parts.flat(), draw("text", end, title)];
  }

  /** Values of all series at a place, in words. */
  valuesAt(place) {
    return this.spec.panels.flatMap((panel) =>
      panel.series.map((one) => [one.name, written(valueAt(one, place), panel.kind)]).filter(([, text]) => text !== NO_VALUE),
    );
  }

  point(anywhere, event) {
    const place = this.spec.across.whole ? Math.round(anywhere) : anywhere;
    this.cursor = place;
    const x = this.toX(place);
    fill(this.line, { x1: x, x2: x, visibility: "visible" }, []);
    const rows = this.valuesAt(place);
    const tip = byId("tip");
    tip.dataset.index = "";
    tip.replaceChildren(
      make("b", { class: "tip-title" }, axisText(this.spec.across, place)),
      make("dl", {}, rows.map(([name, text]) => [make("dt", {}, name), make("dd", {}, text)])),
    );
    placeTip(event);
    return `${axisText(this.spec.across, place)}: ${rows.map((row) => row.join(" ")).join(", ")}`;
  }

  leave() {
    this.line?.setAttribute("visibility", "hidden");
    hideTip();
  }

  listen() {
    this.svg.addEventListener("pointermove", (event) => {
      if (!this.area) return;
      const place = this.backX(event.clientX - this.svg.getBoundingClientRect().left);
      const [x0, x1] = this.ends();
      if (place < x0 || place > x1) this.leave();
      else this.point(place, event);
    });
    this.svg.addEventListener("pointerleave", () => this.leave());
    this.svg.addEventListener("blur", () => this.leave());
    this.svg.addEventListener("keydown", (event) => {
      const [x0, x1] = this.ends();
      const step = this.spec.across.whole ? 1 : (x1 - x0) / CURSOR_STEPS;
      const here = this.cursor ?? x0;
      const moves = { ArrowLeft: here - step, ArrowRight: here + step, Home: x0, End: x1 };
      if (!(event.key in moves)) return;
      event.preventDefault();
      const place = Math.min(x1, Math.max(x0, moves[event.key]));
      const frame = this.svg.getBoundingClientRect();
      say(this.point(place, { clientX: frame.left + this.toX(place), clientY: frame.top + 40 }));
    });
  }

  showNumbers() {
    const { across, panels } = this.spec;
    const longest = this.allSeries().reduce((one, other) => (other.x.length > one.x.length ? other : one));
    const [x0, x1] = this.ends();
    const places = this.allSeries().some(({ dots }) => dots)
      ? [...new Set(this.allSeries().flatMap(({ x }) => x))].sort((one, other) => one - other)
      : longest.x.length <= CURVE_NUMBERS
        ? longest.x
        : Array.from({ length: CURVE_NUMBERS + 1 }, (_, nth) => x0 + ((x1 - x0) * nth) / CURVE_NUMBERS);
    const header = [
      across.clock ? across.title : titled(across.title, across.kind),
      ...panels.flatMap((panel) => panel.series.map(({ name }) => titled(name, panel.kind))),
    ];
    const rows = places.map((place) => [
      across.clock ? clockOf(place) : across.whole ? grouped(place, 0) : bare(place, across.kind),
      ...panels.flatMap((panel) => panel.series.map((one) => {
        const value = valueAt(one, place);
        return value === null ? "" : bare(value, panel.kind);
      })),
    ]);
    this.numbers.replaceChildren(numbersTable(this.spec.title, header, rows));
  }

  refresh() {
    this.layout();
    if (!this.numbers.hidden) this.showNumbers();
  }
}

/* Charts of lengths, and of readings beside the model. */

const BAR_ROW = 40;
const STRIP_ROW = 76;

class RowChart {
  constructor(spec, rowHeight) {
    this.spec = spec;
    this.rowHeight = rowHeight;
    this.svg = draw("svg", { role: "img", "aria-label": spec.title });
    this.box = make("div", { class: "canvas-box" }, this.svg);
    this.numbers = make("div", { class: "numbers", hidden: true });
    this.figure = chartFigure(this, "rows");
    new ResizeObserver(oncePerFrame(() => this.layout())).observe(this.box);
  }

  legend() {
    return [];
  }

  layout() {
    const width = this.box.clientWidth;
    if (width === 0) return;
    const height = this.rowHeight * this.rows().length + 6;
    fill(this.svg, { width, height, viewBox: `0 0 ${width} ${height}` }, []);
    this.svg.replaceChildren(...this.rows().flatMap((row, nth) => this.rowParts(row, nth * this.rowHeight, width)));
  }

  refresh() {
    this.layout();
    if (!this.numbers.hidden) this.showNumbers();
  }
}

class BarChart extends RowChart {
  constructor(spec) {
    super(spec, BAR_ROW);
  }

  rows() {
    return this.spec.bars;
  }

  rowParts({ name, value }, from, width) {
    const most = Math.max(...this.spec.bars.map((bar) => bar.value ?? 0), 1e-12);
    const room = width - 76;
    const length = Math.max((room * (value ?? 0)) / most, 1.5);
    return [
      draw("text", { class: "row-name", x: 1, y: from + 14 }, brief(name, 60)),
      draw("rect", { class: "row-bar", x: 0, y: from + 20, width: length, height: 12 }),
      draw("text", { x: length + 7, y: from + 30 }, written(value, this.spec.kind)),
    ];
  }

  showNumbers() {
    const rows = this.spec.bars.map(({ name, value }) => [brief(name, 60), written(value, this.spec.kind)]);
    this.numbers.replaceChildren(numbersTable(this.spec.title, ["What", "Share of the whole"], rows));
  }
}

class StripChart extends RowChart {
  constructor(spec) {
    super(spec, STRIP_ROW);
  }

  rows() {
    return this.spec.strips;
  }

  legend() {
    const key = (style, words) =>
      make("span", { class: "legend-item" }, make("span", { class: `strip-key ${style}`, "aria-hidden": true }), words);
    return [key("reading", "reading"), key("model", "fitted model"), key("plain", "study's constants")];
  }

  rowParts({ name, kind, reading, study, model }, from, width) {
    const [low, high] = endsOf([...reading, ...model, study].map((value) => value ?? NaN));
    const room = 0.06 * (high - low) || 1e-9;
    const toX = (value) => ((value - low + room) / (high - low + 2 * room)) * width;
    const span = (style, [start, middle, end], y) => [
      draw("rect", { class: `strip ${style}`, x: toX(start), y, width: Math.max(toX(end) - toX(start), 2), height: 8 }),
      draw("circle", { class: `strip-dot ${style}`, cx: toX(middle), cy: y + 4, r: 4.5 }),
    ];
    const known = (values) => values.every((value) => value !== null);
    return [
      draw("text", { class: "row-name", x: 1, y: from + 14 }, brief(name, 40)),
      draw("text", { x: width - 1, y: from + 14, "text-anchor": "end" }, `read ${written(reading[1], kind)}, model ${written(model[1], kind)}`),
      draw("line", { class: "grid", x1: 0, x2: width, y1: from + 35, y2: from + 35 }),
      draw("text", { class: "strip-end", x: toX(low), y: from + 62 }, written(low, kind)),
      draw("text", { class: "strip-end", x: toX(high), y: from + 62, "text-anchor": "end" }, written(high, kind)),
      ...(known(reading) ? span("reading", reading, from + 22) : []),
      ...(known(model) ? span("model", model, from + 38) : []),
      study === null ? null : draw("path", { class: "strip-plain", d: `M${toX(study)},${from + 20}v30` }),
    ].filter((part) => part !== null);
  }

  showNumbers() {
    const range = (values, kind) => `${bare(values[0], kind)} to ${bare(values[2], kind)}`;
    const header = ["Reading", "Read", "9 times in 10", "Fitted model", "9 times in 10", "Study's constants"];
    const rows = this.spec.strips.map(({ name, kind, reading, study, model }) => [
      brief(titled(name, kind), 60),
      bare(reading[1], kind),
      range(reading, kind),
      bare(model[1], kind),
      range(model, kind),
      bare(study, kind),
    ]);
    this.numbers.replaceChildren(numbersTable(this.spec.title, header, rows));
  }
}

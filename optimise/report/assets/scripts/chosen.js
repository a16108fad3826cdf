/* What follows the chosen machine at full width: its circuit, and hands and ram in time. */

/** Stretches of ram and hands over one mean piece. */
function stretchesOf(machine) {
  const get = (key) => machine.result(key) ?? NaN;
  const [back, reversals, loaded, piece] = ["cycle.retract_s", "cycle.reversal_s", "cycle.loaded_total_s", "work.piece_period_s"].map(get);
  const out = loaded - back - reversals;
  const half = reversals / 2;
  return {
    piece,
    ram: [
      ["reversal", 0, half],
      ["out", half, half + out],
      ["reversal", half + out, reversals + out],
      ["back", reversals + out, loaded],
    ],
    hands: [["hands", piece - content.hands_s, piece]],
  };
}

const STRETCH_WORDS = { out: "out, through wood", back: "back", reversal: "reversal", hands: "hands set the next piece" };

class Timeline {
  constructor() {
    this.svg = draw("svg", { role: "img" });
    this.box = make("div", { class: "canvas-box" }, this.svg);
    this.numbers = make("div", { class: "numbers", hidden: true });
    this.sentence = make("p", {});
    const legend = ["out", "back", "reversal", "hands"].map((kind) =>
      make("span", { class: "legend-item" }, make("span", { class: `strip-key stretch-${kind}`, "aria-hidden": true }), STRETCH_WORDS[kind]),
    );
    this.figure = make(
      "figure",
      { class: "chart", id: "timeline" },
      make("figcaption", {}, make("h3", {}, "Hands and ram"), this.sentence),
      this.box,
      make("div", { class: "under" }, make("p", { class: "legend" }, legend), chartTools("timeline", () => this.svg, this.numbers, () => this.showNumbers())),
      this.numbers,
    );
    new ResizeObserver(oncePerFrame(() => this.layout())).observe(this.box);
  }

  machines() {
    return state.selected === OWNED ? [OWNED] : [OWNED, state.selected];
  }

  words() {
    const hidden = new Machine(state.selected).result("work.hidden_s") ?? NaN;
    const alone = content.hands_s - hidden;
    return [
      "One mean piece of the wood mix. The hands work ",
      quantity(content.hands_s, "time"),
      " on the next piece; ",
      quantity(hidden, "time"),
      " of that run while the ram goes back, for ",
      quantity(alone, "time"),
      " the ram waits. A quicker ram helps only before the hands begin.",
    ];
  }

  layout() {
    const width = this.box.clientWidth;
    if (width === 0) return;
    const groups = this.machines().map((index) => ({ index, ...stretchesOf(new Machine(index)) }));
    const longest = Math.max(...groups.map(({ piece }) => piece));
    if (!Number.isFinite(longest)) {
      this.svg.replaceChildren();
      return;
    }
    const left = 62;
    const toX = (seconds) => left + (seconds / longest) * (width - left - 60);
    const height = groups.length * 74 + 40;
    const parts = groups.flatMap(({ index, piece, ram, hands }, nth) => {
      const top = 74 * nth;
      const block = ([kind, from, to], y) =>
        draw("rect", { class: `stretch stretch-${kind}`, x: toX(from), y, width: Math.max(toX(to) - toX(from), 1), height: 18 });
      return [
        draw("text", { class: "row-name", x: 0, y: top + 13 }, new Machine(index).title),
        draw("text", { x: left - 8, y: top + 34, "text-anchor": "end" }, "ram"),
        draw("text", { x: left - 8, y: top + 56, "text-anchor": "end" }, "hands"),
        ...ram.map((one) => block(one, top + 21)),
        ...hands.map((one) => block(one, top + 43)),
        draw("text", { x: toX(piece) + 6, y: top + 45 }, written(piece, "time")),
      ];
    });
    const bottom = height - 34;
    const ticks = ticksBetween(0, longest, (width - left) / 80);
    parts.push(
      draw("line", { class: "base", x1: left, x2: toX(longest), y1: bottom, y2: bottom }),
      ...ticks.ticks.map((tick) => draw("text", { x: toX(tick), y: bottom + 16, "text-anchor": "middle" }, grouped(tick, ticks.decimals))),
      draw("text", { class: "axis-title", x: toX(longest), y: bottom + 32, "text-anchor": "end" }, titled("Time", "time")),
    );
    fill(this.svg, { width, height, viewBox: `0 0 ${width} ${height}`, "aria-label": `Hands and ram over one piece. ${this.sentence.textContent}` }, []);
    this.svg.replaceChildren(...parts);
  }

  showNumbers() {
    const rows = this.machines().flatMap((index) => {
      const { ram, hands } = stretchesOf(new Machine(index));
      return [...ram, ...hands].map(([kind, from, to]) => [new Machine(index).title, STRETCH_WORDS[kind], bare(from, "time"), bare(to, "time")]);
    });
    this.numbers.replaceChildren(numbersTable("What happens when in one piece", ["Machine", "What", titled("From", "time"), titled("To", "time")], rows));
  }

  refresh() {
    this.sentence.replaceChildren(...this.words());
    this.layout();
    if (!this.numbers.hidden) this.showNumbers();
  }
}

function startChosen() {
  const root = byId("chosen");
  const title = make("h2", { id: "chosen-title" });
  const circuit = make("div");
  const timeline = new Timeline();
  root.append(title, circuit, timeline.figure);
  const write = () => {
    const machine = new Machine(state.selected);
    title.textContent = `${machine.title}: circuit, hands and ram`;
    circuit.replaceChildren(...circuitBlock(machine));
    timeline.refresh();
  };
  write();
  for (const what of ["selection", "units"]) on(what, write);
}

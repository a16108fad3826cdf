/* Machines by money and time: kept and crossed, the line over the quickest for the money. */

const STAIRS_HEIGHT = 340;
const STAIRS_REACH = 26;

class StairsChart {
  constructor(spec) {
    this.spec = spec;
    this.order = spec.spots.map((_, at) => at).sort((one, other) => spec.spots[one].x - spec.spots[other].x || spec.spots[other].y - spec.spots[one].y);
    this.at = -1;
    this.svg = draw("svg", { role: "img", tabindex: "0", "aria-label": spec.title });
    this.box = make("div", { class: "canvas-box" }, this.svg);
    this.numbers = make("div", { class: "numbers", hidden: true });
    this.figure = chartFigure(this, "stairs", this.limitList());
    new ResizeObserver(oncePerFrame(() => this.layout())).observe(this.box);
    this.listen();
  }

  legend() {
    const crossed = this.spec.spots.some(({ kept }) => !kept);
    const key = (name, sign, words) => make("span", { class: "legend-item" }, make("span", { class: `spot-key ${name}`, "aria-hidden": true }, sign), words);
    return [key("kept", "", "keeps every hard limit"), crossed ? key("crossed", "×", "crosses a hard limit") : null];
  }

  limitList() {
    if (this.spec.limits.length === 0) return null;
    const entry = ({ letter, name }) => make("li", {}, make("b", {}, letter), ` ${brief(name, 90)}`);
    return make("ul", { class: "marks-list letters" }, this.spec.limits.map(entry));
  }

  /** Places of the spots, in pixels of the drawing. */
  scales(width, height) {
    const { spots, up } = this.spec;
    const [top, bottom, right] = [30, height - 46, width - 18];
    const [x0, x1] = endsOf(spots.map(({ x }) => x));
    const [y0, y1] = endsOf(spots.map(({ y }) => y));
    const rising = ticksIn(y0, y1, up.kind, (bottom - top) / 48);
    const left = marginFor(rising.words, width);
    const [wide, tall] = [x1 - x0 || 1, y1 - y0 || 1];
    const toX = (x) => left + 14 + ((x - x0) / wide) * (right - left - 28);
    const toY = (y) => bottom - 14 - ((y - y0) / tall) * (bottom - top - 28);
    return { left, right, top, bottom, ends: [x0, x1, y0, y1], rising, toX, toY };
  }

  layout() {
    const width = this.box.clientWidth;
    if (width === 0) return;
    const height = STAIRS_HEIGHT;
    const { spots, steps, across, up } = this.spec;
    const { left, right, top, bottom, ends, rising, toX, toY } = this.scales(width, height);
    const [x0, x1, y0, y1] = ends;
    fill(this.svg, { width, height, viewBox: `0 0 ${width} ${height}` }, []);
    this.places = spots.map(({ x, y }) => [toX(x), toY(y)]);
    const parts = [];
    (y1 > y0 ? rising.places : []).forEach((place, nth) => {
      const y = toY(place);
      parts.push(draw("line", { class: "grid", x1: left, x2: right, y1: y, y2: y }), draw("text", { x: left - 8, y: y + 4, "text-anchor": "end" }, rising.words[nth]));
    });
    const along = ticksIn(x0, x1, across.kind, (right - left) / 80);
    (x1 > x0 ? along.places : []).forEach((place, nth) => {
      const x = toX(place);
      parts.push(draw("line", { class: "tick", x1: x, x2: x, y1: bottom, y2: bottom + 5 }), draw("text", { x: within(x, along.words[nth], right + 18), y: bottom + 19, "text-anchor": "middle" }, along.words[nth]));
    });
    parts.push(
      draw("line", { class: "base", x1: left, x2: right, y1: bottom, y2: bottom }),
      draw("text", { class: "axis-title", x: 0, y: 13 }, titled(up.title, up.kind)),
      draw("text", { class: "axis-title", x: right, y: height - 6, "text-anchor": "end" }, titled(across.title, across.kind)),
    );
    const way = steps.map((at, nth) => (nth === 0 ? `M${this.places[at].join(",")}` : `H${this.places[at][0]}V${this.places[at][1]}`));
    if (way.length > 1) parts.push(draw("path", { class: "series line-0", d: way.join("") }));
    spots.forEach(({ kept }, at) => {
      const [x, y] = this.places[at];
      parts.push(
        kept
          ? draw("circle", { class: "spot kept", cx: x, cy: y, r: spots.length > 60 ? 3 : 5 })
          : draw("path", { class: "spot crossed", d: `M${x - 4.5},${y - 4.5}l9,9M${x - 4.5},${y + 4.5}l9,-9` }),
      );
    });
    parts.push(...this.labels(left, right, top, bottom));
    this.ring = draw("circle", { class: "spot-ring", r: 9.5, visibility: "hidden" });
    this.svg.replaceChildren(...parts, this.ring);
  }

  /** Words at the spots: roles always, letters of limits where there is room. */
  labels(left, right, top, bottom) {
    const taken = this.places.map(([x, y]) => [x - 5, y - 5, x + 5, y + 5]);
    const way = this.spec.steps.map((at) => this.places[at]);
    way.slice(1).forEach(([x, y], nth) => taken.push([way[nth][0], way[nth][1] - 2, x, way[nth][1] + 2], [x - 2, way[nth][1], x + 2, y]));
    const parts = [];
    const free = ([x0, y0, x1, y1]) => x0 >= left && x1 <= right && y0 >= top - 14 && y1 <= bottom && !taken.some(([a0, b0, a1, b1]) => x0 < a1 && x1 > a0 && y0 < b1 && y1 > b0);
    const put = (at, words, name, must) => {
      const [x, y] = this.places[at];
      const wide = words.length * (name === "spot-role" ? 6.6 : 6.2) + 4;
      const spots = [[x + 9, y + 4], [x - wide / 2, y - 10], [x - wide / 2, y + 19], [x - wide - 9, y + 4], [x + 9, y - 10], [x + 9, y + 19], [x - wide - 9, y - 10], [x - wide - 9, y + 19]];
      const box = ([a, b]) => [a, b - 10, a + wide, b + 3];
      const place = spots.find((one) => free(box(one))) ?? (must ? [Math.min(Math.max(x - wide / 2, left), right - wide), y - 10] : null);
      if (place === null) return;
      taken.push(box(place));
      parts.push(draw("text", { class: name, x: place[0], y: place[1] }, words));
    };
    const { spots } = this.spec;
    spots.forEach(({ roles }, at) => roles.length > 0 && put(at, roles.join(", "), "spot-role", true));
    spots.forEach(({ kept, limits }, at) => {
      if (kept || limits.length === 0) return;
      const hard = limits.filter((letter) => letter !== letter.toLowerCase());
      put(at, hard.length > 4 ? `${hard.slice(0, 3).join("")}+${hard.length - 3}` : hard.join(""), "spot-letters", false);
    });
    return parts;
  }

  rowsOf({ name, x, y, roles, limits }) {
    const { across, up } = this.spec;
    return [
      [across.title, written(x, across.kind)],
      [up.title, written(y, up.kind)],
      ...(roles.length > 0 ? [["Here", roles.join(", ")]] : []),
      ...(limits.length > 0 ? [["Crosses", this.limitWords(limits)]] : []),
    ];
  }

  limitWords(letters) {
    const named = letters.map((letter) => this.spec.limits.find((one) => one.letter === letter).name);
    return named.map((name) => brief(name, 90)).join("; ");
  }

  point(at, event) {
    this.at = at;
    const spot = this.spec.spots[at];
    const [x, y] = this.places[at];
    fill(this.ring, { cx: x, cy: y, visibility: "visible" }, []);
    const rows = this.rowsOf(spot);
    const tip = byId("tip");
    tip.dataset.index = "";
    tip.replaceChildren(
      make("b", { class: "tip-title" }, brief(spot.name, 120)),
      make("dl", {}, rows.map(([name, text]) => [make("dt", {}, name), make("dd", {}, text)])),
    );
    placeTip(event);
    return `${brief(spot.name, 120)}: ${rows.map((row) => row.join(" ")).join(", ")}`;
  }

  leave() {
    this.ring?.setAttribute("visibility", "hidden");
    hideTip();
  }

  nearest(event) {
    const frame = this.svg.getBoundingClientRect();
    const far = this.places.map(([x, y]) => Math.hypot(x - event.clientX + frame.left, y - event.clientY + frame.top));
    const least = Math.min(...far);
    return least <= STAIRS_REACH ? far.indexOf(least) : -1;
  }

  choose(at) {
    const design = this.spec.spots[at]?.design ?? null;
    if (design !== null) select(design);
  }

  listen() {
    const clicked = placesOfClicks(this.svg);
    this.svg.addEventListener("pointermove", (event) => {
      if (!this.places) return;
      const at = this.nearest(event);
      if (at < 0) this.leave();
      else this.point(at, event);
    });
    this.svg.addEventListener("click", (event) => this.places && this.choose(this.nearest(clicked(event))));
    this.svg.addEventListener("pointerleave", () => this.leave());
    this.svg.addEventListener("blur", () => this.leave());
    this.svg.addEventListener("keydown", (event) => {
      const last = this.order.length - 1;
      const here = this.order.indexOf(this.at);
      const moves = { ArrowLeft: Math.max(here - 1, 0), ArrowRight: Math.min(here + 1, last), Home: 0, End: last };
      if (event.key === "Enter") this.choose(this.at);
      if (!(event.key in moves) || last < 0 || !this.places) return;
      event.preventDefault();
      const at = this.order[moves[event.key]];
      const frame = this.svg.getBoundingClientRect();
      say(this.point(at, { clientX: frame.left + this.places[at][0], clientY: frame.top + this.places[at][1] }));
    });
  }

  showNumbers() {
    const { across, up, spots } = this.spec;
    const header = ["Machine", titled(across.title, across.kind), titled(up.title, up.kind), "Here", "Crosses"];
    const rows = this.order.map((at) => {
      const { name, x, y, roles, limits } = spots[at];
      return [brief(name, 120), bare(x, across.kind), bare(y, up.kind), roles.join(", "), this.limitWords(limits)];
    });
    this.numbers.replaceChildren(numbersTable(this.spec.title, header, rows));
  }

  refresh() {
    this.layout();
    if (!this.numbers.hidden) this.showNumbers();
  }
}

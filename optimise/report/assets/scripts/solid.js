/* The front in three dimensions, by plotly.js, drawn when it comes into view. */

let plotlyLoading = null;

function loadPlotly() {
  plotlyLoading ??= unpacked("packed-plotly").then((library) => {
    document.head.append(make("script", {}, library));
    if (!window.Plotly) throw new Error("the chart library did not start");
    return window.Plotly;
  });
  return plotlyLoading;
}

function hasWebGL() {
  try {
    const canvas = make("canvas");
    return Boolean(canvas.getContext("webgl2") ?? canvas.getContext("webgl"));
  } catch {
    return false;
  }
}

/** Text for plotly, which reads a little markup in titles. */
function inert(text) {
  return text.replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll(">", "&gt;");
}

const TURN = Math.PI / 24;

/** Place of the eye after a turn about the upright axis, a tilt, and coming nearer. */
function turned({ x, y, z }, turn, tilt, nearer) {
  const away = nearer * Math.hypot(x, y, z);
  const around = Math.atan2(y, x) + turn;
  const up = Math.min(Math.max(Math.atan2(z, Math.hypot(x, y)) + tilt, -1.5), 1.5);
  return { x: away * Math.cos(up) * Math.cos(around), y: away * Math.cos(up) * Math.sin(around), z: away * Math.sin(up) };
}

const TURNS = {
  ArrowLeft: [-TURN, 0, 1],
  ArrowRight: [TURN, 0, 1],
  ArrowUp: [0, TURN, 1],
  ArrowDown: [0, -TURN, 1],
  "+": [0, 0, 1 / 1.15],
  "-": [0, 0, 1.15],
};

class SolidChart {
  constructor(figure) {
    this.figure = figure;
    this.inView = false;
    this.stale = true;
    this.busy = false;
    this.pointer = { clientX: 0, clientY: 0 };
    this.box = make("div", {
      class: "solid-box",
      tabindex: "0",
      role: "group",
      "aria-label": "The front in space. Arrow keys turn it, plus and minus come nearer and go away.",
    });
    this.message = make("p", { class: "message", hidden: true });
    this.numbers = make("div", { class: "numbers", hidden: true });
    const toggle = numbersToggle(this.numbers, () => this.showNumbers());
    const png = make("button", { type: "button", class: "quiet", "aria-label": "Save as PNG: space", onclick: () => this.savePng() }, "PNG");
    const sentence =
      "Cycle time, force and outlay together. The front is a surface: nothing in the list lies " +
      "on its better side, towards quick, strong and cheap. Turn it with the mouse, a finger or arrow keys; " +
      "plus and minus come nearer and go away.";
    figure.append(
      make("figcaption", {}, make("h3", {}, "The front in space"), make("p", {}, sentence)),
      this.box,
      this.message,
      make("p", { class: "message print-only" }, "The view in space is not printed."),
      make(
        "div",
        { class: "under" },
        make("p", { class: "legend" }, make("span", { class: "sign owned" }, "◆"), " yours ", make("span", { class: "sign chosen" }, "●"), " chosen", planCount() ? make("span", {}, make("span", { class: "key-step" }), " steps of the plan") : null, "; a fuller colour is cheaper"),
        make("span", { class: "tools" }, png, toggle),
      ),
      this.numbers,
    );
    if (!hasWebGL()) {
      this.box.remove();
      this.tell("This browser has no WebGL, so the view in space stays away. The three flat charts show the same machines.");
      return;
    }
    this.box.addEventListener("pointermove", (event) => {
      this.pointer = event;
    });
    this.box.addEventListener("pointerleave", hideTip);
    this.box.addEventListener("keydown", (event) => this.pressed(event));
    new IntersectionObserver(
      ([entry]) => {
        this.inView = entry.isIntersecting;
        if (this.inView && this.stale) this.paint();
      },
      { rootMargin: "200px" },
    ).observe(this.box);
    new ResizeObserver(() => this.refresh()).observe(this.box);
    this.refreshLater = afterPause(() => this.inView && this.paint(), 200);
  }

  async savePng() {
    if (!this.box.data) {
      say("The view in space is not drawn yet.");
      return;
    }
    const plotly = await loadPlotly();
    const size = { format: "png", width: this.box.clientWidth, height: this.box.clientHeight, scale: 2 };
    const data = await plotly.toImage(this.box, size);
    const image = new Image();
    image.src = data;
    await image.decode();
    saveBlob(`${fileStem()}-space.png`, await pictureOf(image, this.box));
  }

  tell(text) {
    this.message.textContent = text;
    this.message.hidden = false;
  }

  refresh() {
    this.stale = true;
    if (!this.numbers.hidden) this.showNumbers();
    this.refreshLater?.();
  }

  axis(key, title, kind) {
    const [low, high] = endsOf(front.series(key), owned.result(key, 0), ...stepFigures(key));
    const ends = [inUnit(low, kind), inUnit(high, kind)];
    const room = 0.03 * (ends[1] - ends[0]) || 1;
    return {
      title: { text: inert(titled(title, kind)), font: { size: 13 } },
      range: [ends[0] - room, ends[1] + room],
      tickfont: { size: 11 },
      nticks: 6,
      separatethousands: true,
      exponentformat: "none",
      color: styled("--ink-2"),
      gridcolor: styled("--rule"),
      zerolinecolor: styled("--rule"),
      showbackground: false,
      showspikes: false,
    };
  }

  points(list) {
    const figures = (key, kind) => list.map((index) => inUnit(new Machine(index).result(key), kind));
    return { x: figures(TIME, "time"), y: figures(OUTLAY, "money"), z: figures(FORCE, "force") };
  }

  /** Place of the eye: farther off where the chart is narrow. */
  eye() {
    const away = Math.max(1.06, Math.min(1.35, 640 / this.box.clientWidth));
    return { x: 1.4 * away, y: 1.3 * away, z: 0.7 * away };
  }

  async pressed(event) {
    if (!(event.key in TURNS) || !this.box.layout || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    const plotly = await loadPlotly();
    const eye = turned(this.box.layout.scene.camera.eye, ...TURNS[event.key]);
    await plotly.relayout(this.box, { "scene.camera.eye": eye });
  }

  traces() {
    const shared = { type: "scatter3d", mode: "markers", hoverinfo: "none", showlegend: false };
    const bands = Array.from({ length: BANDS }, (_, band) => styled(`--band-${band}`));
    this.list = [...state.shown];
    this.bands ??= bandsOf(front.series(OUTLAY), -1);
    const cloud = {
      ...shared,
      ...this.points(this.list),
      marker: { size: 3, color: this.list.map((index) => bands[this.bands[index]]), line: { width: 0 } },
    };
    const own = {
      ...shared,
      ...this.points([OWNED]),
      marker: { size: 7, symbol: "diamond", color: styled("--ink") },
    };
    const chosen = {
      ...shared,
      ...this.points(state.selected === OWNED ? [] : [state.selected]),
      marker: { size: 8, color: styled("--chosen") },
    };
    const steps = {
      ...shared,
      mode: "lines+markers",
      ...this.points(planCount() ? planWay() : []),
      marker: { size: planWay().map((index) => (index === OWNED ? 0 : 7)), symbol: "square", color: styled("--plan"), line: { width: 1, color: styled("--paper") } },
      line: { width: 3, color: styled("--plan") },
    };
    return [cloud, own, chosen, steps];
  }

  async paint() {
    if (this.busy) return;
    this.busy = true;
    this.stale = false;
    this.box.setAttribute("aria-busy", "true");
    try {
      const plotly = await loadPlotly();
      const layout = {
        width: this.box.clientWidth,
        height: this.box.clientHeight,
        margin: { l: 0, r: 0, t: 0, b: 0 },
        paper_bgcolor: "rgba(0,0,0,0)",
        font: { family: styled("--sans"), color: styled("--ink-2") },
        separators: `.${THOUSANDS[state.system]}`,
        uirevision: "kept",
        scene: {
          xaxis: this.axis(TIME, "Cycle time", "time"),
          yaxis: this.axis(OUTLAY, "Outlay", "money"),
          zaxis: this.axis(FORCE, "Force", "force"),
          camera: this.box.layout?.scene?.camera ?? { eye: this.eye(), center: { x: 0, y: 0, z: -0.2 } },
          aspectmode: "manual",
          aspectratio: { x: 1.15, y: 1.15, z: 0.8 },
        },
      };
      const first = !this.box.data;
      await plotly.react(this.box, this.traces(), layout, { displayModeBar: false });
      if (first) this.listen();
    } catch (error) {
      this.box.hidden = true;
      this.tell(`The view in space could not be drawn (${brief(String(error.message ?? error), 120)}). The flat charts show the same machines.`);
    } finally {
      this.busy = false;
      this.box.removeAttribute("aria-busy");
    }
    if (this.stale && this.inView) this.refreshLater();
  }

  indexOf(event) {
    const [point] = event.points;
    if (point.curveNumber === 0) return this.list[point.pointNumber];
    if (point.curveNumber === 3) return planWay()[point.pointNumber];
    return point.curveNumber === 1 ? OWNED : state.selected;
  }

  listen() {
    this.box.on("plotly_click", (event) => select(this.indexOf(event)));
    this.box.on("plotly_hover", (event) => showTip(this.indexOf(event), this.pointer));
    this.box.on("plotly_unhover", hideTip);
  }

  showNumbers() {
    const figures = [
      ["Cycle time", TIME, "time"],
      ["Force", FORCE, "force"],
      ["Outlay", OUTLAY, "money"],
    ];
    const machine = new Machine(state.selected);
    const rows = figures.map(([title, key, kind]) => {
      const sorted = state.shown.map((index) => front.result(key, index)).sort((a, b) => a - b);
      const at = (share) => sorted[Math.round(share * (sorted.length - 1))] ?? null;
      const cells = [0, 0.25, 0.5, 0.75, 1].map((share) => bare(at(share), kind));
      return [titled(title, kind), ...cells, bare(machine.result(key), kind)];
    });
    const header = ["Figure", "Least", "Lower quarter", "Middle", "Upper quarter", "Most", "Chosen"];
    const caption = "How the machines that pass the filters are spread";
    this.numbers.replaceChildren(numbersTable(caption, header, rows));
  }
}

function startSolid() {
  const figure = byId("solid");
  if (!figure) return;
  const chart = new SolidChart(figure);
  for (const what of ["filter", "selection", "units", "theme"]) on(what, () => chart.refresh());
}

/* The circuit of one machine with generic symbols after ISO 1219, and its numbers, out and back. */

/** What of the plane the drawing takes. */
const CIRCUIT = { left: 56, top: 24, width: 560, height: 456 };
const STROKES = [
  { key: "out", title: "Out", words: "The pump fills the cap end; what the rod end gives goes back through valve, return hose and filter" },
  { key: "back", title: "Back", words: "The pump fills the rod end; the cap end sends more than that back through valve, return hose and filter" },
];

/** Lines of the circuit: the category of the hose and the flow in it. */
const LINES = {
  suction: ["suction_hose", "pump_flow"],
  pressure: ["pressure_hose", "pump_flow"],
  cap: ["work_hoses", "cap_flow"],
  rod: ["work_hoses", "rod_flow"],
  return: ["return_hose", "tank_flow"],
};

/** Mean velocity of the oil in a line. */
function lineVelocity(machine, stroke, line) {
  const [category, flow] = LINES[line];
  const [each, amount] = [machine.part(category, "velocity_per_flow"), machine.point(stroke, flow)];
  return each === null || amount === null ? null : each * amount;
}

const partName = (machine, key) => machine.parts().find((part) => part.key === key)?.name ?? "";

/** Arrow head at a place that points along a direction. */
function arrowHead(x, y, angle, style) {
  return draw("path", { class: style, d: "M0,0l-10,-4.5v9z", transform: `translate(${x},${y}) rotate(${angle})` });
}

const DIRECTIONS = { up: -90, down: 90, left: 180, right: 0 };

/** A line with arrow heads: `heads` are places with a direction. */
function pipe(style, d, ...heads) {
  return [draw("path", { class: `pipe ${style}`, d }), ...heads.map(([x, y, way]) => arrowHead(x, y, DIRECTIONS[way], `head ${style}`))];
}

function note(x, y, lines, anchor = "start", style = "") {
  return lines
    .filter((text) => text)
    .map((text, nth) => draw("text", { class: `note ${style} ${nth ? "" : "note-first"}`, x, y: y + 15 * nth, "text-anchor": anchor }, text));
}

/** Two-stage or single pump with its prime mover. */
function pumpSymbol(twoStage) {
  const circle = (x) => [
    draw("circle", { class: "symbol", cx: x, cy: 390, r: 21 }),
    draw("path", { class: "symbol-fill", d: `M${x},369l-8,12h16z` }),
  ];
  const parts = [
    draw("rect", { class: "symbol", x: 150, y: 370, width: 40, height: 40 }),
    draw("text", { class: "symbol-letter", x: 170, y: 396, "text-anchor": "middle" }, "M"),
    draw("path", { class: "symbol", d: "M190,387h64M190,393h64" }),
    ...circle(275),
  ];
  if (twoStage) {
    parts.push(
      draw("path", { class: "symbol", d: "M296,387h18M296,393h18" }),
      ...circle(335),
      draw("path", { class: "pipe feed", d: "M335,369V350H275" }),
      draw("path", { class: "pipe suction", d: "M335,411V430H275" }),
    );
  }
  return parts;
}

/** Box of the directional valve with its ways; (x, y) is its upper left corner. */
function valveBox(kind, x, y, active) {
  const parts = [draw("rect", { class: active ? "symbol active" : "symbol", x, y, width: 60, height: 60 })];
  const line = (x1, y1, x2, y2) => {
    const angle = (180 * Math.atan2(y2 - y1, x2 - x1)) / Math.PI;
    parts.push(draw("path", { class: "symbol", d: `M${x + x1},${y + y1}L${x + x2},${y + y2}` }), arrowHead(x + x2, y + y2, angle, "symbol-fill"));
  };
  const shut = (px, py, way) => parts.push(draw("path", { class: "symbol", d: `M${x + px},${y + py}v${12 * way}m-6,0h12` }));
  if (kind === "out") {
    line(15, 60, 15, 1);
    line(45, 0, 45, 59);
  } else if (kind === "back") {
    line(15, 60, 45, 1);
    line(15, 0, 45, 59);
  } else if (kind === "regenerative") {
    line(15, 60, 15, 1);
    parts.push(draw("path", { class: "symbol", d: `M${x + 45},${y}L${x + 15},${y + 30}` }));
    shut(45, 60, -1);
  } else {
    shut(15, 0, 1);
    shut(45, 0, 1);
    parts.push(draw("path", { class: "symbol", d: `M${x + 15},${y + 60}v-24h30v23` }), arrowHead(x + 45, y + 59, 90, "symbol-fill"));
  }
  return parts;
}

function valveSymbol(stroke, regenerative, hasDetent) {
  const [x, y] = [260, 215];
  const first = regenerative ? "regenerative" : "out";
  const from = stroke === "out" ? x : x - 120;
  const boxes = [first, "neutral", "back"].flatMap((kind, nth) => valveBox(kind, from + 60 * nth, y, from + 60 * nth === x));
  const [left, right] = [from, from + 180];
  const spring = (at, way) => draw("path", { class: "symbol", d: `M${at},${y + 45}l${5 * way},-8l${5 * way},16l${5 * way},-16l${5 * way},8` });
  const lever = [
    draw("path", { class: "symbol", d: `M${left},${y + 18}h-14v-26` }),
    draw("circle", { class: "symbol-fill", cx: left - 14, cy: y - 10, r: 4 }),
  ];
  const detent = hasDetent
    ? [draw("path", { class: "symbol", d: `M${right},${y + 14}h6l4,6l4,-6h6l4,6l4,-6h6M${right},${y + 26}h34` })]
    : [];
  return [...boxes, ...lever, spring(left, -1), spring(right, 1), ...detent];
}

function cylinderSymbol(stroke, ram) {
  const piston = stroke === "out" ? 300 : 380;
  const way = stroke === "out" ? "right" : "left";
  const end = stroke === "out" ? 586 : 528;
  return [
    draw("rect", { class: "symbol", x: 200, y: 44, width: 280, height: 56 }),
    draw("rect", { class: "symbol-fill", x: piston, y: 46, width: 10, height: 52 }),
    draw("path", { class: "symbol", d: `M${piston + 10},66H560M${piston + 10},78H560M560,66v12` }),
    draw("path", { class: "pipe motion", d: "M530,52H584" }),
    arrowHead(end, 52, DIRECTIONS[way], "head motion"),
    draw("text", { class: "note note-first", x: 612, y: 38, "text-anchor": "end" }, `ram ${written(ram, "speed")}`),
  ];
}

/** Filter, and cooler where there is one, in the return line; tanks at both ends. */
function returnSymbols(hasCooler) {
  const tank = (x, y) => draw("path", { class: "symbol", d: `M${x - 26},${y - 14}v20h52v-20` });
  const diamond = (x, y) => draw("path", { class: "symbol", d: `M${x},${y - 20}l20,20l-20,20l-20,-20z` });
  const parts = [
    diamond(470, 400),
    draw("path", { class: "symbol dashed", d: "M470,380v40" }),
    tank(470, 470),
    tank(275, 470),
  ];
  if (hasCooler) {
    parts.push(
      diamond(470, 335),
      draw("path", { class: "symbol", d: "M470,315v40" }),
      arrowHead(448, 335, 180, "symbol-fill"),
      arrowHead(492, 335, 0, "symbol-fill"),
    );
  }
  return parts;
}

function reliefSymbol() {
  return [
    draw("path", { class: "pipe pilot", d: "M275,330H200" }),
    draw("rect", { class: "symbol", x: 150, y: 310, width: 40, height: 40 }),
    draw("path", { class: "symbol", d: "M200,330H190" }),
    draw("path", { class: "symbol", d: "M190,322H156" }),
    arrowHead(152, 322, 180, "symbol-fill"),
    draw("path", { class: "symbol dashed", d: "M200,330v30h-30v-10" }),
    draw("path", { class: "symbol", d: "M170,310l6,-4l-12,-5l12,-5l-12,-5l6,-4" }),
    draw("path", { class: "symbol", d: "M150,330h-14v26" }),
    draw("path", { class: "symbol", d: "M126,352v8h20v-8" }),
  ];
}

function circuitDrawing(machine, { key, title, words }) {
  const at = (name) => machine.point(key, name);
  const out = key === "out";
  const joined = out && machine.result("stage.extend_regen") > 0.5;
  const idle = joined ? "idle" : "back";
  const pressure = (name) => written(at(name), "pressure");
  const flow = (name) => written(at(name), "flow");
  const speed = (line) => written(lineVelocity(machine, key, line), "velocity");
  const [capWay, rodWay] = out ? ["up", "down"] : ["down", "up"];
  const [capStyle, rodStyle] = out ? ["feed", joined ? "feed" : "back"] : ["back", "feed"];
  const hasCooler = partName(machine, "cooler").toLowerCase() !== "none";
  const twoStage = machine.part("pump", "large_displacement") > 0;
  const relief = machine.part("valve", "relief_pressure");
  const parts = [
    ...pipe(capStyle, "M220,100V160H275V215", [220, capWay === "up" ? 122 : 140, capWay]),
    ...pipe(rodStyle, "M460,100V160H305V215", [460, rodWay === "up" ? 122 : 140, rodWay]),
    ...pipe("feed", "M275,369V275", [275, 296, "up"]),
    ...pipe(idle, "M305,275V295H470V380M470,420V474", ...(joined ? [] : [[400, 295, "right"], [470, 446, "down"]])),
    ...pipe("suction", "M275,474V411", [275, 440, "up"]),
    ...cylinderSymbol(key, at("ram")),
    ...valveSymbol(key, joined, machine.part("valve", "detent_pressure") > 0),
    ...pumpSymbol(twoStage),
    ...reliefSymbol(),
    ...returnSymbols(hasCooler),
    ...note(212, 62, [pressure("cap")]),
    ...note(470, 62, [pressure("rod")], "end"),
    ...note(208, 128, [flow("cap_flow"), speed("cap")], "end"),
    ...note(472, 128, [flow("rod_flow"), speed("rod")]),
    ...note(262, 291, [`valve ${pressure("valve")}`, flow("pump_flow"), speed("pressure")], "end"),
    ...note(362, 366, [pressure("pump"), ...(twoStage ? stageWords(machine, key) : [])]),
    ...note(484, 300, joined ? ["no flow"] : [flow("tank_flow"), speed("return"), pressure("tank_port")]),
    ...note(500, 396, joined ? [] : [pressure("filter"), "before the filter"]),
    ...note(262, 437, [flow("pump_flow"), speed("suction")], "end"),
    ...note(120, 322, relief === null ? [] : ["relief", written(relief, "pressure")], "end"),
  ];
  const label = `${title}: ${words}. Pump ${pressure("pump")}, ${flow("pump_flow")}; cap end ${pressure("cap")}, ${flow("cap_flow")}; rod end ${pressure("rod")}, ${flow("rod_flow")}; return ${flow("tank_flow")}.`;
  const { left, top, width, height } = CIRCUIT;
  const size = { viewBox: `0 0 ${width} ${height}`, width, height };
  return draw("svg", { role: "img", "aria-label": label, class: "circuit", ...size }, draw("g", { transform: `translate(${-left} ${-top})` }, parts));
}

function stageWords(machine, stroke) {
  const share = machine.result(stroke === "out" ? "stage.extend_high" : "stage.retract_high");
  if (share >= 1) return ["both sections"];
  return share > 0 ? ["both sections", `${written(share, "share")} of the`, "time"] : ["small section", "alone"];
}

function circuitNumbers(machine, label) {
  const rows = [
    ["Suction hose", "pump_flow", "suction", null],
    ["Pump outlet and pressure hose", "pump_flow", "pressure", "pump"],
    ["Valve inlet", "pump_flow", null, "valve"],
    ["Cap end and its hose", "cap_flow", "cap", "cap"],
    ["Rod end and its hose", "rod_flow", "rod", "rod"],
    ["Valve to tank, return hose", "tank_flow", "return", "tank_port"],
    ["Before the filter", "tank_flow", null, "filter"],
  ];
  const header = ["Point", ...STROKES.flatMap(({ title }) => [titled(`${title}: flow`, "flow"), titled("velocity", "velocity"), titled("pressure", "pressure")])];
  const body = rows.map(([name, flow, velocity, pressure]) => [
    name,
    ...STROKES.flatMap(({ key }) => [
      bare(machine.point(key, flow), "flow"),
      velocity ? bare(lineVelocity(machine, key, velocity), "velocity") : "",
      pressure ? bare(machine.point(key, pressure), "pressure") : "",
    ]),
  ]);
  return numbersTable("Flow, mean velocity and gauge pressure at each point", header, body, label);
}

function circuitSentence(machine) {
  const ratio = machine.result("flow.return_ratio");
  return make(
    "p",
    { class: "sentence lead-in" },
    "Settled strokes without a log, the valve drawn shifted; generic symbols after ISO 1219. Thick lines carry the pump's oil. On the way back the cap end returns ",
    quantity(machine.point("back", "tank_flow"), "flow"),
    `, ${grouped(ratio, 2)} times what the pump sends to the rod end, and `,
    quantity(machine.point("back", "cap"), "pressure"),
    " stay in the cap end.",
  );
}

function circuitBlock(machine, open) {
  const figures = STROKES.map((stroke) => {
    const svg = circuitDrawing(machine, stroke);
    const numbers = make("div", { hidden: true });
    const tools = chartTools(`circuit-${stroke.key}`, () => svg, numbers, () => numbers.replaceChildren(circuitNumbers(machine, `Numbers of the circuit, ${stroke.title.toLowerCase()}`)));
    return make(
      "figure",
      { class: "chart circuit-figure", id: `circuit-${stroke.key}` },
      make("figcaption", {}, make("h3", {}, stroke.title), make("p", {}, `${stroke.words}.`)),
      make("div", { class: "scroller", tabindex: "0", role: "region", "aria-label": `Circuit, ${stroke.title.toLowerCase()}` }, svg),
      make("div", { class: "under" }, make("p", { class: "legend swipe" }, "Swipe the drawing sideways to see all of it."), tools),
      numbers,
    );
  });
  return [circuitSentence(machine), make("div", { class: "charts" }, figures)];
}

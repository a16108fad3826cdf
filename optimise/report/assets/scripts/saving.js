/* Charts as files: SVG with the styles written into it, or PNG. */

const KEPT_STYLES = [
  "fill", "fill-opacity", "stroke", "stroke-width", "stroke-dasharray", "stroke-opacity", "opacity",
  "stroke-linecap", "visibility", "text-anchor", "paint-order", "stroke-linejoin",
  // One by one: the shorthand is empty where figures are of one width.
  "font-family", "font-size", "font-weight", "font-style", "font-variant-numeric",
];

function saveBlob(name, blob) {
  const place = URL.createObjectURL(blob);
  const link = make("a", { href: place, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(place), 10000);
}

/** A drawing, and its legend under it, as a document of its own on the page's ground. */
function svgText(svg) {
  const copy = svg.cloneNode(true);
  const [from, to] = [svg.querySelectorAll("*"), copy.querySelectorAll("*")];
  from.forEach((element, at) => {
    const style = getComputedStyle(element);
    for (const name of KEPT_STYLES) to[at].style.setProperty(name, style.getPropertyValue(name));
    to[at].removeAttribute("class");
  });
  const { width, height } = svg.viewBox.baseVal;
  const legend = drawnLegend(svg.closest("figure"));
  legend.group.setAttribute("transform", `translate(0 ${height})`);
  copy.append(legend.group);
  return svgDocument(copy, width, height + legend.height);
}

function svgDocument(svg, width, height) {
  fill(svg, { xmlns: "http://www.w3.org/2000/svg", width, height, viewBox: `0 0 ${width} ${height}` }, []);
  svg.prepend(draw("rect", { width, height, fill: styled("--paper") }));
  return new XMLSerializer().serializeToString(svg);
}

const svgBlob = (text) => new Blob([text], { type: "image/svg+xml;charset=utf-8" });

/** Picture of a document of its own. */
async function imageOf(text) {
  const place = URL.createObjectURL(svgBlob(text));
  const image = new Image();
  await new Promise((done, fail) => {
    image.addEventListener("load", done);
    image.addEventListener("error", fail);
    image.src = place;
  });
  URL.revokeObjectURL(place);
  return image;
}

const pngOf = (canvas) => new Promise((done) => { canvas.toBlob(done, "image/png"); });

async function savePng(name, svg) {
  const image = await imageOf(svgText(svg));
  const canvas = make("canvas", { width: 2 * image.width, height: 2 * image.height });
  canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
  saveBlob(name, await pngOf(canvas));
}

/** Ground around a painted chart: names stand a little over its edge. */
const PICTURE_EDGE = 16;

/** A painted chart on the page's ground, with the words that the page lays over it and its legend. */
async function pictureOf(painted, box, words) {
  const frame = box.getBoundingClientRect();
  const sharpness = painted.width / frame.width;
  const edge = PICTURE_EDGE * sharpness;
  const legend = drawnLegend(box.closest("figure"));
  const canvas = make("canvas", { width: painted.width + 2 * edge, height: painted.height + 2 * edge + legend.height * sharpness });
  const pen = canvas.getContext("2d");
  pen.fillStyle = styled("--paper");
  pen.fillRect(0, 0, canvas.width, canvas.height);
  pen.translate(edge, edge);
  pen.drawImage(painted, 0, 0);
  pen.scale(sharpness, sharpness);
  pen.textBaseline = "middle";
  const texts = words ? document.createTreeWalker(words, NodeFilter.SHOW_TEXT) : null;
  while (texts?.nextNode()) {
    const node = texts.currentNode;
    const style = getComputedStyle(node.parentElement);
    pen.font = `${style.fontStyle} ${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
    pen.fillStyle = style.color;
    for (const { words: line, left, top, height } of linesOf(node)) {
      pen.fillText(line.join(" "), left - frame.left, top + height / 2 - frame.top);
    }
  }
  if (legend.height > 0) {
    const below = await imageOf(svgDocument(draw("svg", {}, legend.group), frame.width, legend.height));
    pen.drawImage(below, 0, frame.height, frame.width, legend.height);
  }
  return pngOf(canvas);
}

/** Buttons under a chart: its numbers, and the drawing as a file. */
function chartTools(key, svgOf, numbers, showNumbers, more = []) {
  const name = `${fileStem()}-${key}`;
  const button = (words, what, action) =>
    make("button", { type: "button", class: "quiet", "aria-label": `Save as ${words}: ${what}`, onclick: action }, words);
  return make(
    "span",
    { class: "tools" },
    more,
    button("SVG", key, () => saveBlob(`${name}.svg`, svgBlob(svgText(svgOf())))),
    button("PNG", key, () => savePng(`${name}.png`, svgOf())),
    numbersToggle(numbers, showNumbers),
  );
}

/** Figure of a drawn chart: title and sentence, drawing, what stands under it, its numbers. */
function chartFigure(chart, kind, between = null) {
  const { spec } = chart;
  return make(
    "figure",
    { class: `chart ${kind}`, id: `curve-${spec.key}` },
    make("figcaption", {}, make("h3", {}, brief(spec.title, 90)), make("p", {}, spec.sentence.map(piece))),
    chart.box,
    between,
    make(
      "div",
      { class: "under" },
      make("p", { class: "legend" }, chart.legend()),
      chartTools(spec.key, () => chart.svg, chart.numbers, () => chart.showNumbers()),
    ),
    chart.numbers,
  );
}

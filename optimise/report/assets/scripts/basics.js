/* Making elements. Text of a study only ever becomes text nodes. */

const byId = (id) => document.getElementById(id);

function fill(element, attributes, children) {
  for (const [key, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else if (key === "style") Object.assign(element.style, value);
    else element.setAttribute(key, value === true ? "" : String(value));
  }
  element.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined));
  return element;
}

/** HTML element; keys that start with "on" are listeners. */
function make(tag, attributes = {}, ...children) {
  return fill(document.createElement(tag), attributes, children);
}

/** Words for a small screen about what is wider than it. */
const swipeHint = (words) => make("p", { class: "small swipe" }, words);

/** SVG element. */
function draw(tag, attributes = {}, ...children) {
  return fill(document.createElementNS("http://www.w3.org/2000/svg", tag), attributes, children);
}

const LONGEST_NAME = 400;

/** Words out of the study: set apart from the direction of the text around them. */
function foreign(text) {
  return make("bdi", { class: "foreign" }, brief(text, LONGEST_NAME));
}

/** Control characters, line ends and marks that turn the direction of text. */
const UNPRINTED = /[\u0000-\u001f\u007f-\u009f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]/g;

/** Start of a long text, on one line, with what does not print made visible. */
function brief(text, most = 60) {
  const start = Array.from(text.slice(0, 2 * most + 2));
  const cut = start.length > most || text.length > 2 * most + 2;
  const kept = cut ? start.slice(0, most - 1).join("") + "…" : text;
  return kept.replace(UNPRINTED, (character) => {
    const code = character.codePointAt(0).toString(16).padStart(4, "0");
    return `\\u${code}`;
  });
}

/** Positions spread evenly over a list, both ends among them. */
function spread(count, most) {
  if (count <= most) return Array.from({ length: count }, (_, step) => step);
  return Array.from({ length: most }, (_, step) => Math.round((step * (count - 1)) / (most - 1)));
}

/** Round steps between two ends: about `wanted` of them. */
function ticksBetween(low, high, wanted) {
  const rough = (high - low) / Math.max(wanted, 1);
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((factor) => factor * power).find((size) => size >= rough);
  const ticks = [];
  for (let count = Math.ceil(low / step - 1e-9); count * step <= high + 1e-9 * step; count += 1) {
    ticks.push(count * step);
  }
  const decimals = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  return { ticks, decimals };
}

/** Where a click was made: it tells whole pixels, while the pointer on a sharp screen stands between them. */
function placesOfClicks(element) {
  let released = null;
  element.addEventListener("pointerup", (event) => {
    released = event;
  });
  return (click) => {
    const { clientX, clientY } = released ?? click;
    released = null;
    return { clientX, clientY };
  };
}

let ruler = null;

/** Width of a text in a chart. */
function textWidth(text) {
  ruler ??= make("canvas").getContext("2d");
  ruler.font = `12px ${styled("--sans")}`;
  return ruler.measureText(text).width;
}

/** Room left of a chart for the figures of its axis up. */
function marginFor(words, width) {
  return Math.ceil(Math.max(width < 420 ? 54 : 62, ...words.map((text) => textWidth(text) + 12)));
}

/** Middle of a text near a place that keeps it left of an end, and right of the drawing's start. */
function within(x, text, end) {
  const half = textWidth(text) / 2 + 1;
  return Math.max(half, Math.min(x, end - half));
}

/** Colour, width or font that the style sheet holds under a name. */
function styled(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}

/** The call once a frame at most, with the last arguments. */
function oncePerFrame(action) {
  let waiting = false;
  return () => {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      action();
    });
  };
}

/** The call after a pause. */
function afterPause(action, milliseconds) {
  let timer = 0;
  return () => {
    clearTimeout(timer);
    timer = setTimeout(action, milliseconds);
  };
}

/** Text that was compressed with gzip and stands in the page in base64. */
async function unpacked(id) {
  const packed = atob(byId(id).textContent);
  const bytes = new Uint8Array(packed.length);
  for (let at = 0; at < packed.length; at += 1) bytes[at] = packed.charCodeAt(at);
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Response(stream).text();
}

/* What stands under a chart to read it by, as part of its saved drawing. */

const HINTS = ".swipe, .tip-zoom";
const LEGEND_GAP = 10;

/** Words of a text by its lines on the page, each with its place. */
function linesOf(node) {
  const lines = [];
  for (const { index, 0: word } of node.data.matchAll(/\S+/g)) {
    const range = document.createRange();
    range.setStart(node, index);
    range.setEnd(node, index + word.length);
    const { left, top, height } = range.getBoundingClientRect();
    const last = lines.at(-1);
    if (last && Math.abs(last.top - top) < height / 2) {
      last.words.push(word);
      last.left = Math.min(last.left, left);
    } else lines.push({ words: [word], left, top, height });
  }
  return lines;
}

/** A sign of a legend, which is a box with a ground or one edge. */
function signPart(sign, toX, toY) {
  const { left, top, width, height } = sign.getBoundingClientRect();
  const { backgroundColor, opacity, borderRadius, borderTopStyle, borderTopColor, borderLeftStyle, borderLeftColor } = getComputedStyle(sign);
  const [x, y] = [toX(left), toY(top)];
  const dashes = (style) => ({ dashed: "5 3", dotted: "2 3" })[style] ?? null;
  if (borderTopStyle !== "none") {
    return draw("line", { x1: x, x2: x + width, y1: y + height / 2, y2: y + height / 2, stroke: borderTopColor, "stroke-width": 2, "stroke-dasharray": dashes(borderTopStyle) });
  }
  if (borderLeftStyle !== "none") {
    return draw("line", { x1: x + width / 2, x2: x + width / 2, y1: y, y2: y + height, stroke: borderLeftColor, "stroke-width": 2, "stroke-dasharray": dashes(borderLeftStyle) });
  }
  return draw("rect", { x, y, width, height, rx: borderRadius === "0px" ? 0 : width / 2, fill: backgroundColor, "fill-opacity": opacity });
}

/** Legend and marks of a chart's figure as they stand on the page, one under the other: a group and its height. */
function drawnLegend(figure) {
  const group = draw("g", { class: "legend" });
  let height = 0;
  for (const block of figure.querySelectorAll(":scope > .marks-list, :scope > .under > .legend")) {
    const frame = block.getBoundingClientRect();
    if (frame.height === 0 || block.matches(HINTS)) continue;
    const start = height + LEGEND_GAP;
    const toX = (x) => x - frame.left;
    const toY = (y) => y - frame.top + start;
    const texts = document.createTreeWalker(block, NodeFilter.SHOW_TEXT);
    while (texts.nextNode()) {
      const node = texts.currentNode;
      if (node.parentElement.closest(HINTS)) continue;
      const { color, fontFamily, fontSize, fontStyle, fontWeight } = getComputedStyle(node.parentElement);
      for (const { words, left, top, height: tall } of linesOf(node)) {
        const style = { fill: color, fontFamily, fontSize, fontStyle, fontWeight };
        group.append(draw("text", { x: toX(left), y: toY(top + tall / 2), "dominant-baseline": "central", style }, words.join(" ")));
      }
    }
    const signs = [...block.querySelectorAll("*")].filter((one) => one.textContent === "" && !one.closest(HINTS) && one.childElementCount === 0);
    group.append(...signs.map((one) => signPart(one, toX, toY)));
    height = start + frame.height;
  }
  return { group, height: height > 0 ? height + LEGEND_GAP / 2 : 0 };
}

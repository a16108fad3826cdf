/* Limits of one machine as signed bars, the closest first. */

const LEFT_END = -0.5;
const RIGHT_END = 1;
const ZERO_PLACE = (100 * -LEFT_END) / (RIGHT_END - LEFT_END);
const CLOSE_LIMITS = 12;

/** A limit that is kept or not, with nothing in between, such as a balance that was found. */
const isYesOrNo = ({ margin, bound, value }) => margin === 0 && value === 1 && bound === 1;

/** Place in the order: the closest first. */
const roomOf = (limit) => (isYesOrNo(limit) ? Infinity : limit.margin ?? -Infinity);

function marginWords(limit) {
  if (isYesOrNo(limit)) return ["kept"];
  const { margin } = limit;
  if (margin === null) return [NO_VALUE];
  return [changeOf(margin, "share"), make("i", {}, margin < 0 ? " crossed" : " to spare")];
}

function crossedWords(limits) {
  const crossed = limits.filter((limit) => roomOf(limit) < 0);
  if (crossed.length === 0) return "Every limit is kept. The shorter the bar, the less there is to spare.";
  const advice = crossed.every(({ kind }) => kind === "advisory") ? "advisory " : "";
  if (crossed.length === 1) return `One ${advice}limit is crossed: the hatched bar that goes left of the line.`;
  return `${crossed.length} ${advice}limits are crossed: the hatched bars that go left of the line.`;
}

function limitBar(limit) {
  const { kind } = limit;
  const margin = isYesOrNo(limit) ? RIGHT_END : limit.margin;
  const known = margin !== null;
  const clipped = Math.min(RIGHT_END, Math.max(LEFT_END, known ? margin : LEFT_END));
  const width = (100 * Math.abs(clipped)) / (RIGHT_END - LEFT_END);
  const left = clipped < 0 ? ZERO_PLACE - width : ZERO_PLACE;
  const classes = ["fill"];
  if (!known || margin < 0) classes.push("crossed");
  if (kind === "advisory") classes.push("advice");
  if (known && margin > RIGHT_END) classes.push("beyond");
  return make(
    "span",
    { class: "bar", "aria-hidden": true },
    make("i", { class: classes.join(" "), style: { left: `${left}%`, width: `${Math.max(width, 0.6)}%` } }),
    make("i", { class: "zero", style: { left: `${ZERO_PLACE}%` } }),
  );
}

/** Value and bound in a few words. */
function boundWords({ value, bound, sense, unit }) {
  return make("span", { class: "limit-bound" }, quantity(value, unit), `, ${sense} `, quantity(bound, unit));
}

function limitEntry(limit, withBound = false) {
  const weight = limit.kind === "hard" ? "hard limit, a machine of the front never crosses it" : "advice, a machine may cross it";
  const facts = [
    ["Value", quantity(limit.value, limit.unit)],
    [`Must be ${limit.sense}`, quantity(limit.bound, limit.unit)],
    ["Weight", weight],
    ["Says who", foreign(limit.source)],
    ["What to change", foreign(limit.advice)],
  ];
  const crossed = limit.margin === null || limit.margin < 0;
  return make(
    "details",
    { class: crossed ? "limit crossed" : "limit", "data-limit": limit.name },
    make(
      "summary",
      {},
      make("span", { class: "limit-title" }, make("bdi", {}, brief(limit.title, 90)), limit.kind === "advisory" ? make("i", {}, " advice") : null),
      make("span", { class: "limit-margin" }, marginWords(limit)),
      limitBar(limit),
      withBound && !isYesOrNo(limit) ? boundWords(limit) : null,
    ),
    make("dl", {}, facts.map(([term, value]) => [make("dt", {}, term), make("dd", {}, value)])),
  );
}

/** All limits: the close ones in sight, those with much room behind one line.

    With `brisk` they say their bounds, and those behind the line are made when it is opened: for a
    block that is written again and again. */
function limitsBlock(machine, label = "Limits", brisk = false) {
  const entry = (limit) => limitEntry(limit, brisk);
  const order = (one, other) => {
    const [here, there] = [roomOf(one), roomOf(other)];
    return here === there ? one.number - other.number : here - there;
  };
  const limits = machine.limits().sort(order);
  const crossed = limits.filter((limit) => roomOf(limit) < 0).length;
  const near = Math.max(CLOSE_LIMITS, crossed);
  const rest = limits.slice(near);
  const more = make("details", { class: "more-limits" }, make("summary", {}, `${rest.length} limits with more room`));
  const unfold = () => more.append(...rest.map(entry));
  if (brisk) more.addEventListener("toggle", unfold, { once: true });
  else unfold();
  return make(
    "section",
    { class: "limits", "aria-label": label },
    make("h3", {}, "Limits, the closest first"),
    make("p", { class: "sentence" }, crossedWords(limits), make("span", { class: "screen-only" }, " Open one for value, bound, source and what to change.")),
    limits.slice(0, near).map(entry),
    rest.length ? more : null,
  );
}

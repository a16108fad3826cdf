/* Limits of one machine as signed bars, the closest first. */

const LEFT_END = -0.5;
const RIGHT_END = 1;
const ZERO_PLACE = (100 * -LEFT_END) / (RIGHT_END - LEFT_END);
const CLOSE_LIMITS = 12;

function marginWords({ margin }) {
  if (margin === null) return NO_VALUE;
  return margin < 0 ? "crossed" : "to spare";
}

function limitBar({ margin, kind }) {
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

function limitEntry(limit) {
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
      make("span", { class: "limit-margin" }, changeOf(limit.margin, "share"), make("i", {}, ` ${marginWords(limit)}`)),
      limitBar(limit),
    ),
    make("dl", {}, facts.map(([term, value]) => [make("dt", {}, term), make("dd", {}, value)])),
  );
}

/** All limits: the close ones in sight, those with much room behind one line. */
function limitsBlock(machine) {
  const rank = ({ margin }) => margin ?? -Infinity;
  const limits = machine.limits().sort((one, other) => rank(one) - rank(other) || one.number - other.number);
  const crossed = limits.filter((limit) => rank(limit) < 0).length;
  const near = Math.max(CLOSE_LIMITS, crossed);
  const rest = limits.slice(near);
  const sentence = crossed
    ? `${crossed === 1 ? "One limit is" : `${crossed} limits are`} crossed: the hatched bars that go left of the line.`
    : "Every limit is kept. The shorter the bar, the less there is to spare.";
  const more = rest.length
    ? make("details", { class: "more-limits" }, make("summary", {}, `${rest.length} limits with more room`), rest.map(limitEntry))
    : null;
  return make(
    "section",
    { class: "limits", "aria-label": "Limits" },
    make("h3", {}, "Limits, the closest first"),
    make("p", { class: "sentence" }, `${sentence} Open one for value, bound, source and what to change.`),
    limits.slice(0, near).map(limitEntry),
    more,
  );
}

/* One lane of a column: what operators of Python, numpy and columns.py do for a single machine.

   The model of this page is translated from the Python source, not written here. What is written
   here knows nothing of machines. Whatever is no number where one must be stops the evaluation. */

const lane = (() => {
  const refuse = (what, ...values) => {
    throw new TypeError(`${what}: ${values.map((value) => (value === null ? "None" : typeof value)).join(", ")}`);
  };
  const number = (what, value) => (typeof value === "number" ? value : refuse(what, value));
  const isFlag = (value) => typeof value === "boolean";

  /** Operator on numbers only. */
  const numeric = (what, action) => (one, other) =>
    typeof one === "number" && typeof other === "number" ? action(one, other) : refuse(what, one, other);
  /** Operator on truth values only: numpy's & and | on masks. */
  const flags = (what, action) => (one, other) => (isFlag(one) && isFlag(other) ? action(one, other) : refuse(what, one, other));
  /** Function of numbers that gives a number or a truth value. */
  const lifted = (what, action) => (value) => action(number(what, value));

  const truth = (value) => {
    if (isFlag(value)) return value;
    if (value === null) return false;
    if (value === undefined) return refuse("truth", value);
    if (typeof value === "number") return value !== 0;
    if (typeof value === "string" || Array.isArray(value)) return value.length > 0;
    return value instanceof Map ? value.size > 0 : true;
  };

  const isPlain = (value) => value === null || ["number", "string", "boolean"].includes(typeof value);
  const same = (one, other) => (isPlain(one) && isPlain(other) ? one === other : refuse("==", one, other));

  /** Arrays and tuples one after the other, text, or what a class says of `+`. */
  const joined = (one, other) => {
    if (Array.isArray(one) && Array.isArray(other)) return [...one, ...other];
    if (typeof one === "string" && typeof other === "string") return one + other;
    return one?.__add__ && other?.__add__ ? one.__add__(other) : refuse("+", one, other);
  };

  /** Complementary error function: series near nothing, continued fraction beyond. */
  const erfc = (x) => {
    if (Number.isNaN(x)) return NaN;
    if (x < 0) return 2 - erfc(-x);
    if (x < 2.5) {
      let term = x;
      let sum = x;
      for (let count = 1; Math.abs(term) > 1e-18 * Math.abs(sum); count += 1) {
        term *= (-x * x) / count;
        sum += term / (2 * count + 1);
        if (term === 0) break;
      }
      return 1 - (2 / Math.sqrt(Math.PI)) * sum;
    }
    let fraction = x;
    for (let count = 120; count > 0; count -= 1) fraction = x + count / 2 / fraction;
    return Math.exp(-x * x) / Math.sqrt(Math.PI) / fraction;
  };

  /** What a loop goes over; of a dict its keys. */
  const each = (values) => {
    if (Array.isArray(values)) return [...values];
    return values instanceof Map ? [...values.keys()] : refuse("loop", values);
  };

  const replace = (tree, changes) => {
    const { fields } = tree.constructor;
    for (const name of Object.keys(changes)) if (!fields.includes(name)) refuse(`no field ${name}`, tree);
    return new tree.constructor(...fields.map((name) => (name in changes ? changes[name] : tree[name])));
  };

  const map_columns = (tree, change) => {
    if (typeof tree === "number") return change(tree);
    if (Array.isArray(tree)) return tree.map((part) => map_columns(part, change));
    if (!tree?.constructor.fields) return tree;
    return new tree.constructor(...tree.constructor.fields.map((name) => map_columns(tree[name], change)));
  };

  const together = (act, cases) => cases.map((one) => act(one));

  /** `roots.solve_falling` for one lane, step for step. */
  const solve_falling = (residual, tree, [lower, upper], start, tolerance, width, first = null, trail = null, stride = Infinity) => {
    let [low, high, now, before, valueBefore] = [lower, upper, start, NaN, NaN];
    let [lowKnown, highKnown] = [false, false];
    for (let count = 0; count < roots$MOST_STEPS; count += 1) {
      const value = number("residual", count === 0 && first !== null ? first : residual(tree, now, null));
      if (Number.isNaN(value)) break;
      if (value > 0) [low, lowKnown] = [now, true];
      else [high, highKnown] = [now, true];
      let step = Number.isNaN(before) ? now + value : now - (value * (now - before)) / (value - valueBefore);
      if (!highKnown) step = Math.min(step, now + stride);
      const inside = step > low && step < high;
      if (!inside) {
        if (step <= low && !lowKnown) step = low;
        else if (step >= high && !highKnown) step = high;
        else step = 0.5 * (low + high);
      }
      if (value === 0) return now;
      if (Math.abs(step - now) <= tolerance || high - low <= width * tolerance) return step;
      [before, valueBefore, now] = [now, value, step];
    }
    return NaN;
  };

  return {
    classes: {},
    given: (value, name) => (value === undefined ? refuse(`nothing given for ${name}`, value) : value),
    known: (value) => (value === undefined ? refuse("no such attribute", value) : value),

    add: (one, other) => (typeof one === "number" && typeof other === "number" ? one + other : joined(one, other)),
    sub: numeric("-", (one, other) => one - other),
    mul: (one, other) => {
      if (typeof one === "number" && typeof other === "number") return one * other;
      return Array.isArray(one) && Number.isInteger(other) ? Array(other).fill(one).flat() : refuse("*", one, other);
    },
    div: numeric("/", (one, other) => one / other),
    pow: numeric("**", (one, other) => one ** other),
    negative: lifted("-", (value) => -value),
    below: numeric("<", (one, other) => one < other),
    at_most: numeric("<=", (one, other) => one <= other),
    above: numeric(">", (one, other) => one > other),
    at_least: numeric(">=", (one, other) => one >= other),
    same,
    other: (one, other) => !same(one, other),
    both: flags("&", (one, other) => one && other),
    either: flags("|", (one, other) => one || other),
    opposite: (value) => (isFlag(value) ? !value : refuse("~", value)),
    truth,
    and: (value, rest) => (truth(value) ? rest() : value),
    or: (value, rest) => (truth(value) ? value : rest()),
    item: (owner, at) => {
      if (Array.isArray(at) && at.length === 0) return number("[()]", owner);
      const found = owner instanceof Map ? owner.get(at) : owner.at(at);
      return found === undefined ? refuse(`no item ${at}`, owner) : found;
    },
    each,
    slice: (owner, from, to) => owner.slice(from, to),
    text: (value) => (typeof value === "string" ? value : refuse("text", value)),

    any: (value) => (isFlag(value) ? value : number("any", value) !== 0),
    append: (list, value) => void list.push(value),
    get: (map, key) => map.get(key) ?? null,
    lower: (text) => text.toLowerCase(),
    upper: (text) => text.toUpperCase(),

    float: (value) => number("float", value),
    getattr: (owner, name) => (owner[name] === undefined ? refuse(`no attribute ${name}`, owner) : owner[name]),
    len: (value) => value.length ?? value.size,
    list: each,
    tuple: each,
    max: (...values) => values.reduce((most, value) => (value > most ? value : most)),
    min: (...values) => values.reduce((least, value) => (value < least ? value : least)),
    next: ([first]) => (first === undefined ? refuse("next of nothing", first) : first),
    range: (count) => Array.from({ length: count }, (_, at) => at),
    reversed: (values) => [...values].reverse(),
    sum: (values) => values.reduce((total, value) => total + number("sum", value), 0),
    zip: (...lists) => {
      if (lists.some(({ length }) => length !== lists[0].length)) refuse("lists of unlike length", ...lists);
      return lists[0].map((_, at) => lists.map((list) => list[at]));
    },

    abs: lifted("abs", Math.abs),
    asarray: (value) => (isFlag(value) ? value : number("asarray", value)),
    broadcast_to: (value) => number("broadcast_to", value),
    clip: (value, least, most) => Math.min(Math.max(number("clip", value), least), most),
    cos: lifted("cos", Math.cos),
    fmin: numeric("fmin", (one, other) => (Number.isNaN(one) || other < one ? other : one)),
    isfinite: lifted("isfinite", Number.isFinite),
    isnan: lifted("isnan", Number.isNaN),
    log10: lifted("log10", Math.log10),
    maximum: numeric("maximum", (one, other) => Math.max(one, other)),
    minimum: numeric("minimum", (one, other) => Math.min(one, other)),
    power: numeric("power", (one, other) => one ** other),
    sin: lifted("sin", Math.sin),
    sqrt: lifted("sqrt", Math.sqrt),
    where: (mask, yes, no) => (isFlag(mask) ? (mask ? yes : no) : refuse("where", mask)),

    replace,
    map_columns,
    solve_falling,
    together,
    // One lane has no need of guesses.
    trail_of: () => null,
    guessed: () => null,
    keep: () => null,
    spread_to: (value) => number("spread_to", value),
    shape_of: () => [],
    where_any: (mask, act, otherwise) => (isFlag(mask) ? (mask ? act() : otherwise) : refuse("where_any", mask)),
    compiled: (act, tree) => act(tree),
    quick: (act, ...values) => act(...values),
    share_below: lifted("share_below", (value) => 0.5 * erfc(-value / Math.SQRT2)),
    levels_of: (setting) => setting.levels ?? refuse("levels of wood are worked out beforehand", setting),
  };
})();

/** What `told` of the Python side wrote: objects, tuples, dicts and numbers. */
function retold(tree) {
  if (!Array.isArray(tree)) return tree;
  const [kind, ...rest] = tree;
  if (kind === "()") return rest.map(retold);
  if (kind === "{}") return new Map(rest.map((pair) => pair.map(retold)));
  if (kind === "#") return { inf: Infinity, "-inf": -Infinity, nan: NaN }[rest[0]];
  const [name, fields] = rest;
  return objectOf(name, (field) => retold(fields[field]));
}

/** Object of a translated dataclass; `valueOf` gives each field. */
function objectOf(name, valueOf) {
  const kind = lane.classes[name];
  return new kind(...kind.fields.map(valueOf));
}

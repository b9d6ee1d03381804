// @ts-nocheck: what Python's kinds are is known where these are called.
// What Python has and JavaScript lacks: the core's JavaScript calls these as `py`.
// Dicts are Maps, sets are Sets, lists and tuples are arrays, dataclasses are classes.

/** `row[i]`, which must be there; below zero it counts from the end. */
export function at(row, i) {
  const value = row[i < 0 ? i + row.length : i];
  if (value === undefined) throw new Error(`no place ${i}`);
  return value;
}

/** `row[i] = value` at a place that is there. */
export function put(row, i, value) {
  at(row, i);
  row[i < 0 ? i + row.length : i] = value;
}

/** What is taken apart into so many names. */
export function parts(row, count) {
  if (row.length !== count) throw new Error(`${row.length} values for ${count}`);
  return row;
}

/** `owner[key]` where the kind is not known beforehand, or of a text or a dict. */
export function item(owner, key) {
  if (typeof owner === "string") return character(owner, key);
  if (!(owner instanceof Map)) return at(owner, key);
  const value = owner.get(key);
  if (value === undefined) throw new Error(`no ${String(key)}`);
  return value;
}

/** `owner.get(key, otherwise)`; what is there may be None. */
export function get(owner, key, otherwise) {
  return owner.has(key) ? owner.get(key) : otherwise;
}

/** A dict of keys and values in turn. */
export function map(...turns) {
  const made = new Map();
  for (let i = 0; i < turns.length; i += 2) made.set(turns[i], turns[i + 1]);
  return made;
}

/** `map.setdefault(key, value)`. */
export function set_default(map, key, value) {
  if (!map.has(key)) map.set(key, value);
  return map.get(key);
}

/** `map.pop(key)`, `map.pop(key, otherwise)` or `list.pop()`. */
export function pop(owner, key, otherwise) {
  if (Array.isArray(owner)) {
    if (owner.length === 0) throw new Error("nothing is left");
    return owner.pop();
  }
  const value = owner.has(key) ? owner.get(key) : otherwise;
  if (value === undefined) throw new Error(`no ${String(key)}`);
  owner.delete(key);
  return value;
}

/** `row.index(x)`. */
export function index(row, x) {
  const found = row.findIndex((one) => equal(one, x));
  if (found < 0) throw new Error("not in the list");
  return found;
}

/** `x in owner` where more than identity decides, or the kind is not known beforehand. */
export function has(owner, x) {
  if (owner instanceof Map || owner instanceof Set) return owner.has(x);
  if (typeof owner === "string") return owner.includes(x);
  return owner.some((one) => equal(one, x));
}

/** What a loop over a value of unknown kind yields. */
export function each(x) {
  return x instanceof Map ? x.keys() : x;
}

/** Python's truth of a value. */
export function truthy(x) {
  if (Array.isArray(x)) return x.length > 0;
  if (x instanceof Map || x instanceof Set) return x.size > 0;
  return typeof x === "number" ? x !== 0 : Boolean(x);
}

/** `a == b` by value, as Python compares containers and dataclasses. */
export function equal(a, b) {
  if (a === b) return true;
  if (typeof a !== "object" || typeof b !== "object" || a === null || b === null) return false;
  if (Array.isArray(a)) {
    return Array.isArray(b) && a.length === b.length && a.every((one, i) => equal(one, b[i]));
  }
  if (a.constructor !== b.constructor) return false;
  if (a instanceof Set) return a.size === b.size && [...a].every((one) => b.has(one));
  if (a instanceof Map) {
    return a.size === b.size && [...a].every(([key, one]) => b.has(key) && equal(one, b.get(key)));
  }
  return Object.keys(a).every((name) => equal(a[name], b[name]));
}

/** Below, at or above zero as `a` is before, at or after `b`: texts by code point, lists by their
 * first difference. */
export function compare(a, b) {
  // The commonest first: the advice sorts thousands of numbers.
  if (typeof a === "number" && typeof b === "number") return a - b;
  if (typeof a === "string" && typeof b === "string") return compare_texts(a, b);
  if (Array.isArray(a) && Array.isArray(b)) {
    for (let i = 0; i < a.length && i < b.length; i += 1) {
      if (!equal(a[i], b[i])) return compare(a[i], b[i]);
    }
    return a.length - b.length;
  }
  if (typeof a !== "boolean" || typeof b !== "boolean") throw new Error("no order");
  return a - b;
}

function compare_texts(a, b) {
  if (a === b) return 0;
  const [left, right] = [Array.from(a), Array.from(b)];
  const i = left.findIndex((sign, at) => sign !== right[at]);
  if (i < 0 || i >= right.length) return left.length - right.length;
  return left[i].codePointAt(0) - right[i].codePointAt(0);
}

/** `sorted(list, key=key)`. */
export function sorted(list, key = (one) => one) {
  const keyed = list.map((one) => ({ key: key(one), one }));
  return keyed.sort((a, b) => compare(a.key, b.key)).map(({ one }) => one);
}

/** `list.sort(key=key)`. */
export function sort(list, key) {
  list.splice(0, list.length, ...sorted(list, key));
}

/** `dataclasses.replace(value, **changes)`. */
export function replaced(value, changes) {
  return Object.assign(Object.create(Object.getPrototypeOf(value)), value, changes);
}

/** `zip(a, b, strict=True)`. */
export function zip(a, b) {
  if (a.length !== b.length) throw new Error("zip of two lengths");
  return a.map((one, i) => [one, b[i]]);
}

/** `range(end)` or `range(start, end)`. */
export function range(start, end) {
  if (end === undefined) return range(0, start);
  return Array.from({ length: end > start ? end - start : 0 }, (_, i) => start + i);
}

// Numbers. `+ 0` makes 0 of the −0 that Python's whole numbers do not have.

/** A number toward zero, or a text of digits read. */
export function int(x) {
  if (typeof x === "string") {
    // `int` is one of the places where U+001C to U+001F are no spaces.
    const digits = strip(x, SPACES.replace(/[\x1c-\x1f]/g, ""));
    if (!/^[+-]?[0-9]+(_[0-9]+)*$/.test(digits)) throw new Error(`no whole number: ${x}`);
    return int(Number(digits.replaceAll("_", "")));
  }
  if (typeof x !== "number" || !Number.isFinite(x)) throw new Error(`no whole number: ${x}`);
  return Math.trunc(x) + 0;
}

/** What must be a number. */
export function number(x) {
  if (typeof x !== "number") throw new Error("no number");
  return x;
}

/** A square root, which a number below zero does not have. */
export function sqrt(x) {
  if (x < 0) throw new Error("root of a number below zero");
  return Math.sqrt(x);
}

/** `a // b` of whole numbers. */
export function floor_div(a, b) {
  const rest = rest_of(a, b);
  return (a - rest) / b + (is_across(rest, b) ? -1 : 0);
}

/** `a % b` of whole numbers: never of another sign than `b`. */
export function mod(a, b) {
  const rest = rest_of(a, b);
  return is_across(rest, b) ? rest + b : rest + 0;
}

function rest_of(a, b) {
  if (b === 0) throw new Error("division by zero");
  return a % b;
}

/** Whether JavaScript rounded the quotient toward zero where Python rounds it down. */
function is_across(rest, b) {
  return rest !== 0 && rest < 0 !== b < 0;
}

/** The first of equals, as in Python; `Math.max` prefers 0 to −0. */
export function max(a, b) {
  return b > a ? b : a;
}

/** The first of equals, as in Python. */
export function min(a, b) {
  return b < a ? b : a;
}

/** `f"{n:03d}"`. */
export function padded(n, width) {
  return n < 0 ? "-" + String(-n).padStart(width - 1, "0") : String(n).padStart(width, "0");
}

// Texts, counted in code points; JavaScript counts UTF-16 units.

/** Whether every unit is a code point, so that JavaScript's own indices serve. */
function is_simple(text) {
  for (let i = 0; i < text.length; i += 1) {
    const unit = text.charCodeAt(i);
    if (unit >= 0xd800 && unit < 0xe000) return false;
  }
  return true;
}

/** `len` of a text, or of what is not known beforehand. */
export function len(x) {
  if (typeof x !== "string") return x.size ?? x.length;
  return is_simple(x) ? x.length : Array.from(x).length;
}

/** `text.replace(old, replacement)`. */
export function replace(text, old, replacement) {
  return (old === "" ? ["", ...text, ""] : text.split(old)).join(replacement);
}

/** `text[i]`. */
export function character(text, i) {
  const found = is_simple(text) ? text.at(i) : Array.from(text).at(i);
  if (found === undefined) throw new Error(`no character ${i}`);
  return found;
}

/** `text[low:high]`. */
export function slice(text, low, high) {
  return is_simple(text) ? text.slice(low, high) : Array.from(text).slice(low, high).join("");
}

/** What `str.isspace` says yes to; `trim` removes U+FEFF too and leaves U+001C to U+001F, U+0085. */
const SPACES =
  "\t\n\v\f\r\x1c\x1d\x1e\x1f \x85\xa0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007" +
  "\u2008\u2009\u200a\u2028\u2029\u202f\u205f\u3000";

/** `text.strip(characters)`. */
export function strip(text, characters = SPACES) {
  const signs = Array.from(text);
  const removed = Array.from(characters);
  let [start, end] = [0, signs.length];
  while (start < end && removed.includes(signs[start])) start += 1;
  while (end > start && removed.includes(signs[end - 1])) end -= 1;
  return end - start === signs.length ? text : signs.slice(start, end).join("");
}

/** A text, a whole number, true, false or None as text. */
export function str(x) {
  if (x === null) return "None";
  return typeof x === "boolean" ? (x ? "True" : "False") : String(x);
}

/** What must be a text. */
export function text(x) {
  if (typeof x !== "string") throw new Error("no text");
  return x;
}

// What Python has and JavaScript does not: the only file here without a Python twin.

/** Key that must be there. @template K, V @param {Map<K, V>} map @param {K} key @returns {V} */
export function item(map, key) {
  const value = map.get(key);
  if (value === undefined) throw new Error(`no ${String(key)} among ${[...map.keys()].join(", ")}`);
  return value;
}

/** `map.setdefault(key, value)`. @template K, V @param {Map<K, V>} map @param {K} key @param {V} value */
export function set_default(map, key, value) {
  if (!map.has(key)) map.set(key, value);
}

/** Towards zero, and never the negative zero Python's integers lack. @param {number} x */
export function int(x) {
  return Math.trunc(x) + 0;
}

/** `a // b` of whole numbers, exact. @param {number} a @param {number} b */
export function floor_div(a, b) {
  return (a - mod(a, b)) / b + 0;
}

/** `a % b` of whole numbers, `b` positive: never negative. @param {number} a @param {number} b */
export function mod(a, b) {
  return (((a % b) + b) % b) + 0;
}

/** The first of equals, as in Python; `Math.max` prefers 0 to -0. @param {number} a @param {number} b */
export function max(a, b) {
  return b > a ? b : a;
}

/** The first of equals, as in Python. @param {number} a @param {number} b */
export function min(a, b) {
  return b < a ? b : a;
}

/** Code points; `text.length` counts UTF-16 units. @param {string} text */
export function len(text) {
  let count = 0;
  for (const _ of text) count += 1;
  return count;
}

/** What `str.isspace` says yes to; `trim` removes U+FEFF too and leaves U+001C to U+001F, U+0085. */
const SPACES =
  "\t\n\v\f\r\x1c\x1d\x1e\x1f \x85\xa0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007" +
  "\u2008\u2009\u200a\u2028\u2029\u202f\u205f\u3000";

/** `text.strip(characters)`. @param {string} text @param {string} [characters] */
export function strip(text, characters = SPACES) {
  let start = 0;
  let end = text.length;
  while (start < end && characters.includes(text.charAt(start))) start += 1;
  while (end > start && characters.includes(text.charAt(end - 1))) end -= 1;
  return text.slice(start, end);
}

/** Order of texts by code point; `<` orders by UTF-16 unit. @param {string} a @param {string} b */
export function compare_texts(a, b) {
  const left = Array.from(a);
  const right = Array.from(b);
  for (let i = 0; i < left.length && i < right.length; i += 1) {
    const difference = Number(left[i].codePointAt(0)) - Number(right[i].codePointAt(0));
    if (difference !== 0) return difference;
  }
  return left.length - right.length;
}

/** `dict(a) == dict(b)`: order does not matter. @template K, V @param {Map<K, V>} a @param {Map<K, V>} b */
export function same_items(a, b) {
  if (a.size !== b.size) return false;
  for (const [key, value] of a) {
    if (!b.has(key) || b.get(key) !== value) return false;
  }
  return true;
}

/** `list[-1]` of a list that is not empty. @template T @param {readonly T[]} list @returns {T} */
export function last(list) {
  return list[list.length - 1];
}

/** `a == b` of two values of one dataclass with fields of plain kinds.
 * @template {object} T @param {T} a @param {T} b */
export function equal(a, b) {
  const theirs = new Map(Object.entries(b));
  return Object.entries(a).every(([name, value]) => theirs.get(name) === value);
}

// Twin of src/lowside/core/numbers/arithmetic.py: the only numeric primitives the core uses.

import { int, strip } from "./python.js";

export const POWERS_OF_TEN = [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12];

export const MAX_DIGITS = 15;

const _SPACES = " \t\n\r\u00a0\u202f";

/** Text that is not a number Lowside accepts; `reason` is a sentence for the user. */
export class BadNumber {
  /** @param {string} reason */
  constructor(reason) {
    this.reason = reason;
  }
}

/** Read a number exactly as a technician types it. @param {string} text @returns {number | BadNumber} */
export function parse_decimal(text) {
  let body = strip(text, _SPACES);
  if (body === "") {
    return new BadNumber("Nothing entered. Type a number.");
  }
  let negative = false;
  if ("+-\u2212".includes(body.charAt(0))) {
    negative = body.charAt(0) !== "+";
    body = body.slice(1);
  }
  const [whole, separator, fraction] = _split_at_separator(body);
  if (whole === "" && fraction === "") {
    return new BadNumber(
      `“${strip(text, _SPACES)}” is not a number. Use digits, like 118 or 54.5.`,
    );
  }
  if (!(_all_digits(whole) && _all_digits(fraction))) {
    return new BadNumber(
      `“${strip(text, _SPACES)}” is not a number. Use digits, like 118 or 54.5.`,
    );
  }
  if (separator === "," && fraction.length === 3 && whole !== "" && whole !== "0") {
    return new BadNumber(
      `“${strip(text, _SPACES)}” can be read two ways. Type ${whole}${fraction} ` +
        `or ${whole}.${fraction}.`,
    );
  }
  if (whole.length + fraction.length > MAX_DIGITS || fraction.length >= POWERS_OF_TEN.length) {
    return new BadNumber("Too many digits. Type the number as the instrument shows it.");
  }
  let digits = 0.0;
  for (const character of whole + fraction) {
    digits = digits * 10.0 + (character.charCodeAt(0) - 48);
  }
  const value = digits / POWERS_OF_TEN[fraction.length];
  return negative && value !== 0.0 ? -value : value;
}

/** Write `value` with `decimals` digits after the point, halves away from zero.
 * @param {number} value @param {number} decimals */
export function format_decimal(value, decimals) {
  const scaled = Math.floor(Math.abs(value) * POWERS_OF_TEN[decimals] + 0.5);
  if (!(scaled < 9007199254740992)) {
    throw new Error(`cannot format ${value}`);
  }
  let digits = String(int(scaled));
  while (digits.length <= decimals) {
    digits = "0" + digits;
  }
  const sign = value < 0 && scaled !== 0 ? "\u2212" : "";
  if (decimals === 0) {
    return sign + digits;
  }
  const cut = digits.length - decimals;
  return sign + digits.slice(0, cut) + "." + digits.slice(cut);
}

/** Index `i` with `grid[i] <= x <= grid[i + 1]` for an increasing grid that covers `x`.
 * @param {readonly number[]} grid @param {number} x */
export function segment(grid, x) {
  let low = 0;
  let high = grid.length - 1;
  while (high - low > 1) {
    const middle = Math.floor((low + high) / 2);
    if (grid[middle] <= x) {
      low = middle;
    } else {
      high = middle;
    }
  }
  return low;
}

/** Cubic Hermite value at `x` in segment `i` (see `segment`). The caller checks the range.
 * @param {readonly number[]} grid @param {readonly number[]} values
 * @param {readonly number[]} slopes @param {number} x @param {number} i */
export function hermite(grid, values, slopes, x, i) {
  const width = grid[i + 1] - grid[i];
  const t = (x - grid[i]) / width;
  const u = 1.0 - t;
  return (
    values[i] * (1.0 + 2.0 * t) * u * u +
    slopes[i] * width * t * u * u +
    values[i + 1] * (3.0 - 2.0 * t) * t * t -
    slopes[i + 1] * width * t * t * u
  );
}

/** Straight-line interpolation in a table that covers `x`.
 * @param {readonly number[]} grid @param {readonly number[]} values @param {number} x */
export function linear(grid, values, x) {
  const i = segment(grid, x);
  const t = (x - grid[i]) / (grid[i + 1] - grid[i]);
  return values[i] + (values[i + 1] - values[i]) * t;
}

/** Correctly rounded on both sides. @param {number} value */
export function square_root(value) {
  return Math.sqrt(value);
}

/** @param {string} body @returns {[string, string, string]} */
function _split_at_separator(body) {
  for (let i = 0; i < body.length; i += 1) {
    const character = body.charAt(i);
    if (character === "." || character === ",") {
      return [body.slice(0, i), character, body.slice(i + 1)];
    }
  }
  return [body, "", ""];
}

/** @param {string} text */
function _all_digits(text) {
  for (const character of text) {
    if (!("0" <= character && character <= "9")) return false;
  }
  return true;
}

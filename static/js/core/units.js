// Twin of src/lowside/core/numbers/units.py: text and a unit in, SI out, and back to text for the screen.

import { BadNumber, format_decimal, parse_decimal } from "./arithmetic.js";
import { floor_div, int, item, strip } from "./python.js";

export const PSI_PA = 6894.757293168;
export const POUND_KG = 0.45359237;
export const OUNCE_KG = POUND_KG / 16.0;
export const FOOT_M = 0.3048;
export const INCH_M = 0.0254;
export const TON_W = 3516.8528420667;
export const ZERO_CELSIUS_K = 273.15;
export const FAHRENHEIT_OFFSET = 459.67;

/** SI = value * factor + offset; `decimals` is how the screen writes it. */
export class Scale {
  /** @param {number} factor @param {number} offset @param {number} decimals */
  constructor(factor, offset, decimals) {
    this.factor = factor;
    this.offset = offset;
    this.decimals = decimals;
  }
}

/** @typedef {Map<string, Scale>} Scales */

/** @type {Scales} */
export const GAUGE_PRESSURE = new Map([
  ["psig", new Scale(PSI_PA, 0.0, 0)],
  ["kPa", new Scale(1000.0, 0.0, 0)],
  ["bar", new Scale(100000.0, 0.0, 2)],
]);

/** @type {Scales} */
export const TEMPERATURE = new Map([
  ["°F", new Scale(5.0 / 9.0, (FAHRENHEIT_OFFSET * 5.0) / 9.0, 1)],
  ["°C", new Scale(1.0, ZERO_CELSIUS_K, 1)],
]);

/** @type {Scales} */
export const TEMPERATURE_DIFFERENCE = new Map([
  ["°F", new Scale(5.0 / 9.0, 0.0, 1)],
  ["°C", new Scale(1.0, 0.0, 1)],
]);

/** @type {Scales} */
export const MASS = new Map([
  ["lb+oz", new Scale(POUND_KG, 0.0, 1)],
  ["lb", new Scale(POUND_KG, 0.0, 2)],
  ["oz", new Scale(OUNCE_KG, 0.0, 1)],
  ["kg", new Scale(1.0, 0.0, 3)],
  ["g", new Scale(0.001, 0.0, 0)],
]);

/** @type {Scales} */
export const LENGTH = new Map([
  ["ft", new Scale(FOOT_M, 0.0, 0)],
  ["m", new Scale(1.0, 0.0, 1)],
]);

/** @type {Scales} */
export const HOSE_LENGTH = new Map([
  ["ft", new Scale(FOOT_M, 0.0, 1)],
  ["m", new Scale(1.0, 0.0, 2)],
]);

/** @type {Scales} */
export const BORE = new Map([
  ["in", new Scale(INCH_M, 0.0, 3)],
  ["mm", new Scale(0.001, 0.0, 1)],
]);

/** @type {Scales} */
export const LINE_ADDER = new Map([
  ["oz/ft", new Scale(OUNCE_KG / FOOT_M, 0.0, 2)],
  ["g/m", new Scale(0.001, 0.0, 0)],
]);

/** @type {Scales} */
export const CAPACITY = new Map([
  ["ton", new Scale(TON_W, 0.0, 1)],
  ["kW", new Scale(1000.0, 0.0, 1)],
]);

/** @type {Scales} */
export const RELATIVE_HUMIDITY = new Map([["%", new Scale(0.01, 0.0, 0)]]);

/** @type {Scales} */
export const CURRENT = new Map([["A", new Scale(1.0, 0.0, 1)]]);

/** @type {Scales} */
export const DURATION = new Map([
  ["s", new Scale(1.0, 0.0, 0)],
  ["min", new Scale(60.0, 0.0, 0)],
]);

/** @type {Map<string, Scales>} */
export const QUANTITIES = new Map([
  ["gauge_pressure", GAUGE_PRESSURE],
  ["temperature", TEMPERATURE],
  ["temperature_difference", TEMPERATURE_DIFFERENCE],
  ["mass", MASS],
  ["length", LENGTH],
  ["hose_length", HOSE_LENGTH],
  ["bore", BORE],
  ["line_adder", LINE_ADDER],
  ["capacity", CAPACITY],
  ["relative_humidity", RELATIVE_HUMIDITY],
  ["current", CURRENT],
  ["duration", DURATION],
]);

/** Read one typed quantity.
 * @param {string} quantity @param {string} text @param {string} unit @param {string} [ounces]
 * @returns {number | BadNumber} */
export function parse(quantity, text, unit, ounces = "") {
  const scales = item(QUANTITIES, quantity);
  const scale = scales.get(unit);
  if (scale === undefined) {
    return new BadNumber(`Choose a unit: ${[...scales.keys()].join(", ")}.`);
  }
  const value = parse_decimal(text);
  if (unit === "lb+oz") {
    return _pounds_and_ounces(value, text, ounces);
  }
  if (value instanceof BadNumber) {
    return value;
  }
  return value * scale.factor + scale.offset;
}

/** The value in `unit` as the screen writes it, without the unit's name (except `lb+oz`).
 * @param {string} quantity @param {number} si @param {string} unit @returns {string} */
export function show(quantity, si, unit) {
  if (quantity === "mass" && unit === "lb+oz") {
    return _show_pounds_and_ounces(si);
  }
  const scale = item(item(QUANTITIES, quantity), unit);
  return format_decimal((si - scale.offset) / scale.factor, scale.decimals);
}

/** The value with its unit, for sentences: `118 psig`, `21 lb 4.5 oz`.
 * @param {string} quantity @param {number} si @param {string} unit */
export function label(quantity, si, unit) {
  const text = show(quantity, si, unit);
  if (unit === "lb+oz") {
    return text;
  }
  if (unit === "%") {
    return text + unit;
  }
  return text + " " + unit;
}

/** @param {number | BadNumber} pounds @param {string} pounds_text @param {string} ounces_text
 * @returns {number | BadNumber} */
function _pounds_and_ounces(pounds, pounds_text, ounces_text) {
  if (strip(pounds_text) === "" && strip(ounces_text) !== "") {
    pounds = 0.0;
  }
  if (pounds instanceof BadNumber) {
    return pounds;
  }
  if (strip(ounces_text) === "") {
    return pounds * POUND_KG;
  }
  const ounces = parse_decimal(ounces_text);
  if (ounces instanceof BadNumber) {
    return ounces;
  }
  if (ounces < 0.0 || pounds < 0.0) {
    return new BadNumber("Pounds and ounces cannot be negative. Type the weight as shown.");
  }
  if (ounces >= 16.0) {
    return new BadNumber("Ounces go up to 15.9. Carry the rest into pounds.");
  }
  if (pounds !== int(pounds)) {
    return new BadNumber("Type whole pounds when you also give ounces, or leave ounces empty.");
  }
  return pounds * POUND_KG + ounces * OUNCE_KG;
}

/** @param {number} si */
function _show_pounds_and_ounces(si) {
  const tenths = int((Math.abs(si) / OUNCE_KG) * 10.0 + 0.5);
  const sign = si < 0 && tenths !== 0 ? "\u2212" : "";
  const pounds = floor_div(tenths, 160);
  const ounces = format_decimal((tenths - pounds * 160) / 10.0, 1) + " oz";
  if (pounds === 0) {
    return sign + ounces;
  }
  return sign + String(pounds) + " lb " + ounces;
}

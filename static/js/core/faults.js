// Twin of src/lowside/core/faults.py: readings that point elsewhere than to the charge.

import { NoValue, look_up } from "./charts.js";
import { Fact, Finding, REFUSE, Unknown, WARN } from "./findings.js";
import { EEV, TXV } from "./system.js";
import { FAHRENHEIT_DEGREE_K, SUBCOOLING, Target } from "./targets.js";

/** @typedef {import("./charts.js").Chart} Chart */
/** @typedef {import("./system.js").Reading} Reading */
/** @typedef {import("./system.js").System} System */
/** @typedef {import("./targets.js").NoTarget} NoTarget */

export const SUBCOOLING_HIGH_K = 15.0 * FAHRENHEIT_DEGREE_K;

export const COIL_BELOW_RETURN_K = 35.0 * FAHRENHEIT_DEGREE_K;
export const COIL_LOW_K = COIL_BELOW_RETURN_K + 10.0 * FAHRENHEIT_DEGREE_K;
export const COIL_HIGH_K = COIL_BELOW_RETURN_K - 17.0 * FAHRENHEIT_DEGREE_K;

export const CONDENSING_HIGH_K = 40.0 * FAHRENHEIT_DEGREE_K;
export const CONDENSING_LOW_K = 6.0 * FAHRENHEIT_DEGREE_K;

export const SPLIT_TOLERANCE_K = 3.0 * FAHRENHEIT_DEGREE_K;

/** What the patterns are made of [K]; `null` where not known. */
export class Signs {
  /** @param {{superheat_k: number | null, superheat_range_k: [number, number] | null,
   *   subcooling_k: number | null, target: Target | NoTarget, dew_k: number | null,
   *   bubble_k: number | null, wet_bulb_k: number | Unknown}} fields */
  constructor(fields) {
    this.superheat_k = fields.superheat_k;
    this.superheat_range_k = fields.superheat_range_k;
    this.subcooling_k = fields.subcooling_k;
    this.target = fields.target;
    this.dew_k = fields.dew_k;
    this.bubble_k = fields.bubble_k;
    this.wet_bulb_k = fields.wet_bulb_k;
  }
}

/** Every pattern the reading shows; REFUSE: do not add on it.
 * @param {System} system @param {Reading} reading @param {Signs} signs @param {Chart} split_chart */
export function fault_findings(system, reading, signs, split_chart) {
  /** @type {Finding[]} */
  const found = [];
  for (const check of [_restriction, _weak_compressor, _low_airflow, _high_head]) {
    const finding = check(system, reading, signs);
    if (finding !== null) {
      found.push(finding);
    }
  }
  const split = _split(reading, signs, split_chart);
  if (split !== null) {
    found.push(split);
  }
  return found;
}

/** Coil starved while liquid stands before the metering device.
 * @param {System} _system @param {Reading} _reading @param {Signs} signs
 * @returns {Finding | null} */
function _restriction(_system, _reading, signs) {
  if (
    signs.superheat_k === null ||
    signs.superheat_range_k === null ||
    signs.subcooling_k === null
  ) {
    return null;
  }
  let enough = SUBCOOLING_HIGH_K;
  if (signs.target instanceof Target && signs.target.quantity === SUBCOOLING) {
    enough = signs.target.value_k - signs.target.tolerance_k;
  }
  if (signs.superheat_k <= signs.superheat_range_k[1] || signs.subcooling_k < enough) {
    return null;
  }
  const stands = signs.subcooling_k >= SUBCOOLING_HIGH_K ? "high" : "not low";
  return _pattern(
    "restriction",
    _sign("superheat", "high", "temperature_difference", signs.superheat_k),
    _sign("subcooling", stands, "temperature_difference", signs.subcooling_k),
  );
}

/** Coil too cold for the air it gets, without being starved.
 * @param {System} system @param {Reading} reading @param {Signs} signs
 * @returns {Finding | null} */
function _low_airflow(system, reading, signs) {
  if (
    signs.dew_k === null ||
    reading.return_dry_bulb_k === null ||
    signs.superheat_k === null
  ) {
    return null;
  }
  if (
    reading.return_dry_bulb_k - signs.dew_k <= COIL_LOW_K ||
    signs.superheat_range_k === null
  ) {
    return null;
  }
  const [lowest, highest] = signs.superheat_range_k;
  const suction = _sign("coil temperature", "low", "temperature", signs.dew_k);
  const superheat = _sign("superheat", "low", "temperature_difference", signs.superheat_k);
  if (signs.superheat_k < lowest) {
    return _pattern("low_airflow", suction, superheat);
  }
  if (!(system.metering === TXV || system.metering === EEV) || signs.superheat_k > highest) {
    return null;
  }
  if (signs.subcooling_k === null || !(signs.target instanceof Target)) {
    return null;
  }
  if (signs.subcooling_k < signs.target.value_k - signs.target.tolerance_k) {
    return null;
  }
  return _pattern(
    "low_airflow",
    suction,
    _sign("subcooling", "not low", "temperature_difference", signs.subcooling_k),
  );
}

/** @param {System} _system @param {Reading} reading @param {Signs} signs
 * @returns {Finding | null} */
function _high_head(_system, reading, signs) {
  if (signs.bubble_k === null || reading.outdoor_dry_bulb_k === null) {
    return null;
  }
  const over = signs.bubble_k - reading.outdoor_dry_bulb_k;
  if (over <= CONDENSING_HIGH_K) {
    return null;
  }
  return _pattern(
    "high_head",
    _sign("condensing over outdoor air", "high", "temperature_difference", over),
  );
}

/** @param {System} _system @param {Reading} reading @param {Signs} signs
 * @returns {Finding | null} */
function _weak_compressor(_system, reading, signs) {
  if (signs.bubble_k === null || signs.dew_k === null) {
    return null;
  }
  if (reading.outdoor_dry_bulb_k === null || reading.return_dry_bulb_k === null) {
    return null;
  }
  const over = signs.bubble_k - reading.outdoor_dry_bulb_k;
  if (over >= CONDENSING_LOW_K || reading.return_dry_bulb_k - signs.dew_k >= COIL_HIGH_K) {
    return null;
  }
  return _pattern(
    "weak_compressor",
    _sign("coil temperature", "high", "temperature", signs.dew_k),
    _sign("condensing over outdoor air", "low", "temperature_difference", over),
  );
}

/** Return minus supply air against the published target split.
 * @param {Reading} reading @param {Signs} signs @param {Chart} chart @returns {Finding | null} */
function _split(reading, signs, chart) {
  if (reading.supply_dry_bulb_k === null || reading.return_dry_bulb_k === null) {
    return null;
  }
  if (signs.wet_bulb_k instanceof Unknown) {
    return null;
  }
  const target = look_up(chart, reading.return_dry_bulb_k, signs.wet_bulb_k);
  if (target instanceof NoValue) {
    return null;
  }
  const split = reading.return_dry_bulb_k - reading.supply_dry_bulb_k;
  if (Math.abs(split - target) <= SPLIT_TOLERANCE_K) {
    return null;
  }
  return new Finding(split > target ? "split_high" : "split_low", WARN, [
    new Fact("split", "temperature_difference", split),
    new Fact("target", "temperature_difference", target),
  ]);
}

/** @param {string} code @param {Fact[]} signs */
function _pattern(code, ...signs) {
  return new Finding(code, REFUSE, [], signs);
}

/** @param {string} name @param {string} stands @param {string} quantity @param {number} value */
function _sign(name, stands, quantity, value) {
  return new Fact(name, quantity, value, stands);
}

// Twin of src/lowside/core/judging/faults.py: which readings stand high or low together, and what it means.

import { SLACK_K, SPLIT_REFUSED_K, SPLIT_TOLERANCE_K, thermometer_error } from "./conditions.js";
import { Fact, Finding, REFUSE, SHOWS, Unknown, WARN } from "./findings.js";
import { EEV, TXV } from "./system.js";
import { FAHRENHEIT_DEGREE_K, SUBCOOLING, SUBCOOLING_TOLERANCE_K, Target } from "./targets.js";
import { FAHRENHEIT_OFFSET } from "./units.js";

/** @typedef {import("./system.js").Reading} Reading */
/** @typedef {import("./system.js").System} System */
/** @typedef {import("./targets.js").NoTarget} NoTarget */

export const LOW = "low";
export const NORMAL = "normal";
export const HIGH = "high";
export const NOT_KNOWN = "";

export const USUAL_SUBCOOLING_LOWEST_K = 5.0 * FAHRENHEIT_DEGREE_K;
export const USUAL_SUBCOOLING_HIGHEST_K = 18.0 * FAHRENHEIT_DEGREE_K;
export const TELLING_SUBCOOLING_K = 10.0 * FAHRENHEIT_DEGREE_K;

export const SUCTION_LOW_BELOW_RETURN_K = 45.0 * FAHRENHEIT_DEGREE_K;
export const SUCTION_HIGH_BELOW_RETURN_K = 20.0 * FAHRENHEIT_DEGREE_K;
export const SUCTION_LOW_K = (32.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K;
export const SUCTION_HIGH_K = (60.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K;

export const HEAD_LOW_ABOVE_OUTDOOR_K = 10.0 * FAHRENHEIT_DEGREE_K;
export const HEAD_HIGH_ABOVE_OUTDOOR_K = 35.0 * FAHRENHEIT_DEGREE_K;
export const HEAD_HIGH_LOWEST_K = (100.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K;

/** How each sign stands (LOW, NORMAL, HIGH, NOT_KNOWN) and its value [K]. */
export class Signs {
  /** @param {string} superheat @param {number} superheat_k @param {string} subcooling
   * @param {number} subcooling_k @param {string} suction @param {number} dew_k
   * @param {string} head @param {number} above_outdoor_k @param {string} split
   * @param {number} split_k @param {boolean} split_sure */
  constructor(
    superheat,
    superheat_k,
    subcooling,
    subcooling_k,
    suction,
    dew_k,
    head,
    above_outdoor_k,
    split,
    split_k,
    split_sure = true,
  ) {
    this.superheat = superheat;
    this.superheat_k = superheat_k;
    this.subcooling = subcooling;
    this.subcooling_k = subcooling_k;
    this.suction = suction;
    this.dew_k = dew_k;
    this.head = head;
    this.above_outdoor_k = above_outdoor_k;
    this.split = split;
    this.split_k = split_k;
    this.split_sure = split_sure;
  }
}

/** How each reading stands: superheat against `expected`, subcooling against the maker's figure or
 * the usual range, the rest against the air. All in K.
 * @param {System} system @param {Reading} reading @param {number | Unknown} superheat
 * @param {number | Unknown} subcooling @param {number | null} dew_k
 * @param {number | null} bubble_k @param {Target | NoTarget} target
 * @param {[number, number] | null} expected @param {[number, number] | null} split */
export function signs_of(
  system,
  reading,
  superheat,
  subcooling,
  dew_k,
  bubble_k,
  target,
  expected,
  split,
) {
  let superheat_level = NOT_KNOWN;
  let superheat_k = 0.0;
  if (!(superheat instanceof Unknown)) {
    superheat_k = superheat;
    if (expected !== null) {
      superheat_level = level(superheat, expected[0], expected[1]);
    }
  }
  let subcooling_level = NOT_KNOWN;
  let subcooling_k = 0.0;
  if (!(subcooling instanceof Unknown)) {
    subcooling_k = subcooling;
    const [lowest, highest] = _usual_subcooling(system, target);
    subcooling_level = level(subcooling, lowest, highest);
  }
  const outdoor = reading.outdoor_dry_bulb_k;
  let head = NOT_KNOWN;
  let above_outdoor = 0.0;
  if (bubble_k !== null && outdoor !== null) {
    head = head_level(bubble_k, outdoor);
    above_outdoor = bubble_k - outdoor;
  }
  return new Signs(
    superheat_level,
    superheat_k,
    subcooling_level,
    subcooling_k,
    dew_k === null ? NOT_KNOWN : suction_level(dew_k, reading.return_dry_bulb_k),
    dew_k === null ? 0.0 : dew_k,
    head,
    above_outdoor,
    split_level(split),
    split === null ? 0.0 : split[0],
    _sure(reading, split),
  );
}

/** @param {System} system @param {Target | NoTarget} target @returns {[number, number]} */
function _usual_subcooling(system, target) {
  if (target instanceof Target && target.quantity === SUBCOOLING) {
    return [target.value_k - target.tolerance_k, target.value_k + target.tolerance_k];
  }
  const value = system.maker_subcooling_k;
  if (value !== null) {
    return [value - SUBCOOLING_TOLERANCE_K, value + SUBCOOLING_TOLERANCE_K];
  }
  return [USUAL_SUBCOOLING_LOWEST_K, USUAL_SUBCOOLING_HIGHEST_K];
}

/** LOW, NORMAL or HIGH; the limits themselves are normal.
 * @param {number} value_k @param {number} lowest_k @param {number} highest_k */
export function level(value_k, lowest_k, highest_k) {
  if (value_k < lowest_k - SLACK_K) {
    return LOW;
  }
  if (value_k > highest_k + SLACK_K) {
    return HIGH;
  }
  return NORMAL;
}

/** How low-side saturation [K] stands against return air [K].
 * @param {number} dew_k @param {number | null} return_air_k */
export function suction_level(dew_k, return_air_k) {
  if (return_air_k === null) {
    return level(dew_k, SUCTION_LOW_K, SUCTION_HIGH_K);
  }
  return level(
    dew_k,
    return_air_k - SUCTION_LOW_BELOW_RETURN_K,
    return_air_k - SUCTION_HIGH_BELOW_RETURN_K,
  );
}

/** How condensing temperature [K] stands against outdoor air [K].
 * @param {number} bubble_k @param {number} outdoor_k */
export function head_level(bubble_k, outdoor_k) {
  const found = level(
    bubble_k,
    outdoor_k + HEAD_LOW_ABOVE_OUTDOOR_K,
    outdoor_k + HEAD_HIGH_ABOVE_OUTDOOR_K,
  );
  if (found === HIGH && bubble_k <= HEAD_HIGH_LOWEST_K) {
    return NORMAL;
  }
  return found;
}

/** How the air's temperature drop stands against the chart (`conditions.split_of`).
 * @param {[number, number] | null} split */
export function split_level(split) {
  if (split === null) {
    return NOT_KNOWN;
  }
  return level(split[0], split[1] - SPLIT_TOLERANCE_K, split[1] + SPLIT_TOLERANCE_K);
}

/** Whether the split fails both tests of RA3.2 whatever its thermometers may err.
 * @param {Reading} reading @param {[number, number] | null} split @returns {boolean} */
function _sure(reading, split) {
  const supply = reading.supply_dry_bulb_k;
  const indoor = reading.return_dry_bulb_k;
  if (split === null || supply === null || indoor === null) {
    return false;
  }
  const error = thermometer_error(supply) + thermometer_error(indoor);
  return split[0] > split[1] + SPLIT_REFUSED_K + error;
}

/** What the signs look like together; `null` when they look like nothing in particular.
 * @param {Signs} signs @param {string} metering @param {boolean} maker_subcooling
 * @returns {Finding | null} */
export function pattern(signs, metering, maker_subcooling) {
  const valve = metering === TXV || metering === EEV;
  if (signs.suction === HIGH && signs.head === LOW) {
    return _finding("weak_compressor", REFUSE, signs, ["suction", "head"]);
  }
  if (signs.head === HIGH) {
    return _high_head(signs, valve);
  }
  if (_starved_of_air(signs)) {
    return _finding("low_airflow", REFUSE, signs, ["superheat", "suction", "split"]);
  }
  const starved = signs.superheat === HIGH || signs.subcooling === LOW;
  if (signs.split === HIGH && signs.split_sure && starved) {
    return _finding("airflow_first", REFUSE, signs, ["split", "superheat", "subcooling"]);
  }
  if (signs.superheat === HIGH) {
    return _high_superheat(signs, valve, maker_subcooling);
  }
  if (signs.superheat === LOW) {
    return _low_superheat(signs, valve);
  }
  if (signs.subcooling === HIGH) {
    if (valve) {
      return _finding("overcharge", REFUSE, signs, ["subcooling", "head"]);
    }
    return _finding("subcooling_high", WARN, signs, ["subcooling"]);
  }
  if (signs.subcooling === LOW && valve) {
    return _finding("undercharge_valve", SHOWS, signs, ["subcooling", "suction", "head"]);
  }
  if (signs.suction === LOW) {
    return _finding("suction_low", WARN, signs, ["suction"]);
  }
  return null;
}

/** @param {Signs} signs @param {boolean} valve */
function _high_head(signs, valve) {
  if (signs.subcooling === LOW) {
    return _finding("low_outdoor_airflow", REFUSE, signs, ["head", "subcooling", "superheat"]);
  }
  if (signs.subcooling === HIGH) {
    if (signs.superheat === HIGH || (signs.superheat === NORMAL && !valve)) {
      return _finding("restriction_overcharge", REFUSE, signs, [
        "head",
        "subcooling",
        "superheat",
      ]);
    }
    return _finding("overcharge", REFUSE, signs, ["subcooling", "head", "superheat"]);
  }
  return _finding("high_head", REFUSE, signs, ["head"]);
}

/** @param {Signs} signs */
function _starved_of_air(signs) {
  if (signs.suction !== LOW || [signs.subcooling, signs.split].includes(LOW)) {
    return false;
  }
  if (signs.superheat === HIGH) {
    return false;
  }
  return signs.superheat === LOW || signs.split === HIGH;
}

/** @param {Signs} signs @param {boolean} valve @param {boolean} maker_subcooling
 * @returns {Finding | null} */
function _high_superheat(signs, valve, maker_subcooling) {
  const which = ["superheat", "subcooling", "suction", "head"];
  if (signs.subcooling === LOW) {
    return _finding("undercharge", SHOWS, signs, which);
  }
  if (signs.subcooling === HIGH) {
    return _finding("restriction", REFUSE, signs, which);
  }
  if (signs.subcooling === NOT_KNOWN) {
    const code = valve ? "valve_superheat_high" : "subcooling_needed";
    return _finding(code, WARN, signs, ["superheat"]);
  }
  if (maker_subcooling) {
    return _with_normal("restriction", REFUSE, signs);
  }
  if (signs.subcooling_k >= TELLING_SUBCOOLING_K) {
    return _with_normal("restriction_possible", WARN, signs);
  }
  return valve ? _finding("valve_superheat_high", WARN, signs, ["superheat"]) : null;
}

/** @param {Signs} signs @param {boolean} valve */
function _low_superheat(signs, valve) {
  if (valve) {
    return _finding("valve_floods", REFUSE, signs, ["superheat"]);
  }
  if (signs.subcooling === HIGH) {
    return _finding("overcharge", REFUSE, signs, ["superheat", "subcooling", "suction"]);
  }
  if (signs.subcooling === LOW) {
    return _finding("overfed", REFUSE, signs, ["superheat", "subcooling"]);
  }
  return _finding("low_superheat", WARN, signs, ["superheat"]);
}

/** The finding with those of `which` that do not stand normal.
 * @param {string} code @param {string} grade @param {Signs} signs @param {string[]} which */
function _finding(code, grade, signs, which) {
  return new Finding(code, grade, [], _signs(signs, which, [LOW, HIGH]));
}

/** A finding in which subcooling that stands normal is part of the story.
 * @param {string} code @param {string} grade @param {Signs} signs */
function _with_normal(code, grade, signs) {
  const which = ["superheat", "subcooling"];
  return new Finding(code, grade, [], _signs(signs, which, [LOW, NORMAL, HIGH]));
}

/** Those of `which` that stand in one of `stands`, as the sentence names them.
 * @param {Signs} signs @param {string[]} which @param {string[]} stands */
function _signs(signs, which, stands) {
  /** @type {Fact[]} */
  const found = [];
  for (const name of which) {
    if (name === "superheat" && stands.includes(signs.superheat)) {
      found.push(_difference("superheat", signs.superheat_k, signs.superheat));
    } else if (name === "subcooling" && stands.includes(signs.subcooling)) {
      found.push(_difference("subcooling", signs.subcooling_k, signs.subcooling));
    } else if (name === "suction" && stands.includes(signs.suction)) {
      found.push(new Fact("low-side saturation", "temperature", signs.dew_k, signs.suction));
    } else if (name === "head" && stands.includes(signs.head)) {
      found.push(
        _difference("condensing above outdoor air", signs.above_outdoor_k, signs.head),
      );
    } else if (name === "split" && stands.includes(signs.split)) {
      found.push(_difference("air temperature drop", signs.split_k, signs.split));
    }
  }
  return found;
}

/** @param {string} name @param {number} value_k @param {string} stands */
function _difference(name, value_k, stands) {
  return new Fact(name, "temperature_difference", value_k, stands);
}

// Twin of src/lowside/core/judging/conditions.py: what today's conditions say.

import { NoValue, look_up } from "./charts.js";
import { Fact, Finding, REFUSE, STOP, Unknown, WARN, missing_text } from "./findings.js";
import { max } from "./python.js";
import { BY_WEIGHT } from "./system.js";
import { BOUNDARY_K, FAHRENHEIT_DEGREE_K } from "./targets.js";
import { FAHRENHEIT_OFFSET, PSI_PA, ZERO_CELSIUS_K } from "./units.js";

/** @typedef {import("./charts.js").Charts} Charts */
/** @typedef {import("./system.js").Reading} Reading */
/** @typedef {import("./system.js").System} System */

export const OUTDOOR_LOWEST_K = (55.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K;
export const OUTDOOR_HIGHEST_K = (120.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K;
export const INDOOR_LOWEST_K = (70.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K;
export const INDOOR_HIGHEST_K = (80.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K;

export const FREEZING_K = ZERO_CELSIUS_K;

export const THERMOMETER_K = 1.3 * FAHRENHEIT_DEGREE_K;
export const THERMOMETER_SHARE = 0.001;
export const SUCTION_GAUGE_PA = 3.5 * PSI_PA;
export const LIQUID_GAUGE_PA = 7.0 * PSI_PA;

export const SPLIT_TOLERANCE_K = 3.0 * FAHRENHEIT_DEGREE_K;
export const SPLIT_REFUSED_K = 4.0 * FAHRENHEIT_DEGREE_K;

export const SLACK_K = BOUNDARY_K;

/** Error [K] a permitted thermometer may have at `temperature_k` [K]. @param {number} temperature_k */
export function thermometer_error(temperature_k) {
  let above_zero_f = temperature_k - FAHRENHEIT_OFFSET * FAHRENHEIT_DEGREE_K;
  above_zero_f = max(above_zero_f, 0.0);
  return THERMOMETER_K + THERMOMETER_SHARE * above_zero_f;
}

/** Return minus supply air and what the chart expects [K]; `null` when either is not known.
 * @param {Reading} reading @param {number | Unknown} wet_bulb_k @param {Charts} charts
 * @returns {[number, number] | null} */
export function split_of(reading, wet_bulb_k, charts) {
  if (reading.return_dry_bulb_k === null || reading.supply_dry_bulb_k === null) {
    return null;
  }
  if (wet_bulb_k instanceof Unknown) {
    return null;
  }
  const target = look_up(charts.target_split, reading.return_dry_bulb_k, wet_bulb_k);
  if (target instanceof NoValue) {
    return null;
  }
  return [reading.return_dry_bulb_k - reading.supply_dry_bulb_k, target];
}

/** Whether charging by readings holds in this air. Weighing in holds in any.
 * @param {System} system @param {Reading} reading @returns {Finding[]} */
export function method_limits(system, reading) {
  if (system.method === BY_WEIGHT) {
    return [];
  }
  /** @type {Finding[]} */
  const found = [];
  const outdoor = reading.outdoor_dry_bulb_k;
  if (outdoor !== null) {
    if (outdoor < OUTDOOR_LOWEST_K - SLACK_K) {
      found.push(_limit("outdoor_cold", REFUSE, "outdoor", outdoor, OUTDOOR_LOWEST_K));
    } else if (outdoor > OUTDOOR_HIGHEST_K + SLACK_K) {
      found.push(_limit("outdoor_hot", WARN, "outdoor", outdoor, OUTDOOR_HIGHEST_K));
    }
  }
  const indoor = reading.return_dry_bulb_k;
  if (indoor !== null) {
    if (indoor < INDOOR_LOWEST_K - SLACK_K) {
      found.push(_limit("indoor_cold", REFUSE, "return_air", indoor, INDOOR_LOWEST_K));
    } else if (indoor > INDOOR_HIGHEST_K + SLACK_K) {
      found.push(_limit("indoor_warm", WARN, "return_air", indoor, INDOOR_HIGHEST_K));
    }
  }
  if (outdoor === null || indoor === null) {
    found.push(_unchecked(outdoor, indoor));
  }
  return found;
}

/** High side against the nameplate, low side against freezing and the air outside.
 * @param {System} system @param {Reading} reading @param {number | null} dew_k */
export function pressures(system, reading, dew_k) {
  /** @type {Finding[]} */
  const found = [];
  const liquid = reading.liquid_pressure_pa;
  const limit = system.high_side_limit_pa;
  if (liquid !== null && limit !== null && liquid - system.atmosphere_pa > limit) {
    found.push(
      new Finding("above_rating", STOP, [
        new Fact("pressure", "gauge_pressure", liquid - system.atmosphere_pa),
        new Fact("limit", "gauge_pressure", limit),
      ]),
    );
  }
  if (dew_k !== null && dew_k < FREEZING_K - SLACK_K) {
    found.push(new Finding("freezing", WARN, [new Fact("dew", "temperature", dew_k)]));
  }
  const suction = reading.suction_pressure_pa;
  if (suction !== null && suction < system.atmosphere_pa) {
    found.push(
      new Finding("vacuum", WARN, [
        new Fact("pressure", "gauge_pressure", suction - system.atmosphere_pa),
      ]),
    );
  }
  return found;
}

/** Temperatures that cannot be, or mean something by themselves.
 * @param {Reading} reading @param {number | null} liquid_dew_k @returns {Finding[]} */
export function air_and_lines(reading, liquid_dew_k) {
  /** @type {Finding[]} */
  const found = [];
  const supply = reading.supply_dry_bulb_k;
  const indoor = reading.return_dry_bulb_k;
  if (supply !== null && indoor !== null && supply >= indoor) {
    found.push(
      new Finding("not_cooling", REFUSE, [
        new Fact("supply", "temperature", supply),
        new Fact("return_air", "temperature", indoor),
      ]),
    );
  }
  const line = reading.liquid_line_k;
  if (line === null) {
    return found;
  }
  const error = thermometer_error(line);
  const outdoor = reading.outdoor_dry_bulb_k;
  if (outdoor !== null && line < outdoor - error - thermometer_error(outdoor)) {
    found.push(
      new Finding("liquid_line_below_outdoor", WARN, [
        new Fact("liquid_line", "temperature", line),
        new Fact("outdoor", "temperature", outdoor),
      ]),
    );
  }
  if (liquid_dew_k !== null && line > liquid_dew_k + error) {
    found.push(
      new Finding("no_liquid", WARN, [
        new Fact("liquid_line", "temperature", line),
        new Fact("dew", "temperature", liquid_dew_k),
      ]),
    );
  }
  return found;
}

/** `split_high` or `split_low`, from `split_of`. @param {string} code @param {[number, number]} split */
export function split_finding(code, split) {
  return new Finding(code, WARN, [
    new Fact("split", "temperature_difference", split[0]),
    new Fact("target", "temperature_difference", split[1]),
    new Fact("tolerance", "temperature_difference", SPLIT_TOLERANCE_K),
  ]);
}

/** @param {string} code @param {string} level @param {string} name @param {number} value
 * @param {number} limit */
function _limit(code, level, name, value, limit) {
  return new Finding(code, level, [
    new Fact(name, "temperature", value),
    new Fact("limit", "temperature", limit),
  ]);
}

/** @param {number | null} outdoor @param {number | null} indoor */
function _unchecked(outdoor, indoor) {
  /** @type {string[]} */
  const fields = [];
  if (outdoor === null) {
    fields.push("outdoor_dry_bulb");
  }
  if (indoor === null) {
    fields.push("return_dry_bulb");
  }
  return new Finding("conditions_unchecked", WARN, [
    new Fact("what", "text", 0.0, missing_text(fields)),
  ]);
}

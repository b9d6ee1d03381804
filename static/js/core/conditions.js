// Twin of src/lowside/core/conditions.py: limits of the method and of the unit.

import { Fact, Finding, REFUSE, STOP, WARN } from "./findings.js";
import { item } from "./python.js";
import { BY_WEIGHT, EEV, TXV } from "./system.js";
import { VALVE_SUPERHEAT_LOWEST_K } from "./targets.js";
import { TEMPERATURE } from "./units.js";

/** @typedef {import("./system.js").Reading} Reading */
/** @typedef {import("./system.js").System} System */

const _FAHRENHEIT = item(TEMPERATURE, "°F");

export const OUTDOOR_LOWEST_K = 55.0 * _FAHRENHEIT.factor + _FAHRENHEIT.offset;
export const OUTDOOR_HIGHEST_K = 115.0 * _FAHRENHEIT.factor + _FAHRENHEIT.offset;
export const RETURN_LOWEST_K = 70.0 * _FAHRENHEIT.factor + _FAHRENHEIT.offset;
export const FREEZING_K = 273.15;

/** What stands outside a limit; STOP: shut the cylinder, REFUSE: do not add on this.
 * @param {System} system @param {Reading} reading @param {number | null} superheat_k
 * @param {number | null} dew_k */
export function condition_findings(system, reading, superheat_k, dew_k) {
  /** @type {Finding[]} */
  const found = [];
  _pressure(system, reading, found);
  _superheat(system, superheat_k, found);
  const outdoor = reading.outdoor_dry_bulb_k;
  if (outdoor !== null && system.method !== BY_WEIGHT) {
    if (outdoor < OUTDOOR_LOWEST_K) {
      found.push(_limit("outdoor_cold", REFUSE, "outdoor", outdoor, OUTDOOR_LOWEST_K));
    } else if (outdoor > OUTDOOR_HIGHEST_K) {
      found.push(_limit("outdoor_hot", WARN, "outdoor", outdoor, OUTDOOR_HIGHEST_K));
    }
  }
  const indoor = reading.return_dry_bulb_k;
  if (indoor !== null && indoor < RETURN_LOWEST_K && system.method !== BY_WEIGHT) {
    found.push(_limit("indoor_cold", WARN, "return_air", indoor, RETURN_LOWEST_K));
  }
  if (dew_k !== null && dew_k < FREEZING_K) {
    found.push(new Finding("coil_freezing", WARN, [new Fact("dew", "temperature", dew_k)]));
  }
  return found;
}

/** @param {System} system @param {Reading} reading @param {Finding[]} found */
function _pressure(system, reading, found) {
  if (system.high_side_limit_pa === null || reading.liquid_pressure_pa === null) {
    return;
  }
  const gauge = reading.liquid_pressure_pa - system.atmosphere_pa;
  if (gauge > system.high_side_limit_pa) {
    found.push(
      new Finding("over_pressure", STOP, [
        new Fact("pressure", "gauge_pressure", gauge),
        new Fact("limit", "gauge_pressure", system.high_side_limit_pa),
      ]),
    );
  }
}

/** @param {System} system @param {number | null} superheat_k @param {Finding[]} found */
function _superheat(system, superheat_k, found) {
  if (superheat_k === null) {
    return;
  }
  const value = new Fact("value", "temperature_difference", superheat_k);
  if (superheat_k <= 0.0) {
    found.push(new Finding("liquid_return", STOP, [value]));
  } else if (
    (system.metering === TXV || system.metering === EEV) &&
    superheat_k < VALVE_SUPERHEAT_LOWEST_K
  ) {
    const limit = new Fact("limit", "temperature_difference", VALVE_SUPERHEAT_LOWEST_K);
    found.push(new Finding("valve_superheat_low", REFUSE, [value, limit]));
  }
}

/** @param {string} code @param {string} level @param {string} name @param {number} value_k
 * @param {number} limit_k */
function _limit(code, level, name, value_k, limit_k) {
  const facts = [new Fact(name, "temperature", value_k), new Fact("limit", "temperature", limit_k)];
  return new Finding(code, level, facts);
}

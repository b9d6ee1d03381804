// Twin of src/lowside/core/judging/plausibility.py: readings that cannot all be true.

import { SUCTION_GAUGE_PA, thermometer_error } from "./conditions.js";
import { Fact, Finding, WARN, sentence } from "./findings.js";
import { item } from "./python.js";
import { OutOfRange, dew_temperature } from "./saturation.js";

/** @typedef {import("./handbook.js").Handbook} Handbook */
/** @typedef {import("./saturation.js").PropertyTable} PropertyTable */
/** @typedef {import("./system.js").Reading} Reading */
/** @typedef {import("./system.js").System} System */
/** @typedef {import("./unit_choice.js").UnitChoice} UnitChoice */

/** @type {Map<string, string>} */
export const PRESSURE_FIELDS = new Map([
  ["suction_pressure", "Suction pressure"],
  ["liquid_pressure", "Liquid pressure"],
]);

/** Field name and sentence for each reading that contradicts another or the table.
 * @param {System} system @param {Reading} reading @param {Handbook} handbook
 * @param {UnitChoice} choice @returns {[string, string][]} */
export function contradictions(system, reading, handbook, choice) {
  const found = _plain(system, reading);
  const table = handbook.tables.get(system.refrigerant);
  if (table !== undefined) {
    found.push(..._by_table(system, reading, table));
  }
  return found.map(([field, finding]) => [field, sentence(finding, choice)]);
}

/** The reading's pressure [Pa absolute] by the name of its field.
 * @param {Reading} reading @param {string} field */
export function pressure_of(reading, field) {
  if (field === "suction_pressure") {
    return reading.suction_pressure_pa;
  }
  return reading.liquid_pressure_pa;
}

/** That a pressure [Pa absolute] is outside the property table.
 * @param {System} system @param {string} field @param {number} pressure_pa
 * @param {PropertyTable} table */
export function out_of_table(system, field, pressure_pa, table) {
  const atmosphere = system.atmosphere_pa;
  return new Finding("out_of_table", WARN, [
    new Fact("what", "text", 0.0, item(PRESSURE_FIELDS, field)),
    new Fact("pressure", "gauge_pressure", pressure_pa - atmosphere),
    new Fact("refrigerant", "text", 0.0, system.refrigerant),
    new Fact("lowest", "gauge_pressure", table.lowest_pa - atmosphere),
    new Fact("highest", "gauge_pressure", table.highest_pa - atmosphere),
  ]);
}

/** @param {System} system @param {Reading} reading */
function _plain(system, reading) {
  /** @type {[string, Finding][]} */
  const found = [];
  const suction = reading.suction_pressure_pa;
  const liquid = reading.liquid_pressure_pa;
  if (suction !== null && liquid !== null && suction >= liquid) {
    const facts = [
      new Fact("suction", "gauge_pressure", suction - system.atmosphere_pa),
      new Fact("liquid", "gauge_pressure", liquid - system.atmosphere_pa),
    ];
    found.push(["suction_pressure", new Finding("suction_above_liquid", WARN, facts)]);
  }
  const dry = reading.return_dry_bulb_k;
  const wet = reading.return_wet_bulb_k;
  if (dry !== null && wet !== null && wet > dry + 2.0 * thermometer_error(dry)) {
    const facts = [
      new Fact("wet_bulb", "temperature", wet),
      new Fact("dry_bulb", "temperature", dry),
    ];
    found.push(["return_wet_bulb", new Finding("wet_above_dry", WARN, facts)]);
  }
  return found;
}

/** @param {System} system @param {Reading} reading @param {PropertyTable} table */
function _by_table(system, reading, table) {
  /** @type {[string, Finding][]} */
  const found = [];
  for (const field of PRESSURE_FIELDS.keys()) {
    const pressure = pressure_of(reading, field);
    if (pressure !== null && !(table.lowest_pa <= pressure && pressure <= table.highest_pa)) {
      found.push([field, out_of_table(system, field, pressure, table)]);
    }
  }
  const below = _vapour_below_dew(system, reading, table);
  if (below !== null) {
    found.push(["suction_line", below]);
  }
  return found;
}

/** The suction line colder than the coldest dew point the gauge's error allows.
 * @param {System} system @param {Reading} reading @param {PropertyTable} table
 * @returns {Finding | null} */
function _vapour_below_dew(system, reading, table) {
  const pressure = reading.suction_pressure_pa;
  const line = reading.suction_line_k;
  if (pressure === null || line === null) {
    return null;
  }
  const dew = dew_temperature(table, pressure);
  if (dew instanceof OutOfRange) {
    return null;
  }
  const lowest = dew_temperature(table, pressure - SUCTION_GAUGE_PA);
  if (lowest instanceof OutOfRange || line >= lowest - thermometer_error(line)) {
    return null;
  }
  return new Finding("vapour_below_dew", WARN, [
    new Fact("suction_line", "temperature", line),
    new Fact("pressure", "gauge_pressure", pressure - system.atmosphere_pa),
    new Fact("refrigerant", "text", 0.0, system.refrigerant),
    new Fact("dew", "temperature", dew),
  ]);
}

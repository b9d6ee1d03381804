// Twin of src/lowside/core/plausibility.py: readings that cannot all be true.

import { OutOfRange, bubble_temperature, dew_temperature } from "./saturation.js";
import { FAHRENHEIT_DEGREE_K } from "./targets.js";
import { label } from "./unit_choice.js";
import { PSI_PA } from "./units.js";

/** @typedef {import("./handbook.js").Handbook} Handbook */
/** @typedef {import("./saturation.js").PropertyTable} PropertyTable */
/** @typedef {import("./system.js").Reading} Reading */
/** @typedef {import("./system.js").System} System */
/** @typedef {import("./unit_choice.js").UnitChoice} UnitChoice */
/** @typedef {[string, string][]} Problems */

export const THERMOMETER_K = 1.5 * FAHRENHEIT_DEGREE_K;
export const SUCTION_GAUGE_PA = 3.5 * PSI_PA;
export const LIQUID_GAUGE_PA = 7.0 * PSI_PA;

/** Field name and sentence for each reading that contradicts another or the table.
 * @param {System} system @param {Reading} reading @param {Handbook} handbook
 * @param {UnitChoice} choice */
export function contradictions(system, reading, handbook, choice) {
  /** @type {Problems} */
  const problems = [];
  _pressures(reading, problems);
  _air(reading, choice, problems);
  const table = handbook.tables.get(system.refrigerant);
  if (table !== undefined) {
    _suction(system, table, reading, choice, problems);
    _liquid(system, table, reading, choice, problems);
  }
  return problems;
}

/** @param {Reading} reading @param {Problems} problems */
function _pressures(reading, problems) {
  const suction = reading.suction_pressure_pa;
  const liquid = reading.liquid_pressure_pa;
  if (suction === null || liquid === null || suction < liquid) {
    return;
  }
  problems.push([
    "suction_pressure",
    "Suction is not below the liquid pressure. Swapped? If the unit stands still, start " +
      "it before you read.",
  ]);
}

/** @param {Reading} reading @param {UnitChoice} choice @param {Problems} problems */
function _air(reading, choice, problems) {
  const dry = reading.return_dry_bulb_k;
  const wet = reading.return_wet_bulb_k;
  if (dry !== null && wet !== null && wet > dry + THERMOMETER_K) {
    problems.push([
      "return_wet_bulb",
      `Wet bulb cannot be above the dry bulb of ${label("temperature", dry, choice)}. ` +
        "Swapped?",
    ]);
  }
  const supply = reading.supply_dry_bulb_k;
  if (dry !== null && supply !== null && supply > dry + THERMOMETER_K) {
    problems.push([
      "supply_dry_bulb",
      "Supply air is warmer than return air: the unit is not cooling. Check both, and " +
        "that it runs in cooling.",
    ]);
  }
}

/** @param {System} system @param {PropertyTable} table @param {Reading} reading
 * @param {UnitChoice} choice @param {Problems} problems */
function _suction(system, table, reading, choice, problems) {
  const pressure = reading.suction_pressure_pa;
  if (pressure === null) {
    return;
  }
  const dew = dew_temperature(table, pressure);
  if (dew instanceof OutOfRange) {
    problems.push(["suction_pressure", _out_of_table(system, dew, choice)]);
    return;
  }
  const line = reading.suction_line_k;
  if (line === null) {
    return;
  }
  if (line < dew - _allowance(dew_temperature, table, pressure, dew, SUCTION_GAUGE_PA)) {
    problems.push([
      "suction_line",
      `Colder than the dew point of ${label("temperature", dew, choice)} at this ` +
        "pressure, by more than the instruments can be off. Check clamp, gauge and " +
        "refrigerant.",
    ]);
  }
}

/** @param {System} system @param {PropertyTable} table @param {Reading} reading
 * @param {UnitChoice} choice @param {Problems} problems */
function _liquid(system, table, reading, choice, problems) {
  const pressure = reading.liquid_pressure_pa;
  if (pressure === null) {
    return;
  }
  const bubble = bubble_temperature(table, pressure);
  if (bubble instanceof OutOfRange) {
    problems.push(["liquid_pressure", _out_of_table(system, bubble, choice)]);
    return;
  }
  const line = reading.liquid_line_k;
  if (line === null) {
    return;
  }
  if (line > bubble + _allowance(bubble_temperature, table, pressure, bubble, LIQUID_GAUGE_PA)) {
    problems.push([
      "liquid_line",
      `Warmer than the bubble point of ${label("temperature", bubble, choice)} at this ` +
        "pressure, by more than the instruments can be off. Check clamp, gauge and " +
        "refrigerant.",
    ]);
  }
}

/** Error of a thermometer and a gauge together [K]; at the table's end the thermometer's.
 * @param {(table: PropertyTable, pressure_pa: number) => number | OutOfRange} saturation
 * @param {PropertyTable} table @param {number} pressure_pa @param {number} saturation_k
 * @param {number} gauge_pa */
function _allowance(saturation, table, pressure_pa, saturation_k, gauge_pa) {
  const beside = saturation(table, pressure_pa + gauge_pa);
  if (beside instanceof OutOfRange) {
    return THERMOMETER_K;
  }
  return THERMOMETER_K + (beside - saturation_k);
}

/** @param {System} system @param {OutOfRange} outside @param {UnitChoice} choice */
function _out_of_table(system, outside, choice) {
  const low = label("gauge_pressure", outside.lowest - system.atmosphere_pa, choice);
  const high = label("gauge_pressure", outside.highest - system.atmosphere_pa, choice);
  return (
    `Outside what is known of ${system.refrigerant}, ${low} to ${high}. Check the number, its ` +
    "unit and the refrigerant."
  );
}

// Twin of src/lowside/core/numbers/unit_choice.py: which units a session shows.

import * as units from "./units.js";

/** Names of units, each a key of its table in `units.js`. */
export class UnitChoice {
  /** @param {string} [pressure] @param {string} [temperature] @param {string} [mass]
   * @param {string} [length] */
  constructor(pressure = "psig", temperature = "°F", mass = "lb+oz", length = "ft") {
    this.pressure = pressure;
    this.temperature = temperature;
    this.mass = mass;
    this.length = length;
  }
}

/** The unit in which `quantity` is asked for and shown.
 * @param {string} quantity @param {UnitChoice} choice */
export function unit_for(quantity, choice) {
  if (quantity === "gauge_pressure") {
    return choice.pressure;
  }
  if (quantity === "temperature" || quantity === "temperature_difference") {
    return choice.temperature;
  }
  if (quantity === "mass") {
    return choice.mass;
  }
  if (quantity === "length" || quantity === "hose_length") {
    return choice.length;
  }
  if (quantity === "bore") {
    return choice.length === "ft" ? "in" : "mm";
  }
  if (quantity === "line_adder") {
    return choice.length === "ft" ? "oz/ft" : "g/m";
  }
  if (quantity === "capacity") {
    return choice.length === "ft" ? "ton" : "kW";
  }
  if (quantity === "relative_humidity") {
    return "%";
  }
  if (quantity === "current") {
    return "A";
  }
  return "s";
}

/** The unit for shots and differences: ounces for pounds, grams for kilograms.
 * @param {UnitChoice} choice */
export function small_mass_unit(choice) {
  if (["lb+oz", "lb", "oz"].includes(choice.mass)) {
    return "oz";
  }
  return "g";
}

/** A value with its unit in the session's units.
 * @param {string} quantity @param {number} si @param {UnitChoice} choice */
export function label(quantity, si, choice) {
  return units.label(quantity, si, unit_for(quantity, choice));
}

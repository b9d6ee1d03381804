// Twin of src/lowside/core/handbook/saturation.py: dew, bubble, densities and enthalpies from a table.

import { hermite, segment, square_root } from "./arithmetic.js";
import { item, max, min } from "./python.js";

export const BISECTIONS = 50;

export const COLUMNS = [
  "bubble_k",
  "dew_k",
  "liquid_density",
  "vapour_density",
  "liquid_enthalpy",
  "vapour_enthalpy",
  "vapour_heat_capacity",
];

/** A value nobody has numbers for, with the limits in SI. */
export class OutOfRange {
  /** @param {string} quantity @param {number} value @param {number} lowest @param {number} highest */
  constructor(quantity, value, lowest, highest) {
    this.quantity = quantity;
    this.value = value;
    this.lowest = lowest;
    this.highest = highest;
  }
}

/** One property on the grid: its values and its slopes by the grid's coordinate. */
export class Column {
  /** @param {readonly number[]} values @param {readonly number[]} slopes */
  constructor(values, slopes) {
    this.values = values;
    this.slopes = slopes;
  }
}

/** One refrigerant, from `lowest_pa` to `highest_pa` [Pa absolute]. */
export class PropertyTable {
  /** @param {string} refrigerant @param {number} lowest_pa @param {number} highest_pa
   * @param {readonly number[]} grid @param {Map<string, Column>} columns */
  constructor(refrigerant, lowest_pa, highest_pa, grid, columns) {
    this.refrigerant = refrigerant;
    this.lowest_pa = lowest_pa;
    this.highest_pa = highest_pa;
    this.grid = grid;
    this.columns = columns;
  }
}

/** The table as the tables file holds it. @param {any} data @returns {PropertyTable} */
export function table_from(data) {
  const name = String(data.refrigerant);
  const lowest = Number(data.lowest_pa);
  const highest = Number(data.highest_pa);
  const count = Number(data.count);
  if (count < 5 || !(0.0 < lowest && lowest < highest)) {
    throw new Error("The table of " + name + " has no usable grid.");
  }
  const first = fourth_root(lowest);
  const step = (fourth_root(highest) - first) / (count - 1);
  /** @type {Map<string, Column>} */
  const columns = new Map();
  for (const column of COLUMNS) {
    /** @type {number[]} */
    const values = data[column].map(Number);
    if (values.length !== count) {
      throw new Error("The table of " + name + " has the wrong length in " + column + ".");
    }
    columns.set(column, new Column(values, even_slopes(values, step)));
  }
  const grid = Array.from({ length: count }, (_, i) => first + step * i);
  return new PropertyTable(name, lowest, highest, grid, columns);
}

/** Temperature [K] at which vapour starts to condense.
 * @param {PropertyTable} table @param {number} pressure_pa */
export function dew_temperature(table, pressure_pa) {
  return _at_pressure(table, "dew_k", pressure_pa);
}

/** Temperature [K] at which liquid starts to boil.
 * @param {PropertyTable} table @param {number} pressure_pa */
export function bubble_temperature(table, pressure_pa) {
  return _at_pressure(table, "bubble_k", pressure_pa);
}

/** Absolute pressure [Pa] at which vapour starts to condense.
 * @param {PropertyTable} table @param {number} temperature_k */
export function dew_pressure(table, temperature_k) {
  return _at_temperature(table, "dew_k", temperature_k);
}

/** Absolute pressure [Pa] at which liquid starts to boil.
 * @param {PropertyTable} table @param {number} temperature_k */
export function bubble_pressure(table, temperature_k) {
  return _at_temperature(table, "bubble_k", temperature_k);
}

/** Density [kg/m³] of boiling liquid. @param {PropertyTable} table @param {number} pressure_pa */
export function liquid_density(table, pressure_pa) {
  return _at_pressure(table, "liquid_density", pressure_pa);
}

/** Density [kg/m³] of vapour at its dew point. @param {PropertyTable} table @param {number} pressure_pa */
export function vapour_density(table, pressure_pa) {
  return _at_pressure(table, "vapour_density", pressure_pa);
}

/** Enthalpy [J/kg] of boiling liquid. @param {PropertyTable} table @param {number} pressure_pa */
export function liquid_enthalpy(table, pressure_pa) {
  return _at_pressure(table, "liquid_enthalpy", pressure_pa);
}

/** Enthalpy [J/kg] of vapour at its dew point. @param {PropertyTable} table @param {number} pressure_pa */
export function vapour_enthalpy(table, pressure_pa) {
  return _at_pressure(table, "vapour_enthalpy", pressure_pa);
}

/** Heat capacity at constant pressure [J/(kg K)] of vapour at its dew point.
 * @param {PropertyTable} table @param {number} pressure_pa */
export function vapour_heat_capacity(table, pressure_pa) {
  return _at_pressure(table, "vapour_heat_capacity", pressure_pa);
}

/** Two square roots: the grid's coordinate. @param {number} value */
export function fourth_root(value) {
  return square_root(square_root(value));
}

/** @param {PropertyTable} table @param {string} name @param {number} pressure_pa
 * @returns {number | OutOfRange} */
function _at_pressure(table, name, pressure_pa) {
  if (!(table.lowest_pa <= pressure_pa && pressure_pa <= table.highest_pa)) {
    return new OutOfRange("pressure", pressure_pa, table.lowest_pa, table.highest_pa);
  }
  const column = item(table.columns, name);
  const root = fourth_root(pressure_pa);
  return hermite(table.grid, column.values, column.slopes, root, segment(table.grid, root));
}

/** @param {PropertyTable} table @param {string} name @param {number} temperature_k
 * @returns {number | OutOfRange} */
function _at_temperature(table, name, temperature_k) {
  const column = item(table.columns, name);
  const coldest = column.values[0];
  const hottest = column.values[column.values.length - 1];
  if (!(coldest <= temperature_k && temperature_k <= hottest)) {
    return new OutOfRange("temperature", temperature_k, coldest, hottest);
  }
  const i = segment(column.values, temperature_k);
  let low = table.grid[i];
  let high = table.grid[i + 1];
  for (let n = 0; n < BISECTIONS; n += 1) {
    const middle = (low + high) / 2.0;
    if (hermite(table.grid, column.values, column.slopes, middle, i) <= temperature_k) {
      low = middle;
    } else {
      high = middle;
    }
  }
  const pressure = low * low * low * low;
  if (pressure < table.lowest_pa) {
    return table.lowest_pa;
  }
  if (pressure > table.highest_pa) {
    return table.highest_pa;
  }
  return pressure;
}

/** Slopes on an even grid from five points.
 * @param {readonly number[]} values @param {number} step @returns {number[]} */
export function even_slopes(values, step) {
  const n = values.length;
  const slopes = [];
  for (let i = 0; i < n; i += 1) {
    let k = i - 2;
    k = max(k, 0);
    k = min(k, n - 5);
    const [a, b, c, d, e] = [values[k], values[k + 1], values[k + 2], values[k + 3], values[k + 4]];
    let rise;
    if (i === k + 2) {
      rise = a - 8.0 * b + 8.0 * d - e;
    } else if (i === k) {
      rise = -25.0 * a + 48.0 * b - 36.0 * c + 16.0 * d - 3.0 * e;
    } else if (i === k + 1) {
      rise = -3.0 * a - 10.0 * b + 18.0 * c - 6.0 * d + e;
    } else if (i === k + 3) {
      rise = 3.0 * e + 10.0 * d - 18.0 * c + 6.0 * b - a;
    } else {
      rise = 25.0 * e - 48.0 * d + 36.0 * c - 16.0 * b + 3.0 * a;
    }
    slopes.push(rise / (12.0 * step));
  }
  return slopes;
}

// Twin of src/lowside/core/handbook/psychrometrics.py: the atmosphere at an elevation, and the wet bulb.

import { hermite, segment } from "./arithmetic.js";
import { max } from "./python.js";
import { OutOfRange, even_slopes } from "./saturation.js";
import { ZERO_CELSIUS_K } from "./units.js";

export const ELEVATION_STEP_M = 500.0;
export const LOWEST_ELEVATION_M = -500.0;
export const ATMOSPHERE_PA = [
  107477.5, 101325.0, 95460.8, 89874.5, 84555.9, 79495.1, 74682.4, 70108.4, 65763.9, 61640.1,
  57728.2,
];
export const ELEVATIONS_M = ATMOSPHERE_PA.map((_, i) => LOWEST_ELEVATION_M + ELEVATION_STEP_M * i);
const _ATMOSPHERE_SLOPES = even_slopes(ATMOSPHERE_PA, ELEVATION_STEP_M);

export const LOWEST_ATMOSPHERE_PA = 55000.0;
export const HIGHEST_ATMOSPHERE_PA = 110000.0;

export const WATER_TO_AIR = 0.621945;

export const MOST_STEPS = 60;
export const CLOSE_ENOUGH = 1.0e-10;

/** Saturation pressure of water [Pa] on an even grid of temperature [K], 1 to 60 °C. */
export class PsychrometricTable {
  /** @param {readonly number[]} grid @param {readonly number[]} values
   * @param {readonly number[]} slopes */
  constructor(grid, values, slopes) {
    this.grid = grid;
    this.values = values;
    this.slopes = slopes;
  }
}

/** The table as the tables file holds it. @param {any} data @returns {PsychrometricTable} */
export function psychrometric_table_from(data) {
  const lowest = Number(data.lowest_k);
  const step = Number(data.step_k);
  /** @type {number[]} */
  const values = data.saturation_pa.map(Number);
  const grid = values.map((_, i) => lowest + step * i);
  return new PsychrometricTable(grid, values, even_slopes(values, step));
}

/** Standard atmospheric pressure [Pa] at `elevation_m` [m above sea], -500 to 4500 m.
 * @param {number} elevation_m @returns {number | OutOfRange} */
export function atmosphere_pressure(elevation_m) {
  const highest = ELEVATIONS_M[ELEVATIONS_M.length - 1];
  if (!(LOWEST_ELEVATION_M <= elevation_m && elevation_m <= highest)) {
    return new OutOfRange("elevation", elevation_m, LOWEST_ELEVATION_M, highest);
  }
  const i = segment(ELEVATIONS_M, elevation_m);
  return hermite(ELEVATIONS_M, ATMOSPHERE_PA, _ATMOSPHERE_SLOPES, elevation_m, i);
}

/** Thermodynamic wet-bulb temperature [K].
 * @param {PsychrometricTable} table @param {number} dry_bulb_k @param {number} humidity
 * @param {number} atmosphere_pa @returns {number | OutOfRange} */
export function wet_bulb(table, dry_bulb_k, humidity, atmosphere_pa) {
  const coldest = table.grid[0];
  const hottest = table.grid[table.grid.length - 1];
  if (!(coldest <= dry_bulb_k && dry_bulb_k <= hottest)) {
    return new OutOfRange("temperature", dry_bulb_k, coldest, hottest);
  }
  if (!(LOWEST_ATMOSPHERE_PA <= atmosphere_pa && atmosphere_pa <= HIGHEST_ATMOSPHERE_PA)) {
    return new OutOfRange("pressure", atmosphere_pa, LOWEST_ATMOSPHERE_PA, HIGHEST_ATMOSPHERE_PA);
  }
  const saturation = _saturation_pressure(table, dry_bulb_k);
  const lowest = _humidity_ratio(table, dry_bulb_k, coldest, atmosphere_pa);
  const driest = max((lowest * atmosphere_pa) / (WATER_TO_AIR + lowest) / saturation, 0.0);
  if (!(driest <= humidity && humidity <= 1.0)) {
    return new OutOfRange("humidity", humidity, driest, 1.0);
  }
  const vapour = humidity * saturation;
  const ratio = (WATER_TO_AIR * vapour) / (atmosphere_pa - vapour);
  // False position, halving the weight of an end that stays (the Illinois rule).
  let low = coldest;
  let high = dry_bulb_k;
  let low_error = lowest - ratio;
  let high_error = (WATER_TO_AIR * saturation) / (atmosphere_pa - saturation) - ratio;
  if (low_error >= -CLOSE_ENOUGH) return low;
  if (high_error <= CLOSE_ENOUGH) return high;
  let side = 0;
  let middle = low;
  for (let n = 0; n < MOST_STEPS; n += 1) {
    middle = (low * high_error - high * low_error) / (high_error - low_error);
    const error = _humidity_ratio(table, dry_bulb_k, middle, atmosphere_pa) - ratio;
    if (Math.abs(error) <= CLOSE_ENOUGH) return middle;
    if (error < 0.0) {
      low = middle;
      low_error = error;
      if (side === -1) high_error = high_error / 2.0;
      side = -1;
    } else {
      high = middle;
      high_error = error;
      if (side === 1) low_error = low_error / 2.0;
      side = 1;
    }
  }
  return middle;
}

/** @param {PsychrometricTable} table @param {number} dry_bulb_k @param {number} wet_bulb_k
 * @param {number} atmosphere_pa */
function _humidity_ratio(table, dry_bulb_k, wet_bulb_k, atmosphere_pa) {
  const dry = dry_bulb_k - ZERO_CELSIUS_K;
  const wet = wet_bulb_k - ZERO_CELSIUS_K;
  const saturation = _saturation_pressure(table, wet_bulb_k);
  const saturated = (WATER_TO_AIR * saturation) / (atmosphere_pa - saturation);
  return (
    ((2501.0 - 2.326 * wet) * saturated - 1.006 * (dry - wet)) /
    (2501.0 + 1.86 * dry - 4.186 * wet)
  );
}

/** @param {PsychrometricTable} table @param {number} temperature_k */
function _saturation_pressure(table, temperature_k) {
  const i = segment(table.grid, temperature_k);
  return hermite(table.grid, table.values, table.slopes, temperature_k, i);
}

// Twin of src/lowside/core/handbook/charts.py: a published two-way table with holes.

import { segment } from "./arithmetic.js";
import { item, last } from "./python.js";
import { TEMPERATURE, TEMPERATURE_DIFFERENCE } from "./units.js";

export const OUTSIDE = "outside";
export const HOLE = "hole";

export const ON_LINE = 1.0e-6;

/** Temperature differences [K] over two temperatures [K]; `null` where the chart has none. */
export class Chart {
  /** @param {{name: string, source: string, rows_k: number[], columns_k: number[],
   *   values_k: (number | null)[][]}} fields */
  constructor(fields) {
    this.name = fields.name;
    this.source = fields.source;
    this.rows_k = fields.rows_k;
    this.columns_k = fields.columns_k;
    this.values_k = fields.values_k;
  }
}

/** The charts that judge a reading. */
export class Charts {
  /** @param {{target_superheat: Chart, target_split: Chart}} fields */
  constructor(fields) {
    this.target_superheat = fields.target_superheat;
    this.target_split = fields.target_split;
  }
}

/** The chart does not say; `code` is OUTSIDE or HOLE. */
export class NoValue {
  /** @param {string} code */
  constructor(code) {
    this.code = code;
  }
}

/** Read the parsed content of `data/charts.json`. @param {any} data */
export function charts_from(data) {
  return new Charts({
    target_superheat: chart_from(data.target_superheat),
    target_split: chart_from(data.target_split),
  });
}

/** Read one chart, converting from the unit it was published in. @param {any} data */
export function chart_from(data) {
  const unit = data.unit;
  const difference = item(TEMPERATURE_DIFFERENCE, unit).factor;
  return new Chart({
    name: data.name,
    source: data.source,
    rows_k: _kelvins(data.row_values, unit),
    columns_k: _kelvins(data.column_values, unit),
    values_k: data.values.map((/** @type {(number | null)[]} */ row) =>
      row.map((value) => (value === null ? null : value * difference)),
    ),
  });
}

/** The chart's value at (`row_k`, `column_k`) [K], straight lines between cells.
 * @param {Chart} chart @param {number} row_k @param {number} column_k
 * @returns {number | NoValue} */
export function look_up(chart, row_k, column_k) {
  const rows = chart.rows_k;
  const columns = chart.columns_k;
  const i = segment(rows, row_k);
  const j = segment(columns, column_k);
  const u = _share(rows, row_k, i);
  const v = _share(columns, column_k, j);
  if (!(0.0 <= u && u <= 1.0 && 0.0 <= v && v <= 1.0)) {
    return new NoValue(OUTSIDE);
  }
  let total = 0.0;
  /** @type {[number | null, number][]} */
  const corners = [
    [chart.values_k[i][j], (1.0 - u) * (1.0 - v)],
    [chart.values_k[i + 1][j], u * (1.0 - v)],
    [chart.values_k[i][j + 1], (1.0 - u) * v],
    [chart.values_k[i + 1][j + 1], u * v],
  ];
  for (const [value, weight] of corners) {
    if (weight > 0.0) {
      if (value === null) {
        return new NoValue(HOLE);
      }
      total = total + value * weight;
    }
  }
  return total;
}

/** The point of the grid's span nearest to `x`. @param {number[]} grid @param {number} x */
export function edge(grid, x) {
  if (x < grid[0]) {
    return grid[0];
  }
  if (x > last(grid)) {
    return last(grid);
  }
  return x;
}

/** @param {number[]} values @param {string} unit */
function _kelvins(values, unit) {
  const scale = item(TEMPERATURE, unit);
  return values.map((value) => value * scale.factor + scale.offset);
}

/** How far `x` lies into segment `i` [0..1], exactly 0 or 1 within `ON_LINE` of its ends.
 * @param {number[]} grid @param {number} x @param {number} i */
function _share(grid, x, i) {
  const share = (x - grid[i]) / (grid[i + 1] - grid[i]);
  if (Math.abs(share) < ON_LINE) {
    return 0.0;
  }
  if (Math.abs(share - 1.0) < ON_LINE) {
    return 1.0;
  }
  return share;
}

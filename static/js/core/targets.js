// Twin of src/lowside/core/judging/targets.py: what superheat or subcooling this unit should show now.

import { HOLE, NoValue, edge, look_up } from "./charts.js";
import { Fact, Finding, REFUSE, SHOWS, Unknown, WARN, missing } from "./findings.js";
import { wet_bulb } from "./psychrometrics.js";
import { item } from "./python.js";
import { OutOfRange } from "./saturation.js";
import {
  BY_CHART,
  BY_SUBCOOLING,
  BY_SUPERHEAT,
  BY_WEIGHT,
  EEV,
  FIXED,
  METERING_UNKNOWN,
  TXV,
} from "./system.js";
import { TEMPERATURE } from "./units.js";

/** @typedef {import("./charts.js").Chart} Chart */
/** @typedef {import("./psychrometrics.js").PsychrometricTable} PsychrometricTable */
/** @typedef {import("./system.js").Reading} Reading */
/** @typedef {import("./system.js").System} System */

export const FAHRENHEIT_DEGREE_K = 5.0 / 9.0;

export const SUPERHEAT_TOLERANCE_K = 5.0 * FAHRENHEIT_DEGREE_K;
export const SUBCOOLING_TOLERANCE_K = 3.0 * FAHRENHEIT_DEGREE_K;

export const VALVE_SUPERHEAT_LOWEST_K = 4.0 * FAHRENHEIT_DEGREE_K;
export const VALVE_SUPERHEAT_HIGHEST_K = 25.0 * FAHRENHEIT_DEGREE_K;

export const FORMULA_REACH_K = 5.0 * FAHRENHEIT_DEGREE_K;
export const FORMULA_ERROR_K = 3.0 * FAHRENHEIT_DEGREE_K;
export const LOWEST_TARGET_K = 5.0 * FAHRENHEIT_DEGREE_K;

export const BOUNDARY_K = 1.0e-6;

export const SUPERHEAT = "superheat";
export const SUBCOOLING = "subcooling";

/** Where `quantity` (SUPERHEAT or SUBCOOLING) should be [K]; `basis` says where that is from. */
export class Target {
  /** @param {string} quantity @param {number} value_k @param {number} tolerance_k
   * @param {Finding} basis */
  constructor(quantity, value_k, tolerance_k, basis) {
    this.quantity = quantity;
    this.value_k = value_k;
    this.tolerance_k = tolerance_k;
    this.basis = basis;
  }
}

/** No number to charge to, and why. */
export class NoTarget {
  /** @param {Finding} reason */
  constructor(reason) {
    this.reason = reason;
  }
}

/** A charge by weight [kg]: nameplate, correction for the line set (`null`: not given), sum. */
export class WeighIn {
  /** @param {number} nameplate_kg @param {number | null} line_kg @param {number} total_kg */
  constructor(nameplate_kg, line_kg, total_kg) {
    this.nameplate_kg = nameplate_kg;
    this.line_kg = line_kg;
    this.total_kg = total_kg;
  }
}

/** What is still to weigh in [kg], by where the unit started. */
export class WeighInLeft {
  /** @param {number} from_empty_kg @param {number | null} from_nameplate_kg */
  constructor(from_empty_kg, from_nameplate_kg) {
    this.from_empty_kg = from_empty_kg;
    this.from_nameplate_kg = from_nameplate_kg;
  }
}

/** Return-air wet bulb [K]: measured, else from dry bulb and humidity at the site's pressure.
 * @param {Reading} reading @param {number} atmosphere_pa
 * @param {PsychrometricTable} psychrometrics @returns {number | Unknown} */
export function wet_bulb_of(reading, atmosphere_pa, psychrometrics) {
  if (reading.return_wet_bulb_k !== null) {
    return reading.return_wet_bulb_k;
  }
  if (reading.return_humidity === null) {
    return new Unknown(missing(["wet_bulb_or_humidity"]));
  }
  if (reading.return_dry_bulb_k === null) {
    return new Unknown(missing(["return_dry_bulb"]));
  }
  const computed = wet_bulb(
    psychrometrics,
    reading.return_dry_bulb_k,
    reading.return_humidity,
    atmosphere_pa,
  );
  if (computed instanceof OutOfRange) {
    return new Unknown(
      new Finding("wet_bulb_out_of_table", WARN, [
        new Fact("dry_bulb", "temperature", reading.return_dry_bulb_k),
        new Fact("humidity", "relative_humidity", reading.return_humidity),
      ]),
    );
  }
  return computed;
}

/** The target by the system's method.
 * @param {System} system @param {Reading} reading @param {number | Unknown} wet_bulb_k
 * @param {Chart} chart @returns {Target | NoTarget} */
export function target_for(system, reading, wet_bulb_k, chart) {
  if (system.method === BY_SUBCOOLING) {
    return _subcooling(system);
  }
  if (system.method === BY_WEIGHT) {
    return new NoTarget(_by_weight(system));
  }
  if (system.metering === TXV || system.metering === EEV) {
    return new NoTarget(new Finding("valve_by_superheat", REFUSE));
  }
  if (system.metering === METERING_UNKNOWN) {
    return new NoTarget(new Finding("metering_unknown", REFUSE));
  }
  if (system.method === BY_SUPERHEAT) {
    return _maker_superheat(system);
  }
  if (system.method === BY_CHART) {
    return chart_target(system, reading.outdoor_dry_bulb_k, wet_bulb_k, chart);
  }
  return new NoTarget(new Finding("method_unknown", WARN));
}

/** Names of the facts and readings the method cannot do without and has not got.
 * @param {System} system @param {Reading} reading @returns {string[]} */
export function still_needed(system, reading) {
  /** @type {[string, number | null][]} */
  let needed = [];
  if (system.method === BY_SUBCOOLING) {
    needed = [
      ["maker_subcooling", system.maker_subcooling_k],
      ["liquid_pressure", reading.liquid_pressure_pa],
      ["liquid_line", reading.liquid_line_k],
    ];
  } else if (system.method === BY_SUPERHEAT || system.method === BY_CHART) {
    needed = [
      ["suction_pressure", reading.suction_pressure_pa],
      ["suction_line", reading.suction_line_k],
    ];
  }
  if (system.method === BY_SUPERHEAT) {
    needed.push(["maker_superheat", system.maker_superheat_k]);
  }
  if (system.method === BY_CHART) {
    needed.push(["outdoor_dry_bulb", reading.outdoor_dry_bulb_k]);
    if (reading.return_wet_bulb_k === null) {
      needed.push(["wet_bulb_or_humidity", reading.return_humidity]);
      if (reading.return_humidity !== null) {
        needed.push(["return_dry_bulb", reading.return_dry_bulb_k]);
      }
    }
  }
  return needed.filter(([_, value]) => value === null).map(([name]) => name);
}

/** Lowest and highest superheat [K] this metering device should show, whatever the method.
 * @param {System} system @param {Reading} reading @param {number | Unknown} wet_bulb_k
 * @param {Target | NoTarget} target @param {Chart} chart @returns {[number, number] | null} */
export function expected_superheat(system, reading, wet_bulb_k, target, chart) {
  if (target instanceof Target && target.quantity === SUPERHEAT) {
    return [target.value_k - target.tolerance_k, target.value_k + target.tolerance_k];
  }
  const maker = system.maker_superheat_k;
  if (maker !== null) {
    return [maker - SUPERHEAT_TOLERANCE_K, maker + SUPERHEAT_TOLERANCE_K];
  }
  if (system.metering === TXV || system.metering === EEV) {
    return [VALVE_SUPERHEAT_LOWEST_K, VALVE_SUPERHEAT_HIGHEST_K];
  }
  if (system.metering !== FIXED || system.method === BY_CHART) {
    return null;
  }
  const by_chart = chart_target(system, reading.outdoor_dry_bulb_k, wet_bulb_k, chart);
  if (by_chart instanceof NoTarget) {
    return null;
  }
  return [by_chart.value_k - by_chart.tolerance_k, by_chart.value_k + by_chart.tolerance_k];
}

/** Target superheat from the chart; near its edges from the formula, and then it says so.
 * @param {System} system @param {number | null} outdoor_k @param {number | Unknown} wet_bulb_k
 * @param {Chart} chart @returns {Target | NoTarget} */
export function chart_target(system, outdoor_k, wet_bulb_k, chart) {
  if (outdoor_k === null) {
    return new NoTarget(missing(["outdoor_dry_bulb"]));
  }
  if (wet_bulb_k instanceof Unknown) {
    return new NoTarget(wet_bulb_k.reason);
  }
  const value = look_up(chart, outdoor_k, wet_bulb_k);
  const conditions = [
    new Fact("outdoor", "temperature", outdoor_k),
    new Fact("wet_bulb", "temperature", wet_bulb_k),
  ];
  if (value instanceof NoValue) {
    if (value.code === HOLE) {
      return new NoTarget(new Finding("no_test", REFUSE, conditions));
    }
    return _formula_target(outdoor_k, wet_bulb_k, chart, conditions);
  }
  return new Target(
    SUPERHEAT,
    value,
    _tolerance(system, SUPERHEAT_TOLERANCE_K),
    new Finding("target_chart", SHOWS, [
      new Fact("target", "temperature_difference", value),
      ...conditions,
      ..._tolerance_facts(system, SUPERHEAT_TOLERANCE_K),
    ]),
  );
}

/** The whole charge by weight: nameplate + (line length − length it covers) × adder.
 * @param {System} system @returns {WeighIn | Unknown} */
export function weigh_in(system) {
  if (system.nameplate_charge_kg === null) {
    return new Unknown(missing(["nameplate_charge"]));
  }
  const length = system.line_length_m;
  const included = system.line_included_m;
  const adder = system.line_adder_kg_per_m;
  if (length === null && included === null && adder === null) {
    return new WeighIn(system.nameplate_charge_kg, null, system.nameplate_charge_kg);
  }
  if (length === null || included === null || adder === null) {
    /** @type {string[]} */
    const absent = [];
    if (length === null) {
      absent.push("line_length");
    }
    if (included === null) {
      absent.push("line_included");
    }
    if (adder === null) {
      absent.push("line_adder");
    }
    return new Unknown(missing(absent));
  }
  const line = (length - included) * adder;
  return new WeighIn(system.nameplate_charge_kg, line, system.nameplate_charge_kg + line);
}

/** What is still to weigh in after `added_kg` [kg]; negative when too much went in.
 * @param {WeighIn} charge @param {number} added_kg */
export function weigh_in_left(charge, added_kg) {
  const line = charge.line_kg === null ? null : charge.line_kg - added_kg;
  return new WeighInLeft(charge.total_kg - added_kg, line);
}

/** Whether `value_k` [K] passes; the tolerance itself passes.
 * @param {Target} target @param {number} value_k */
export function within(target, value_k) {
  return Math.abs(value_k - target.value_k) <= target.tolerance_k + BOUNDARY_K;
}

/** (3 × wet bulb − 80 − outdoor dry bulb) / 2 in °F, as a difference [K].
 * @param {number} outdoor_k @param {number} wet_bulb_k */
export function formula_superheat(outdoor_k, wet_bulb_k) {
  const outdoor = _fahrenheit(outdoor_k);
  const wet = _fahrenheit(wet_bulb_k);
  return ((3.0 * wet - 80.0 - outdoor) / 2.0) * FAHRENHEIT_DEGREE_K;
}

/** The announced fallback, only just outside the chart.
 * @param {number} outdoor_k @param {number} wet_bulb_k @param {Chart} chart
 * @param {Fact[]} conditions @returns {Target | NoTarget} */
function _formula_target(outdoor_k, wet_bulb_k, chart, conditions) {
  const outdoor_edge = edge(chart.rows_k, outdoor_k);
  const wet_edge = edge(chart.columns_k, wet_bulb_k);
  const nearest = look_up(chart, outdoor_edge, wet_edge);
  if (nearest instanceof NoValue && outdoor_k >= outdoor_edge && wet_bulb_k <= wet_edge) {
    return new NoTarget(new Finding("no_test", REFUSE, conditions));
  }
  const value = formula_superheat(outdoor_k, wet_bulb_k);
  const usable =
    !(nearest instanceof NoValue) &&
    outdoor_k >= chart.rows_k[0] &&
    Math.abs(outdoor_k - outdoor_edge) <= FORMULA_REACH_K &&
    Math.abs(wet_bulb_k - wet_edge) <= FORMULA_REACH_K &&
    Math.abs(nearest - formula_superheat(outdoor_edge, wet_edge)) <= FORMULA_ERROR_K &&
    value >= LOWEST_TARGET_K;
  if (!usable) {
    return new NoTarget(new Finding("outside_chart", REFUSE, conditions));
  }
  const width = SUPERHEAT_TOLERANCE_K + FORMULA_ERROR_K;
  return new Target(
    SUPERHEAT,
    value,
    width,
    new Finding("target_formula", WARN, [
      new Fact("target", "temperature_difference", value),
      ...conditions,
      new Fact("tolerance", "temperature_difference", width),
      new Fact("formula_error", "temperature_difference", FORMULA_ERROR_K),
    ]),
  );
}

/** @param {System} system */
function _by_weight(system) {
  const charge = weigh_in(system);
  if (charge instanceof Unknown) {
    return charge.reason;
  }
  const nameplate = new Fact("nameplate", "mass", charge.nameplate_kg);
  if (charge.line_kg === null) {
    return new Finding("by_weight_without_line", WARN, [nameplate]);
  }
  return new Finding("by_weight", WARN, [
    new Fact("total", "mass", charge.total_kg),
    nameplate,
    new Fact("line", "mass", charge.line_kg),
  ]);
}

/** @param {System} system @returns {Target | NoTarget} */
function _subcooling(system) {
  const value = system.maker_subcooling_k;
  if (value === null) {
    return new NoTarget(missing(["maker_subcooling"]));
  }
  return new Target(
    SUBCOOLING,
    value,
    _tolerance(system, SUBCOOLING_TOLERANCE_K),
    new Finding("target_maker_subcooling", SHOWS, [
      new Fact("target", "temperature_difference", value),
      ..._tolerance_facts(system, SUBCOOLING_TOLERANCE_K),
    ]),
  );
}

/** @param {System} system @returns {Target | NoTarget} */
function _maker_superheat(system) {
  const value = system.maker_superheat_k;
  if (value === null) {
    return new NoTarget(missing(["maker_superheat"]));
  }
  return new Target(
    SUPERHEAT,
    value,
    _tolerance(system, SUPERHEAT_TOLERANCE_K),
    new Finding("target_maker_superheat", SHOWS, [
      new Fact("target", "temperature_difference", value),
      ..._tolerance_facts(system, SUPERHEAT_TOLERANCE_K),
    ]),
  );
}

/** @param {System} system @param {number} published_k */
function _tolerance(system, published_k) {
  if (system.maker_tolerance_k !== null) {
    return system.maker_tolerance_k;
  }
  return published_k;
}

/** @param {System} system @param {number} published_k @returns {[Fact, Fact]} */
function _tolerance_facts(system, published_k) {
  let source = "by the maker";
  if (system.maker_tolerance_k === null) {
    source = "by the installer’s test in California’s RA3.2";
  }
  return [
    new Fact("tolerance", "temperature_difference", _tolerance(system, published_k)),
    new Fact("tolerance_source", "text", 0.0, source),
  ];
}

/** @param {number} kelvin */
function _fahrenheit(kelvin) {
  const scale = item(TEMPERATURE, "°F");
  return (kelvin - scale.offset) / scale.factor;
}

// Twin of src/lowside/core/charge.py: what one reading says of the charge.

import { condition_findings } from "./conditions.js";
import { Signs, fault_findings } from "./faults.js";
import * as findings from "./findings.js";
import { Fact, Finding, REFUSE, SHOWS, Unknown, WARN, missing, sentence } from "./findings.js";
import { capitalize, equals } from "./python.js";
import { OutOfRange, bubble_temperature, dew_temperature } from "./saturation.js";
import {
  NoTarget,
  SUPERHEAT,
  Target,
  expected_superheat,
  target_for,
  wet_bulb_of,
} from "./targets.js";

/** @typedef {import("./handbook.js").Handbook} Handbook */
/** @typedef {import("./saturation.js").PropertyTable} PropertyTable */
/** @typedef {import("./system.js").Reading} Reading */
/** @typedef {import("./system.js").System} System */
/** @typedef {import("./unit_choice.js").UnitChoice} UnitChoice */

export const ADD = "add";
export const ON_TARGET = "on_target";
export const OVER = "over";
export const DO_NOT_ADD = "do_not_add";
export const STOP = "stop";
export const UNKNOWN = "unknown";

export const GRAVITY = [findings.STOP, REFUSE, WARN, SHOWS];

/** A judged reading [K]. */
export class Assessment {
  /** @param {{superheat_k: number | Unknown, subcooling_k: number | Unknown,
   *   dew_k: number | null, bubble_k: number | null, target: Target | NoTarget,
   *   expected_superheat_k: [number, number] | null, verdict: string, reason: Finding,
   *   findings: Finding[]}} fields */
  constructor(fields) {
    this.superheat_k = fields.superheat_k;
    this.subcooling_k = fields.subcooling_k;
    this.dew_k = fields.dew_k;
    this.bubble_k = fields.bubble_k;
    this.target = fields.target;
    this.expected_superheat_k = fields.expected_superheat_k;
    this.verdict = fields.verdict;
    this.reason = fields.reason;
    this.findings = fields.findings;
  }
}

/** Judge a reading.
 * @param {System} system @param {Reading} reading @param {Handbook} handbook
 * @returns {Assessment} */
export function assess(system, reading, handbook) {
  const table = handbook.tables.get(system.refrigerant);
  if (table === undefined) {
    return _no_table(system);
  }
  const dew = _saturation(system, table, "Suction pressure", reading.suction_pressure_pa);
  const bubble = _saturation(system, table, "Liquid pressure", reading.liquid_pressure_pa);
  const superheat = _superheat(reading, dew);
  const subcooling = _subcooling(reading, bubble);
  const wet_bulb = wet_bulb_of(reading, system.atmosphere_pa, handbook.psychrometrics);
  const chart = handbook.charts.target_superheat;
  const target = target_for(system, reading, wet_bulb, chart);
  const expected = expected_superheat(system, reading, wet_bulb, chart);
  const signs = new Signs({
    superheat_k: _known(superheat),
    superheat_range_k: expected,
    subcooling_k: _known(subcooling),
    target,
    dew_k: _known(dew),
    bubble_k: _known(bubble),
    wet_bulb_k: wet_bulb,
  });
  const found = condition_findings(system, reading, signs.superheat_k, signs.dew_k);
  found.push(...fault_findings(system, reading, signs, handbook.charts.target_split));
  const [verdict, reason] = _verdict(target, superheat, subcooling, found);
  return new Assessment({
    superheat_k: superheat,
    subcooling_k: subcooling,
    dew_k: signs.dew_k,
    bubble_k: signs.bubble_k,
    target,
    expected_superheat_k: expected,
    verdict,
    reason,
    findings: _by_gravity(found, reason),
  });
}

/** Why the verdict is what it is, in the user's units.
 * @param {Assessment} assessment @param {UnitChoice} choice */
export function reason(assessment, choice) {
  return sentence(assessment.reason, choice);
}

/** The target with its tolerance and source, or why there is none.
 * @param {Assessment} assessment @param {UnitChoice} choice */
export function target_text(assessment, choice) {
  if (assessment.target instanceof Target) {
    return sentence(assessment.target.basis, choice);
  }
  return sentence(assessment.target.reason, choice);
}

/** Full charge by weight [kg]: nameplate plus the line set beyond what it covers.
 * @param {System} system @returns {number | Unknown} */
export function weigh_in_kg(system) {
  if (system.nameplate_charge_kg === null) {
    return new Unknown(missing(["nameplate_charge"]));
  }
  if (system.line_length_m === null && system.line_adder_kg_per_m === null) {
    return system.nameplate_charge_kg;
  }
  if (system.line_length_m === null) {
    return new Unknown(missing(["line_length"]));
  }
  if (system.line_included_m === null) {
    return new Unknown(missing(["line_included"]));
  }
  if (system.line_adder_kg_per_m === null) {
    return new Unknown(missing(["line_adder"]));
  }
  const beyond = system.line_length_m - system.line_included_m;
  return system.nameplate_charge_kg + beyond * system.line_adder_kg_per_m;
}

/** @param {System} system */
function _no_table(system) {
  const finding = new Finding("no_table", REFUSE, [
    new Fact("refrigerant", "text", 0.0, system.refrigerant),
  ]);
  const unknown = new Unknown(finding);
  return new Assessment({
    superheat_k: unknown,
    subcooling_k: unknown,
    dew_k: null,
    bubble_k: null,
    target: new NoTarget(finding),
    expected_superheat_k: null,
    verdict: UNKNOWN,
    reason: finding,
    findings: [finding],
  });
}

/** @param {System} system @param {PropertyTable} table @param {string} which
 * @param {number | null} pressure_pa @returns {number | Unknown} */
function _saturation(system, table, which, pressure_pa) {
  const low = which === "Suction pressure";
  if (pressure_pa === null) {
    return new Unknown(missing([low ? "suction_pressure" : "liquid_pressure"]));
  }
  const kelvin = low
    ? dew_temperature(table, pressure_pa)
    : bubble_temperature(table, pressure_pa);
  if (kelvin instanceof OutOfRange) {
    const gauge = pressure_pa - system.atmosphere_pa;
    const facts = [
      new Fact("which", "text", 0.0, which),
      new Fact("pressure", "gauge_pressure", gauge),
    ];
    return new Unknown(new Finding("pressure_out_of_table", WARN, facts));
  }
  return kelvin;
}

/** @param {Reading} reading @param {number | Unknown} dew @returns {number | Unknown} */
function _superheat(reading, dew) {
  if (reading.suction_line_k === null) {
    return new Unknown(missing(["suction_line"]));
  }
  if (dew instanceof Unknown) {
    return dew;
  }
  return reading.suction_line_k - dew;
}

/** @param {Reading} reading @param {number | Unknown} bubble @returns {number | Unknown} */
function _subcooling(reading, bubble) {
  if (reading.liquid_line_k === null) {
    return new Unknown(missing(["liquid_line"]));
  }
  if (bubble instanceof Unknown) {
    return bubble;
  }
  return bubble - reading.liquid_line_k;
}

/** @param {Target | NoTarget} target @param {number | Unknown} superheat
 * @param {number | Unknown} subcooling @param {Finding[]} found @returns {[string, Finding]} */
function _verdict(target, superheat, subcooling, found) {
  for (const [level, verdict] of [
    [findings.STOP, STOP],
    [REFUSE, DO_NOT_ADD],
  ]) {
    for (const finding of found) {
      if (finding.level === level) {
        return [verdict, finding];
      }
    }
  }
  if (target instanceof NoTarget) {
    const verdict = target.reason.level === REFUSE ? DO_NOT_ADD : UNKNOWN;
    return [verdict, target.reason];
  }
  const value = target.quantity === SUPERHEAT ? superheat : subcooling;
  if (value instanceof Unknown) {
    return [UNKNOWN, value.reason];
  }
  const facts = [
    new Fact("value", "temperature_difference", value),
    new Fact("target", "temperature_difference", target.value_k),
    new Fact("tolerance", "temperature_difference", target.tolerance_k),
  ];
  const gap = value - target.value_k;
  if (Math.abs(gap) <= target.tolerance_k) {
    const name = new Fact("quantity", "text", 0.0, capitalize(target.quantity));
    return [ON_TARGET, new Finding("charge_right", SHOWS, [name, ...facts])];
  }
  const short = target.quantity === SUPERHEAT ? gap > 0.0 : gap < 0.0;
  if (short) {
    return [ADD, new Finding("low_charge_" + target.quantity, SHOWS, facts)];
  }
  return [OVER, new Finding("overcharge_" + target.quantity, REFUSE, facts)];
}

/** @param {Finding[]} found @param {Finding} reason_finding */
function _by_gravity(found, reason_finding) {
  const every = [...found];
  if (!every.some((finding) => equals(finding, reason_finding))) {
    every.push(reason_finding);
  }
  return GRAVITY.flatMap((level) => every.filter((finding) => finding.level === level));
}

/** @param {number | Unknown} value */
function _known(value) {
  return value instanceof Unknown ? null : value;
}

// Twin of src/lowside/core/judging/charge.py: what a reading means, and whether charge is called for.

import {
  air_and_lines,
  method_limits,
  pressures,
  split_finding,
  split_of,
  thermometer_error,
} from "./conditions.js";
import { HIGH, LOW, pattern, signs_of } from "./faults.js";
import {
  Fact,
  Finding,
  REFUSE,
  SHOWS,
  STOP as STOP_NOW,
  Unknown,
  WARN,
  missing,
  sentence,
} from "./findings.js";
import { out_of_table, pressure_of } from "./plausibility.js";
import { OutOfRange, bubble_temperature, dew_temperature } from "./saturation.js";
import {
  NoTarget,
  SUPERHEAT,
  expected_superheat,
  still_needed,
  target_for,
  wet_bulb_of,
  within,
} from "./targets.js";

/** @typedef {import("./faults.js").Signs} Signs */
/** @typedef {import("./handbook.js").Handbook} Handbook */
/** @typedef {import("./saturation.js").PropertyTable} PropertyTable */
/** @typedef {import("./system.js").Reading} Reading */
/** @typedef {import("./system.js").System} System */
/** @typedef {import("./targets.js").Target} Target */
/** @typedef {import("./unit_choice.js").UnitChoice} UnitChoice */

export const ADD = "add";
export const ON_TARGET = "on_target";
export const OVER = "over";
export const DO_NOT_ADD = "do_not_add";
export const STOP = "stop";
export const UNKNOWN = "unknown";
export const VERDICTS = [ADD, ON_TARGET, OVER, DO_NOT_ADD, STOP, UNKNOWN];

export const OVERCHARGE_PATTERN = "overcharge";

/** What one reading means. Temperatures and differences in K. */
export class Assessment {
  /** @param {number | Unknown} superheat_k @param {number | Unknown} subcooling_k
   * @param {number | null} dew_k @param {number | null} bubble_k
   * @param {number | Unknown} wet_bulb_k @param {Target | NoTarget} target
   * @param {[number, number] | null} expected_superheat_k @param {string} verdict
   * @param {Finding} reason_finding @param {Finding[]} findings
   * @param {number | null} [split_over_k] */
  constructor(
    superheat_k,
    subcooling_k,
    dew_k,
    bubble_k,
    wet_bulb_k,
    target,
    expected_superheat_k,
    verdict,
    reason_finding,
    findings,
    split_over_k = null,
  ) {
    this.superheat_k = superheat_k;
    this.subcooling_k = subcooling_k;
    this.dew_k = dew_k;
    this.bubble_k = bubble_k;
    this.wet_bulb_k = wet_bulb_k;
    this.target = target;
    this.expected_superheat_k = expected_superheat_k;
    this.verdict = verdict;
    this.reason_finding = reason_finding;
    this.findings = findings;
    this.split_over_k = split_over_k;
  }
}

/** Judge one reading.
 * @param {System} system @param {Reading} reading @param {Handbook} handbook
 * @returns {Assessment} */
export function assess(system, reading, handbook) {
  const wet_bulb = wet_bulb_of(reading, system.atmosphere_pa, handbook.psychrometrics);
  const chart = handbook.charts.target_superheat;
  const target = target_for(system, reading, wet_bulb, chart);
  const expected = expected_superheat(system, reading, wet_bulb, target, chart);
  const table = handbook.tables.get(system.refrigerant);
  if (table === undefined) {
    return _without_table(system, wet_bulb, target, expected);
  }
  const dew = _saturation(system, table, dew_temperature, "suction_pressure", reading);
  const bubble = _saturation(system, table, bubble_temperature, "liquid_pressure", reading);
  const superheat = _superheat(dew, reading.suction_line_k);
  const subcooling = _subcooling(bubble, reading.liquid_line_k);
  const dew_k = dew instanceof Unknown ? null : dew;
  const bubble_k = bubble instanceof Unknown ? null : bubble;

  const found = pressures(system, reading, dew_k);
  found.push(...method_limits(system, reading));
  found.push(...air_and_lines(reading, _liquid_dew(table, reading, subcooling)));
  found.push(..._floodback(superheat, reading));
  const split = split_of(reading, wet_bulb, handbook.charts);
  const signs = signs_of(
    system,
    reading,
    superheat,
    subcooling,
    dew_k,
    bubble_k,
    target,
    expected,
    split,
  );
  const looks_like = pattern(signs, system.metering, system.maker_subcooling_k !== null);
  if (looks_like !== null) {
    found.push(looks_like);
  }
  found.push(..._split(split, signs, looks_like));
  for (const unknown of [dew, bubble]) {
    if (unknown instanceof Unknown && unknown.reason.code === "out_of_table") {
      found.push(unknown.reason);
    }
  }
  if (target instanceof NoTarget) {
    found.push(target.reason);
  } else if (target.basis.level !== SHOWS) {
    found.push(target.basis);
  }

  const [verdict, why] = _verdict(system, reading, superheat, subcooling, target, found);
  return new Assessment(
    superheat,
    subcooling,
    dew_k,
    bubble_k,
    wet_bulb,
    target,
    expected,
    verdict,
    why,
    _gravest_first(found, why),
    split === null ? null : split[0] - split[1],
  );
}

/** Why the verdict, in one or two sentences.
 * @param {Assessment} assessment @param {UnitChoice} choice */
export function reason(assessment, choice) {
  return sentence(assessment.reason_finding, choice);
}

/** The target with its tolerance and its source, or why there is none.
 * @param {Assessment} assessment @param {UnitChoice} choice */
export function target_text(assessment, choice) {
  if (assessment.target instanceof NoTarget) {
    return sentence(assessment.target.reason, choice);
  }
  return sentence(assessment.target.basis, choice);
}

/** @param {number | Unknown} dew @param {number | null} line_k @returns {number | Unknown} */
function _superheat(dew, line_k) {
  if (dew instanceof Unknown) {
    if (line_k === null && dew.reason.code === "missing") {
      return new Unknown(missing(["suction_pressure", "suction_line"]));
    }
    return dew;
  }
  if (line_k === null) {
    return new Unknown(missing(["suction_line"]));
  }
  return line_k - dew;
}

/** @param {number | Unknown} bubble @param {number | null} line_k @returns {number | Unknown} */
function _subcooling(bubble, line_k) {
  if (bubble instanceof Unknown) {
    if (line_k === null && bubble.reason.code === "missing") {
      return new Unknown(missing(["liquid_pressure", "liquid_line"]));
    }
    return bubble;
  }
  if (line_k === null) {
    return new Unknown(missing(["liquid_line"]));
  }
  return bubble - line_k;
}

/** @param {System} system @param {PropertyTable} table
 * @param {(table: PropertyTable, pressure_pa: number) => number | OutOfRange} temperature
 * @param {string} field @param {Reading} reading @returns {number | Unknown} */
function _saturation(system, table, temperature, field, reading) {
  const pressure = pressure_of(reading, field);
  if (pressure === null) {
    return new Unknown(missing([field]));
  }
  const found = temperature(table, pressure);
  if (found instanceof OutOfRange) {
    return new Unknown(out_of_table(system, field, pressure, table));
  }
  return found;
}

/** Dew point at the liquid pressure [K], asked only when there is no subcooling.
 * @param {PropertyTable} table @param {Reading} reading @param {number | Unknown} subcooling
 * @returns {number | null} */
function _liquid_dew(table, reading, subcooling) {
  if (subcooling instanceof Unknown || subcooling >= 0.0) {
    return null;
  }
  if (reading.liquid_pressure_pa === null) {
    return null;
  }
  const dew = dew_temperature(table, reading.liquid_pressure_pa);
  return dew instanceof OutOfRange ? null : dew;
}

/** @param {number | Unknown} superheat @param {Reading} reading @returns {Finding[]} */
function _floodback(superheat, reading) {
  if (superheat instanceof Unknown || reading.suction_line_k === null) {
    return [];
  }
  if (superheat >= thermometer_error(reading.suction_line_k)) {
    return [];
  }
  const value = new Fact("superheat", "temperature_difference", superheat);
  if (superheat <= 0.0) {
    return [new Finding("liquid_return", STOP_NOW, [value])];
  }
  return [new Finding("floodback", REFUSE, [value])];
}

/** The temperature split by itself, unless a pattern already speaks of it or explains it.
 * @param {[number, number] | null} split @param {Signs} signs @param {Finding | null} looks_like
 * @returns {Finding[]} */
function _split(split, signs, looks_like) {
  if (split === null) {
    return [];
  }
  const code = looks_like === null ? "" : looks_like.code;
  if (signs.split === HIGH && !["low_airflow", "airflow_first"].includes(code)) {
    return [split_finding("split_high", split)];
  }
  if (signs.split === LOW && !["undercharge", "undercharge_valve"].includes(code)) {
    return [split_finding("split_low", split)];
  }
  return [];
}

/** @param {System} system @param {Reading} reading @param {number | Unknown} superheat
 * @param {number | Unknown} subcooling @param {Target | NoTarget} target @param {Finding[]} found
 * @returns {[string, Finding]} */
function _verdict(system, reading, superheat, subcooling, target, found) {
  for (const finding of found) {
    if (finding.level === STOP_NOW) {
      return [STOP, finding];
    }
  }
  const refusals = found.filter((finding) => finding.level === REFUSE);
  if (target instanceof NoTarget) {
    if (refusals.length > 0) {
      return [DO_NOT_ADD, refusals[0]];
    }
    return [UNKNOWN, _why_unknown(system, reading, target.reason)];
  }
  const value = target.quantity === SUPERHEAT ? superheat : subcooling;
  if (value instanceof Unknown) {
    if (refusals.length > 0) {
      return [DO_NOT_ADD, refusals[0]];
    }
    return [UNKNOWN, _why_unknown(system, reading, value.reason)];
  }
  const verdict = _by_target(target, value);
  const others = refusals.filter((each) => verdict !== OVER || each.code !== OVERCHARGE_PATTERN);
  if (others.length > 0) {
    return [DO_NOT_ADD, others[0]];
  }
  return [verdict, _target_finding(verdict, target, value)];
}

/** Superheat falls and subcooling rises with charge. @param {Target} target @param {number} value_k */
function _by_target(target, value_k) {
  if (within(target, value_k)) {
    return ON_TARGET;
  }
  const above = value_k > target.value_k;
  if (target.quantity === SUPERHEAT) {
    return above ? ADD : OVER;
  }
  return above ? OVER : ADD;
}

/** The verdict by the target; target and tolerance are facts of the target's own basis.
 * @param {string} verdict @param {Target} target @param {number} value_k */
function _target_finding(verdict, target, value_k) {
  return new Finding(verdict + "_" + target.quantity, verdict === OVER ? REFUSE : SHOWS, [
    new Fact("value", "temperature_difference", value_k),
    new Fact("gap", "temperature_difference", Math.abs(value_k - target.value_k)),
    ...target.basis.facts,
  ]);
}

/** Everything the method still needs in one sentence, not only the first thing found.
 * @param {System} system @param {Reading} reading @param {Finding} first */
function _why_unknown(system, reading, first) {
  if (first.code !== "missing") {
    return first;
  }
  const absent = still_needed(system, reading);
  return absent.length > 0 ? missing(absent) : first;
}

/** @param {System} system @param {number | Unknown} wet_bulb @param {Target | NoTarget} target
 * @param {[number, number] | null} expected */
function _without_table(system, wet_bulb, target, expected) {
  const finding = new Finding("no_table", WARN, [
    new Fact("refrigerant", "text", 0.0, system.refrigerant),
  ]);
  const unknown = new Unknown(finding);
  return new Assessment(
    unknown,
    unknown,
    null,
    null,
    wet_bulb,
    target,
    expected,
    UNKNOWN,
    finding,
    [finding],
  );
}

/** By level; within a level the reason first, the rest as found.
 * @param {Finding[]} found @param {Finding} why */
function _gravest_first(found, why) {
  if (found.length === 0) {
    return [why];
  }
  /** @type {Finding[]} */
  const ordered = [];
  for (const grade of [STOP_NOW, REFUSE, WARN, SHOWS]) {
    if (why.level === grade) {
      ordered.push(why);
    }
    for (const finding of found) {
      if (finding.level === grade && !_same_words(finding, why)) {
        ordered.push(finding);
      }
    }
  }
  return ordered;
}

/** The reason itself, or a second list of what is missing: the reason's is the whole one.
 * @param {Finding} finding @param {Finding} why */
function _same_words(finding, why) {
  return finding === why || (finding.code === "missing" && why.code === "missing");
}

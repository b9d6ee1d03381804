// Twin of src/lowside/core/pages/wording.py: times, durations and names as the screen writes them.

import { floor_div, int, mod } from "./python.js";
import * as system from "./system.js";

/** @typedef {import("./events.js").Moment} Moment */

/** @type {Map<string, string>} */
export const TITLES = new Map([
  ["session.started", "Session started"],
  ["units.set", "Units chosen"],
  ["job.set", "Job"],
  ["unit.set", "Unit"],
  ["target.set", "Target"],
  ["checks.answered", "Checks before charging"],
  ["cylinder.set", "Cylinder"],
  ["weight.start", "Start weight"],
  ["scale.set", "Scale set"],
  ["reading.taken", "Reading"],
  ["reading.final", "Final reading"],
  ["decision.made", "Decision"],
  ["shot.opened", "Shot started"],
  ["shot.closed", "Shot ended"],
  ["system.stopped", "Unit stopped"],
  ["system.started", "Unit running again"],
  ["note.added", "Note"],
  ["weight.end", "End weight"],
  ["weights.explained", "Weights compared"],
  ["session.closed", "Session closed"],
  ["step.done", "Step done"],
  ["practice.valve", "Practice: low handwheel turned"],
  ["practice.pace", "Practice: pace of the clock"],
  ["practice.recovery", "Practice: recovery machine"],
  ["event.voided", "Entry struck out"],
  ["event.amended", "Entry corrected"],
]);

/** @type {Map<string, string>} */
export const METERING_NAMES = new Map([
  [system.TXV, "TXV"],
  [system.EEV, "EEV"],
  [system.FIXED, "fixed orifice"],
  [system.METERING_UNKNOWN, "not known"],
]);

/** @type {Map<string, string>} */
export const METHOD_NAMES = new Map([
  [system.BY_SUBCOOLING, "maker’s subcooling"],
  [system.BY_SUPERHEAT, "maker’s superheat"],
  [system.BY_CHART, "target-superheat chart"],
  [system.BY_WEIGHT, "weigh-in"],
]);

const _DAY_MS = 86_400_000;

/** The kind of an event in words; an unknown kind is named as it came. @param {string} kind */
export function title_of(kind) {
  return TITLES.get(kind) ?? "Entry of a kind this version does not know: " + kind;
}

/** Local time of day, `14:05`. @param {Moment} moment */
export function clock_time(moment) {
  const minutes = floor_div(mod(_local_ms(moment), _DAY_MS), 60_000);
  return _two(floor_div(minutes, 60)) + ":" + _two(mod(minutes, 60));
}

/** Local time of day to the second, `14:05:09`. @param {Moment} moment */
export function clock_seconds(moment) {
  return clock_time(moment) + ":" + _two(floor_div(mod(_local_ms(moment), 60_000), 1000));
}

/** Local calendar date, `2026-11-25`. @param {Moment} moment */
export function day(moment) {
  const shifted = floor_div(_local_ms(moment), _DAY_MS) + 719_468;
  const era = floor_div(shifted, 146_097);
  const of_era = shifted - era * 146_097;
  const year_of_era = floor_div(
    of_era - floor_div(of_era, 1460) + floor_div(of_era, 36_524) - floor_div(of_era, 146_096),
    365,
  );
  const of_year =
    of_era - (365 * year_of_era + floor_div(year_of_era, 4) - floor_div(year_of_era, 100));
  const month_index = floor_div(5 * of_year + 2, 153);
  const day_of_month = of_year - floor_div(153 * month_index + 2, 5) + 1;
  const month = month_index < 10 ? month_index + 3 : month_index - 9;
  const year = year_of_era + era * 400 + (month <= 2 ? 1 : 0);
  return String(year) + "-" + _two(month) + "-" + _two(day_of_month);
}

/** `2026-11-25 14:05`. @param {Moment} moment */
export function day_and_time(moment) {
  return day(moment) + " " + clock_time(moment);
}

/** A running time as a stopwatch shows it: `0:42`, `12:05`, `1:02:03`. @param {number} seconds */
export function timer(seconds) {
  const whole = seconds > 0.0 ? int(seconds) : 0;
  const hours = floor_div(whole, 3600);
  const minutes = mod(floor_div(whole, 60), 60);
  if (hours === 0) {
    return String(minutes) + ":" + _two(mod(whole, 60));
  }
  return String(hours) + ":" + _two(minutes) + ":" + _two(mod(whole, 60));
}

/** A past time in words: `42 s`, `5 min`, `1 h 20 min`. @param {number} seconds */
export function duration(seconds) {
  const whole = seconds > 0.0 ? int(seconds) : 0;
  if (whole < 120) {
    return String(whole) + " s";
  }
  const minutes = floor_div(whole, 60);
  if (minutes < 120) {
    return String(minutes) + " min";
  }
  return String(floor_div(minutes, 60)) + " h " + String(mod(minutes, 60)) + " min";
}

/** The short name of a session: the last six characters of its ULID. @param {string} sid */
export function ticket_number(sid) {
  return Array.from(sid).slice(-6).join("");
}

/** @param {Moment} moment */
function _local_ms(moment) {
  return moment.at + moment.tz * 60_000;
}

/** @param {number} number */
function _two(number) {
  return number < 10 ? "0" + String(number) : String(number);
}

// Twin of src/lowside/core/session/state.py: what one charging session amounts to.

import { last } from "./python.js";

/** @typedef {import("./charge.js").Assessment} Assessment */
/** @typedef {import("./events.js").Moment} Moment */
/** @typedef {import("./system.js").Reading} Reading */
/** @typedef {import("./system.js").System} System */
/** @typedef {import("./unit_choice.js").UnitChoice} UnitChoice */

export const STANDS = "stands";
export const VOIDED = "voided";

export const ZEROED = "zeroed";

/** One event as the timeline shows it; `data` is what counts, after amendments. */
export class Entry {
  /** @param {string} eid @param {string} kind @param {Moment} moment @param {string} dev
   * @param {Map<string, string>} data @param {string} status @param {boolean} amended
   * @param {Map<string, string>} problems */
  constructor(eid, kind, moment, dev, data, status, amended, problems) {
    this.eid = eid;
    this.kind = kind;
    this.moment = moment;
    this.dev = dev;
    this.data = data;
    this.status = status;
    this.amended = amended;
    this.problems = problems;
  }
}

export class Job {
  /** @param {string} site @param {string} unit_label @param {string} technician
   * @param {number} elevation_m */
  constructor(site, unit_label, technician, elevation_m) {
    this.site = site;
    this.unit_label = unit_label;
    this.technician = technician;
    this.elevation_m = elevation_m;
  }
}

/** What the technician read off the cylinder [kg, Pa gauge, K]. */
export class Cylinder {
  /** @param {string} label @param {string} refrigerant @param {number} tare_kg
   * @param {string} withdrawal @param {number | null} pressure_pa
   * @param {number | null} temperature_k @param {number | null} [hose_length_m]
   * @param {number | null} [hose_bore_m] */
  constructor(
    label,
    refrigerant,
    tare_kg,
    withdrawal,
    pressure_pa,
    temperature_k,
    hose_length_m = null,
    hose_bore_m = null,
  ) {
    this.label = label;
    this.refrigerant = refrigerant;
    this.tare_kg = tare_kg;
    this.withdrawal = withdrawal;
    this.pressure_pa = pressure_pa;
    this.temperature_k = temperature_k;
    this.hose_length_m = hose_length_m;
    this.hose_bore_m = hose_bore_m;
  }
}

/** A weighing of the bare cylinder [kg]. */
export class Weight {
  /** @param {string} eid @param {Moment} moment @param {number} kg */
  constructor(eid, moment, kg) {
    this.eid = eid;
    this.moment = moment;
    this.kg = kg;
  }
}

/** How the scale reads while the hoses are on [kg]. */
export class ScaleSetting {
  /** @param {string} mode @param {number} reading_kg @param {number} resolution_kg */
  constructor(mode, reading_kg, resolution_kg) {
    this.mode = mode;
    this.reading_kg = reading_kg;
    this.resolution_kg = resolution_kg;
  }
}

/** One opening of the low-side valve. `amount_kg` is `null` when the scale did not say. */
export class Shot {
  /** @param {string} eid @param {Moment} opened @param {Moment | null} closed
   * @param {string} close_eid @param {number | null} open_s @param {boolean} doubtful_time
   * @param {number | null} amount_kg */
  constructor(eid, opened, closed, close_eid, open_s, doubtful_time, amount_kg) {
    this.eid = eid;
    this.opened = opened;
    this.closed = closed;
    this.close_eid = close_eid;
    this.open_s = open_s;
    this.doubtful_time = doubtful_time;
    this.amount_kg = amount_kg;
  }
}

/** A reading as it was taken, with what it means. */
export class Taken {
  /** @param {{eid: string, moment: Moment, reading: Reading, final: boolean,
   *   shots_before: number, added_kg: number, since_shot_s: number | null, running: boolean,
   *   assessment: Assessment | null}} fields */
  constructor(fields) {
    this.eid = fields.eid;
    this.moment = fields.moment;
    this.reading = fields.reading;
    this.final = fields.final;
    this.shots_before = fields.shots_before;
    this.added_kg = fields.added_kg;
    this.since_shot_s = fields.since_shot_s;
    this.running = fields.running;
    this.assessment = fields.assessment;
  }
}

/** One session as its events tell it; everything on a screen derives from it. */
export class State {
  /** @param {{sid: string, units: UnitChoice, procedure: string, started: Moment | null,
   *   job: Job | null, system: System | null, unit_numbers: Map<string, number>,
   *   unit_texts: Map<string, string>, checks: Map<string, string>, cylinder: Cylinder | null,
   *   start_weight: Weight | null, end_weight: Weight | null, scale: ScaleSetting | null,
   *   readings: Taken[], shots: Shot[], last_scale_kg: number | null,
   *   shot_before_kg: number | null, decision: string, decision_reason: string,
   *   explanation: string, running: boolean, stopped_at: Moment | null,
   *   done: Map<string, string>, notes: [Moment, string][], signed_by: string,
   *   closed: Moment | null, practice: boolean, entries: Entry[], flags: string[]}} fields */
  constructor(fields) {
    this.sid = fields.sid;
    this.units = fields.units;
    this.procedure = fields.procedure;
    this.started = fields.started;
    this.job = fields.job;
    this.system = fields.system;
    this.unit_numbers = fields.unit_numbers;
    this.unit_texts = fields.unit_texts;
    this.checks = fields.checks;
    this.cylinder = fields.cylinder;
    this.start_weight = fields.start_weight;
    this.end_weight = fields.end_weight;
    this.scale = fields.scale;
    this.readings = fields.readings;
    this.shots = fields.shots;
    this.last_scale_kg = fields.last_scale_kg;
    this.shot_before_kg = fields.shot_before_kg;
    this.decision = fields.decision;
    this.decision_reason = fields.decision_reason;
    this.explanation = fields.explanation;
    this.running = fields.running;
    this.stopped_at = fields.stopped_at;
    this.done = fields.done;
    this.notes = fields.notes;
    this.signed_by = fields.signed_by;
    this.closed = fields.closed;
    this.practice = fields.practice;
    this.entries = fields.entries;
    this.flags = fields.flags;
  }
}

/** The shot whose valve is still open, if any. @param {State} state @returns {Shot | null} */
export function open_shot(state) {
  if (state.shots.length > 0 && last(state.shots).closed === null) {
    return last(state.shots);
  }
  return null;
}

/** Sum of the weighed shots [kg]. @param {State} state */
export function added_kg(state) {
  return sum_of_shots(state.shots);
}

/** Shots that were shut without a scale reading. @param {State} state */
export function unweighed_shots(state) {
  return state.shots.filter((s) => s.closed !== null && s.amount_kg === null).length;
}

/** The newest reading, if any. @param {State} state @returns {Taken | null} */
export function latest_reading(state) {
  return state.readings.length > 0 ? last(state.readings) : null;
}

/** Weighed charge of these shots [kg]. @param {readonly Shot[]} shots */
export function sum_of_shots(shots) {
  let total = 0.0;
  for (const shot of shots) {
    if (shot.amount_kg !== null) {
      total = total + shot.amount_kg;
    }
  }
  return total;
}

/** Refrigerant that left the cylinder between two scale readings [kg], negative if it gained.
 * @param {string} mode @param {number} before_kg @param {number} after_kg */
export function taken_out(mode, before_kg, after_kg) {
  if (mode === ZEROED) {
    return Math.abs(after_kg) - Math.abs(before_kg);
  }
  return before_kg - after_kg;
}

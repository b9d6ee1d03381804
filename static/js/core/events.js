// Twin of src/lowside/core/session/events.py: the one thing Lowside stores.

import { compare_texts } from "./python.js";

export const SCHEMA = 1;

/** One immutable fact in one log; `data` values are strings exactly as typed. */
export class Event {
  /** @param {{sid: string, dev: string, seq: number, eid: string, hlc: string, at: number,
   *   tz: number, mono: number, run: string, kind: string, data?: Map<string, string>,
   *   schema?: number}} fields */
  constructor(fields) {
    this.sid = fields.sid;
    this.dev = fields.dev;
    this.seq = fields.seq;
    this.eid = fields.eid;
    this.hlc = fields.hlc;
    this.at = fields.at;
    this.tz = fields.tz;
    this.mono = fields.mono;
    this.run = fields.run;
    this.kind = fields.kind;
    this.data = fields.data ?? new Map();
    this.schema = fields.schema ?? SCHEMA;
  }
}

/** A reading of the device's clocks, for durations and for `view`'s "now". */
export class Moment {
  /** @param {string} run @param {number} mono [ms] @param {number} at [ms] @param {number} [tz] [min] */
  constructor(run, mono, at, tz = 0) {
    this.run = run;
    this.mono = mono;
    this.at = at;
    this.tz = tz;
  }
}

/** Time between two moments [s]; `doubtful` when the clocks disagree by more than 2 s. */
export class Elapsed {
  /** @param {number} seconds @param {boolean} doubtful */
  constructor(seconds, doubtful) {
    this.seconds = seconds;
    this.doubtful = doubtful;
  }
}

export const CLOCK_DISAGREEMENT_S = 2.0;

/** The clocks as the event recorded them. @param {Event} event */
export function moment_of(event) {
  return new Moment(event.run, event.mono, event.at, event.tz);
}

/** Time from `start` to `end`: monotonic within one run, wall clock across runs.
 * @param {Moment} start @param {Moment} end */
export function elapsed(start, end) {
  const wall = (end.at - start.at) / 1000.0;
  if (start.run === end.run) {
    const steady = (end.mono - start.mono) / 1000.0;
    return new Elapsed(steady, Math.abs(wall - steady) > CLOCK_DISAGREEMENT_S);
  }
  if (wall < 0.0) {
    return new Elapsed(0.0, true);
  }
  return new Elapsed(wall, false);
}

/** Each event once, ordered everywhere the same: by (hlc, dev, seq).
 * @param {Iterable<Event>} events @returns {Event[]} */
export function in_order(events) {
  /** @type {Set<string>} */
  const seen = new Set();
  /** @type {Event[]} */
  const unique = [];
  const sorted = [...events].sort(
    (a, b) => compare_texts(a.hlc, b.hlc) || compare_texts(a.dev, b.dev) || a.seq - b.seq,
  );
  for (const event of sorted) {
    if (!seen.has(event.eid)) {
      seen.add(event.eid);
      unique.push(event);
    }
  }
  return unique;
}

/** The clock value for a new event written at wall time `at` [ms] after seeing `last`.
 * @param {string} last @param {number} at */
export function next_hlc(last, at) {
  const last_ms = last !== "" ? Number(last.slice(0, 15)) : 0;
  const count = last !== "" ? Number(last.slice(16)) : 0;
  if (at > last_ms) {
    return hlc(at, 0);
  }
  return hlc(last_ms, count + 1);
}

/** Fixed-width text of a hybrid logical clock value. @param {number} ms @param {number} count */
export function hlc(ms, count) {
  return String(ms).padStart(15, "0") + "-" + String(count).padStart(6, "0");
}

// Twin of src/lowside/core/session/ledger.py: a cylinder's ledger, with the leak check between jobs.

import { compare_texts, last, max, strip } from "./python.js";
import { added_kg } from "./state.js";
import { label, small_mass_unit } from "./unit_choice.js";
import * as units from "./units.js";

/** @typedef {import("./events.js").Moment} Moment */
/** @typedef {import("./state.js").State} State */
/** @typedef {import("./unit_choice.js").UnitChoice} UnitChoice */

export const LOST = "lost";
export const GAINED = "gained";
export const NO_END_WEIGHT = "no_end_weight";
export const TARE_CHANGED = "tare_changed";
export const REFRIGERANT_CHANGED = "refrigerant_changed";

export const STEPS_ALLOWED = 2.0;
export const TARE_ALLOWANCE_KG = 0.05;
export const ROUNDING_KG = 0.000001;

/** One session's use of one cylinder. */
export class CylinderUse {
  /** @param {{sid: string, label: string, refrigerant: string, tare_kg: number,
   *   start_kg: number | null, end_kg: number | null, started: Moment | null,
   *   closed: Moment | null, resolution_kg: number | null, added_kg: number}} fields */
  constructor(fields) {
    this.sid = fields.sid;
    this.label = fields.label;
    this.refrigerant = fields.refrigerant;
    this.tare_kg = fields.tare_kg;
    this.start_kg = fields.start_kg;
    this.end_kg = fields.end_kg;
    this.started = fields.started;
    this.closed = fields.closed;
    this.resolution_kg = fields.resolution_kg;
    this.added_kg = fields.added_kg;
  }
}

/** Something between two uses that a person should look at; amounts in kg, gross. */
export class LedgerWarning {
  /** @param {string} code @param {string} before_sid @param {string} before @param {string} now
   * @param {number | null} before_kg @param {number | null} now_kg @param {boolean} steps_known */
  constructor(code, before_sid, before, now, before_kg, now_kg, steps_known) {
    this.code = code;
    this.before_sid = before_sid;
    this.before = before;
    this.now = now;
    this.before_kg = before_kg;
    this.now_kg = now_kg;
    this.steps_known = steps_known;
  }

  /** What is wrong and what to do. @param {UnitChoice} choice */
  sentence(choice) {
    return _sentence(this, choice);
  }
}

/** A use with what it says against the use before it. */
export class LedgerLine {
  /** @param {CylinderUse} use @param {number | null} left_kg @param {LedgerWarning[]} warnings */
  constructor(use, left_kg, warnings) {
    this.use = use;
    this.left_kg = left_kg;
    this.warnings = warnings;
  }
}

/** All uses of one cylinder in time order; label and refrigerant as written last. */
export class CylinderLedger {
  /** @param {string} label @param {string} refrigerant @param {LedgerLine[]} lines */
  constructor(label, refrigerant, lines) {
    this.label = label;
    this.refrigerant = refrigerant;
    this.lines = lines;
  }
}

/** What a session says of its cylinder; `null` before it names one, and for practice.
 * @param {State} state @returns {CylinderUse | null} */
export function use_of(state) {
  const cylinder = state.cylinder;
  if (cylinder === null || state.practice) {
    return null;
  }
  return new CylinderUse({
    sid: state.sid,
    label: cylinder.label,
    refrigerant: cylinder.refrigerant,
    tare_kg: cylinder.tare_kg,
    start_kg: state.start_weight !== null ? state.start_weight.kg : null,
    end_kg: state.end_weight !== null ? state.end_weight.kg : null,
    started: state.started,
    closed: state.closed,
    resolution_kg: state.scale !== null ? state.scale.resolution_kg : null,
    added_kg: added_kg(state),
  });
}

/** Each use against the one before it of the same cylinder. @param {CylinderUse[]} uses */
export function ledger(uses) {
  /** @type {LedgerLine[]} */
  const lines = [];
  for (const group of _grouped(uses)) {
    lines.push(..._lines(group));
  }
  return lines;
}

/** One ledger for each cylinder, in the order of their first use. @param {CylinderUse[]} uses */
export function cylinder_ledgers(uses) {
  return _grouped(uses).map(
    (group) => new CylinderLedger(last(group).label, last(group).refrigerant, _lines(group)),
  );
}

/** The newest use of the cylinder labelled `cylinder` that started before `before`.
 * @param {CylinderUse[]} uses @param {string} cylinder @param {Moment} before
 * @returns {CylinderUse | null} */
export function last_use(uses, cylinder, before) {
  const key = label_key(cylinder);
  /** @type {CylinderUse | null} */
  let found = null;
  for (const use of in_time_order(uses)) {
    if (label_key(use.label) === key && use.started !== null && use.started.at < before.at) {
      found = use;
    }
  }
  return found;
}

/** What the cylinder weighed, gross, when its last job before `before` ended [kg].
 * @param {CylinderUse[]} uses @param {string} cylinder @param {Moment} before */
export function last_end_kg(uses, cylinder, before) {
  const use = last_use(uses, cylinder, before);
  return use === null ? null : use.end_kg;
}

/** What the running session's cylinder says against its last use in another session.
 * @param {State} state @param {CylinderUse[]} uses @returns {LedgerWarning[]} */
export function warnings_now(state, uses) {
  const use = use_of(state);
  if (use === null || use.started === null) {
    return [];
  }
  const others = uses.filter((other) => other.sid !== use.sid);
  const earlier = last_use(others, use.label, use.started);
  return earlier === null ? [] : between(earlier, use);
}

/** Warnings from two uses of one cylinder that follow each other.
 * @param {CylinderUse} earlier @param {CylinderUse} use @returns {LedgerWarning[]} */
export function between(earlier, use) {
  /** @type {LedgerWarning[]} */
  const found = [];
  if (earlier.refrigerant !== use.refrigerant) {
    found.push(
      new LedgerWarning(
        REFRIGERANT_CHANGED,
        earlier.sid,
        earlier.refrigerant,
        use.refrigerant,
        null,
        null,
        true,
      ),
    );
  }
  if (Math.abs(earlier.tare_kg - use.tare_kg) > TARE_ALLOWANCE_KG) {
    found.push(_weights(TARE_CHANGED, earlier, earlier.tare_kg, use.tare_kg, true));
  }
  if (use.start_kg === null) {
    return found;
  }
  if (earlier.end_kg === null) {
    found.push(_weights(NO_END_WEIGHT, earlier, null, use.start_kg, true));
    return found;
  }
  const allowance = allowed_difference_kg(earlier, use);
  const limit = allowance === null ? ROUNDING_KG : allowance + ROUNDING_KG;
  if (earlier.end_kg - use.start_kg > limit) {
    found.push(_weights(LOST, earlier, earlier.end_kg, use.start_kg, allowance !== null));
  }
  if (use.start_kg - earlier.end_kg > limit) {
    found.push(_weights(GAINED, earlier, earlier.end_kg, use.start_kg, allowance !== null));
  }
  return found;
}

/** By how much two weighings of the untouched cylinder may differ [kg].
 * @param {CylinderUse} earlier @param {CylinderUse} use @returns {number | null} */
export function allowed_difference_kg(earlier, use) {
  /** @type {number[]} */
  const steps = [];
  for (const s of [earlier.resolution_kg, use.resolution_kg]) {
    if (s !== null) steps.push(s);
  }
  if (steps.length === 0) {
    return null;
  }
  return STEPS_ALLOWED * steps.reduce(max);
}

/** A label as it is compared. @param {string} text */
export function label_key(text) {
  return strip(text).toLowerCase();
}

/** By start, then session; those without a start come last. @param {CylinderUse[]} uses */
export function in_time_order(uses) {
  /** @type {[number, string, CylinderUse][]} */
  const dated = [];
  for (const use of uses) {
    if (use.started !== null) dated.push([use.started.at, use.sid, use]);
  }
  dated.sort((a, b) => a[0] - b[0] || compare_texts(a[1], b[1]));
  const undated = uses.filter((use) => use.started === null);
  undated.sort((a, b) => compare_texts(a.sid, b.sid));
  return [...dated.map(([_at, _sid, use]) => use), ...undated];
}

/** @param {CylinderUse[]} uses @returns {CylinderUse[][]} */
function _grouped(uses) {
  /** @type {Map<string, CylinderUse[]>} */
  const groups = new Map();
  for (const use of in_time_order(uses)) {
    const key = label_key(use.label);
    const group = groups.get(key) ?? [];
    groups.set(key, group);
    group.push(use);
  }
  return [...groups.values()];
}

/** @param {CylinderUse[]} group */
function _lines(group) {
  /** @type {LedgerLine[]} */
  const lines = [];
  /** @type {CylinderUse | null} */
  let earlier = null;
  for (const use of group) {
    const left = use.end_kg === null ? null : use.end_kg - use.tare_kg;
    const warnings = earlier === null || use.started === null ? [] : between(earlier, use);
    lines.push(new LedgerLine(use, left, warnings));
    earlier = use;
  }
  return lines;
}

/** @param {string} code @param {CylinderUse} earlier @param {number | null} before_kg
 * @param {number} now_kg @param {boolean} steps_known */
function _weights(code, earlier, before_kg, now_kg, steps_known) {
  return new LedgerWarning(code, earlier.sid, "", "", before_kg, now_kg, steps_known);
}

/** @param {LedgerWarning} warning @param {UnitChoice} choice */
function _sentence(warning, choice) {
  if (warning.code === REFRIGERANT_CHANGED) {
    return (
      `This cylinder held ${warning.before} last time, now its label says ${warning.now}. ` +
      "Do not charge from it before you know what is inside."
    );
  }
  if (warning.before_kg === null || warning.now_kg === null) {
    return (
      "The last session with this cylinder left no end weight, so a leak since then cannot " +
      "be seen."
    );
  }
  const before = label("mass", warning.before_kg, choice);
  const now = label("mass", warning.now_kg, choice);
  if (warning.code === TARE_CHANGED) {
    return (
      `The tare was ${before} last time and is ${now} now. Read the stamp again: it may be ` +
      "another cylinder."
    );
  }
  const difference = units.label(
    "mass",
    Math.abs(warning.before_kg - warning.now_kg),
    small_mass_unit(choice),
  );
  const unknown = warning.steps_known ? "" : " Neither scale’s step was recorded.";
  if (warning.code === LOST) {
    return (
      `The cylinder weighs ${now}; its last job ended at ${before}. ${difference} are ` +
      "missing: it leaks, was used without a record, or a weighing was wrong. Check its " +
      `valve for leaks and weigh it again.${unknown}`
    );
  }
  return (
    `The cylinder weighs ${now}; its last job ended at ${before}, ${difference} less. It was ` +
    "refilled, is another cylinder, or a weighing was wrong. Make sure what is inside before " +
    `you charge from it.${unknown}`
  );
}

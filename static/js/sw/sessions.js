// What lists need of each session, derived from its events. src/lowside/outlining.py and the store's
// index do the same on the server.

import { Moment } from "../core/session/events.js";
import { CylinderUse, use_of } from "../core/session/ledger.js";
import { fold } from "../core/session/fold.js";
import { LastVisit, visit_of } from "../core/session/last_visit.js";
import { compare, replaced } from "../core/python.js";
import { ulid_ms } from "./clock.js";
import { event_from } from "./event_json.js";
import { asked, of_session } from "./open_store.js";

/** @typedef {import("./event_json.js").EventJson} EventJson */
/** @typedef {(name: string) => IDBObjectStore} Tables */

/**
 * @typedef {object} Outline
 * @property {string} sid
 * @property {number} begun [ms]
 * @property {boolean} closed
 * @property {string} cylinder its label for comparing, "" when none is named
 * @property {any} use its `CylinderUse`, or null
 * @property {any} [visit] its `LastVisit`, or null; missing in outlines from before it was kept
 */

/** What a visit has that outlines from before do not. */
const KEPT_LATER = {
  job: new Map(),
  scale: new Map(),
  cylinder: new Map(),
  added_kg: 0,
  dev: "",
  reading: null,
};

/** Work a session's outline out again, inside a transaction over `events` and `sessions`. Gives the
 * session's events. @param {Tables} table @param {string} sid @returns {Promise<EventJson[]>} */
export async function outline(table, sid) {
  const events = await asked(table("events").getAll(of_session(sid)));
  if (events.length > 0) table("sessions").put(outline_of(sid, events));
  return events;
}

/** Newest first, as the server lists them. @param {readonly Outline[]} outlines */
export function newest_first(outlines) {
  return [...outlines].sort((a, b) => b.begun - a.begun || compare(b.sid, a.sid));
}

/** What other sessions say of a cylinder, oldest first.
 * @param {readonly Outline[]} outlines @param {string} label @param {string} other_than
 * @returns {CylinderUse[]} */
export function cylinder_uses(outlines, label, other_than) {
  const key = cylinder_key(label);
  return newest_first(outlines)
    .filter((one) => one.use !== null && one.cylinder === key && one.sid !== other_than)
    .reverse()
    .map(({ use }) => use_from(use));
}

/** What other sessions say of their units.
 * @param {readonly Outline[]} outlines @param {string} other_than @returns {LastVisit[]} */
export function visits(outlines, other_than) {
  return outlines
    .filter((one) => one.visit && one.sid !== other_than)
    .map(({ visit }) => {
      const started = moment_from(visit.started);
      return replaced(Object.create(LastVisit.prototype), { ...KEPT_LATER, ...visit, started });
    });
}

/** @param {string} sid @param {readonly EventJson[]} events @returns {Outline} */
export function outline_of(sid, events) {
  const state = fold(events.map(event_from));
  return {
    sid,
    begun: state.started?.at ?? ulid_ms(sid),
    closed: state.closed !== null,
    cylinder: cylinder_key(state.cylinder?.label ?? ""),
    use: use_of(state),
    visit: visit_of(state),
  };
}

/** The core compares labels again, more strictly. @param {string} label */
function cylinder_key(label) {
  return label.split(/\s+/u).filter(Boolean).join(" ").toLowerCase();
}

/** Storing a value took its classes away; this puts them back. @param {any} stored @returns {CylinderUse} */
function use_from(stored) {
  const times = { started: moment_from(stored.started), closed: moment_from(stored.closed) };
  return replaced(Object.create(CylinderUse.prototype), { ...stored, ...times });
}

/** @param {any} stored */
function moment_from(stored) {
  return stored === null ? null : new Moment(stored.run, stored.mono, stored.at, stored.tz);
}

// What lists need of each session, derived from its events. src/lowside/outlining.py and the store's
// index do the same on the server.

import { FIRST_KIND, Moment } from "../core/session/events.js";
import { CylinderUse, label_key, uses_in } from "../core/session/ledger.js";
import { begun_ms } from "../core/session/listed.js";
import { is_finished } from "../core/session/state.js";
import { fold } from "../core/session/fold.js";
import { LastVisit, visit_of } from "../core/session/last_visit.js";
import { compare, replaced } from "../core/python.js";
import { event_from } from "./event_json.js";
import { asked, of_session } from "./open_store.js";

/** @typedef {import("../core/session/state.js").State} State */
/** @typedef {import("./event_json.js").EventJson} EventJson */
/** @typedef {(name: string) => IDBObjectStore} Tables */

/**
 * @typedef {object} Outline
 * @property {string} sid
 * @property {number} begun [ms]
 * @property {boolean} closed
 * @property {number} events how many it has
 * @property {any[]} uses its `CylinderUse`s
 * @property {any} visit its `LastVisit`, or null
 */

/** Work a session's outline out again, inside a transaction over `events` and `sessions`. Gives the
 * session's events. @param {Tables} table @param {string} sid @returns {Promise<EventJson[]>} */
export async function outline(table, sid) {
  const events = await asked(table("events").getAll(of_session(sid)));
  if (events.length > 0) {
    table("sessions").put(outline_of(sid, fold(events.map(event_from)), events.length));
  }
  return events;
}

/** Newest first, as the server lists them. @param {readonly Outline[]} outlines */
export function newest_first(outlines) {
  return [...outlines].sort((a, b) => b.begun - a.begun || compare(b.sid, a.sid));
}

/** What sessions say of a cylinder.
 * @param {readonly Outline[]} outlines @param {string} label @returns {CylinderUse[]} */
export function cylinder_uses(outlines, label) {
  const key = label_key(label);
  const uses = outlines.flatMap((one) => one.uses);
  return uses.filter((use) => label_key(use.label) === key).map(use_from);
}

/** What other sessions say of their units.
 * @param {readonly Outline[]} outlines @param {string} other_than @returns {LastVisit[]} */
export function visits(outlines, other_than) {
  return outlines
    .filter((one) => one.visit && one.sid !== other_than)
    .map(({ visit }) => {
      const started = moment_from(visit.started);
      return replaced(Object.create(LastVisit.prototype), { ...visit, started });
    });
}

/** @param {string} sid @param {State} state @param {number} events @returns {Outline} */
export function outline_of(sid, state, events) {
  return {
    sid,
    begun: begun_ms(sid, state.started?.at ?? null),
    closed: is_finished(state),
    events,
    uses: uses_in(state),
    visit: visit_of(state),
  };
}

/** Whether a session's events can be shown. @param {readonly EventJson[]} events */
export function is_whole(events) {
  return events.some((event) => event.kind === FIRST_KIND);
}

/** Storing a value took its classes away; this puts them back. @param {any} stored @returns {CylinderUse} */
function use_from(stored) {
  const times = { started: moment_from(stored.started), closed: moment_from(stored.closed) };
  return replaced(Object.create(CylinderUse.prototype), { ...stored, ...times });
}

/** @param {any} stored */
function moment_from(stored) {
  if (stored === null) return null;
  return new Moment(stored.run, stored.mono, stored.at, stored.tz, stored.slow, stored.slow_most, stored.gained);
}

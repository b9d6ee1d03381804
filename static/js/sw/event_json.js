// Events in two shapes: as they are sent and stored, and as the core takes them.

import { Event } from "../core/session/events.js";

/** @typedef {Omit<Event, "data"> & {data: Record<string, string>}} EventJson */
/** @typedef {[sid: string, dev: string, seq: number]} Key */

/** @param {EventJson} json */
export function event_from(json) {
  const { sid, dev, seq, eid, hlc, at, tz, mono, run, kind, schema } = json;
  const data = new Map(Object.entries(json.data));
  return new Event(sid, dev, seq, eid, hlc, at, tz, mono, run, kind, data, schema);
}

/** @param {Event} event @returns {EventJson} */
export function json_of(event) {
  return { ...event, data: Object.fromEntries(event.data) };
}

/** @param {{sid: string, dev: string, seq: number}} event @returns {Key} */
export function key_of(event) {
  return [event.sid, event.dev, event.seq];
}

/** The event as it is sent and stored, without what this phone keeps beside it.
 * @param {EventJson} json */
export function bare(json) {
  return json_of(event_from(json));
}

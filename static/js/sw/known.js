// What this worker has read from the store, so that a tap need not read it again. It is only a
// shortcut. It is dropped before and after every write and when the connection closes. A read that
// began before that is not kept. Only the worker in charge writes to the store.

import { asked, of_session, transact, when_lost, when_written } from "./open_store.js";

/** @typedef {import("./event_json.js").EventJson} EventJson */
/** @typedef {import("./sessions.js").Outline} Outline */

/** How often it was dropped. */
let drops = 0;

/** The session that was read last. @type {{sid: string, events: EventJson[]} | null} */
let session = null;

/** @type {Outline[] | null} */
let listed = null;

/** @type {string | null} */
let own = null;

function drop() {
  drops += 1;
  session = null;
  listed = null;
  own = null;
}

when_written(drop);
when_lost(drop);

/** A session's events. @param {string} sid @returns {Promise<readonly EventJson[]>} */
export async function events_of(sid) {
  if (session?.sid === sid) return session.events;
  const before = drops;
  const events = await transact(["events"], "readonly", (table) =>
    asked(table("events").getAll(of_session(sid))),
  );
  if (before === drops) session = { sid, events };
  return events;
}

/** What lists need of every session. @returns {Promise<readonly Outline[]>} */
export async function outlines() {
  if (listed !== null) return listed;
  const before = drops;
  const found = await transact(["sessions"], "readonly", (table) =>
    asked(table("sessions").getAll()),
  );
  if (before === drops) listed = found;
  return found;
}

/** The phone's own name as a writer. @returns {Promise<string>} */
export async function own_name() {
  if (own !== null) return own;
  const before = drops;
  const found = await transact(["facts"], "readonly", (table) => asked(table("facts").get("device")));
  if (before === drops) own = found;
  return found;
}

/** Write one event of this phone, and remember the store as it is then.
 * @param {readonly EventJson[]} before the session's other events @param {EventJson} event
 * @param {Outline} outline of the session with it @param {() => Promise<void>} write */
export async function written(before, event, outline, write) {
  const others = listed?.filter((one) => one.sid !== event.sid) ?? null;
  const by_this_alone = drops + 2;
  await write();
  if (drops !== by_this_alone) return;
  session = { sid: event.sid, events: [...before, event] };
  own = event.dev;
  listed = others === null ? null : [...others, outline];
}

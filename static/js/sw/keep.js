// Writes an event of this phone to the store and, as a second copy, to the cache. It is acknowledged
// only when both have it.

import { Record } from "../core/pages/recording.js";
import { Event, next_hlc } from "../core/session/events.js";
import { now } from "./clock.js";
import { event_from, json_of, key_of } from "./event_json.js";
import { events_of, own_name, written } from "./known.js";
import { disconnect, transact } from "./open_store.js";
import { recover } from "./recover.js";
import { copy, forget, has_room } from "./second_copy.js";
import { outline, outline_of } from "./sessions.js";

/** @typedef {import("./event_json.js").EventJson} EventJson */
/** @typedef {import("./event_json.js").Key} Key */
/** @typedef {import("./made.js").Made} Made */
/** @typedef {import("./sessions.js").Outline} Outline */
/** @typedef {import("../core/session/state.js").State} State */

/** The lock for reading a session in order to write to it. Every tab's forms come here. */
export const WRITING = "lowside writing";

/** The sentence that says why this worker stopped writing, or "". It is right to lose it with the
 * worker: the next worker checks the store before it writes. */
let stopped = "";

/** Nothing was recorded. The message is the sentence for the user. */
export class NotKept extends Error {}

/** Why this worker writes nothing, or "". */
export function why_stopped() {
  return stopped;
}

/**
 * Read a session, decide, and write the decision. All others wait meanwhile.
 *
 * @template T
 * @param {Made} made @param {string} sid
 * @param {(events: Event[]) => State} folded what these events tell; lists keep some of it
 * @param {(events: Event[]) => T} decide a `Record` is written
 * @param {Uint8Array} [photo] the picture that the entry names
 * @returns {Promise<T>}
 */
export async function keep(made, sid, folded, decide, photo) {
  return await navigator.locks.request(WRITING, async () => {
    if (stopped !== "") await try_again(made);
    const before = await events_of(sid);
    const events = before.map(event_from);
    const decided = decide(events);
    if (decided instanceof Record) {
      const event = event_of(sid, decided, events, await own_name());
      const all = [...events, event];
      await write(before, json_of(event), outline_of(sid, folded(all), all.length), photo);
    }
    return decided;
  });
}

/** Its clock value counts on from the session's own entries. So a session that was written while
 * the phone's date was far ahead holds up no other.
 * @param {string} sid @param {Record} record @param {readonly Event[]} events
 * @param {string} device */
function event_of(sid, { eid, kind, data }, events, device) {
  const moment = now();
  let seq = 1;
  let hlc = "";
  for (const event of events) {
    if (event.hlc > hlc) hlc = event.hlc;
    if (event.dev === device && event.seq >= seq) seq = event.seq + 1;
  }
  const { at, tz, mono, run } = moment;
  return new Event(sid, device, seq, eid, next_hlc(hlc, at), at, tz, mono, run, kind, data);
}

/** @param {readonly EventJson[]} before @param {EventJson} event @param {Outline} outline
 * @param {Uint8Array} [photo] */
async function write(before, event, outline, photo) {
  const key = key_of(event);
  try {
    const writing = written(before, event, outline, () =>
      transact(["events", "unsent", "sessions", "photos"], "readwrite", (table) => {
        // `add`, not `put`: a taken number makes the transaction fail. It never overwrites.
        table("events").add(event, key);
        table("unsent").add({ refused: "" }, key);
        table("sessions").put(outline);
        if (photo) table("photos").put(photo, [event.sid, event.data.photo]);
      }),
    );
    const [copied, stored] = await Promise.allSettled([copy(event), writing]);
    if (stored.status === "rejected") throw stored.reason;
    if (copied.status === "rejected") {
      await take_back(before, key);
      throw copied.reason;
    }
  } catch (error) {
    stopped =
      "Saving on this phone failed. Its storage is probably full. Nothing more is saved until " +
      "there is room. Delete something else from the phone, never this site’s data. Then save " +
      "again.";
    await forget([key]).catch(() => undefined);
    throw new NotKept(stopped, { cause: error });
  }
}

/** Remove an event without a second copy from the store; nobody was told that it is kept. If even
 * that fails, it stays, and the same form sent again is the same event.
 * @param {readonly EventJson[]} before @param {Key} key */
async function take_back(before, key) {
  await transact(["events", "unsent", "sessions"], "readwrite", async (table) => {
    table("events").delete(key);
    table("unsent").delete(key);
    if (before.length > 0) await outline(table, key[0]);
    else table("sessions").delete(key[0]);
  }).catch(() => undefined);
}

/** Write again only when there is room, and through a store that was opened again.
 * @param {Made} made */
async function try_again(made) {
  if (!(await has_room())) throw new NotKept(stopped);
  await disconnect();
  try {
    await recover(made);
  } catch (error) {
    throw new NotKept(stopped, { cause: error });
  }
  stopped = "";
}

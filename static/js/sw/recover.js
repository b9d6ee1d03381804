// A worker does this before its first answer: it opens the store, puts back what only the second
// copy has, and derives the lists again when the rules changed.

import { new_ulid } from "./clock.js";
import { key_of } from "./event_json.js";
import { asked, transact, when_lost } from "./open_store.js";
import { copied, copies, forget } from "./second_copy.js";
import { outline } from "./sessions.js";

/** @typedef {import("./event_json.js").EventJson} EventJson */
/** @typedef {import("./event_json.js").Key} Key */
/** @typedef {import("./made.js").Made} Made */

/** Done once for each connection to the store. Asking again costs nothing. @type {Promise<boolean> | null} */
let recovering = null;

/** Whether this is the first time on this phone. @param {Made} made @returns {Promise<boolean>} */
export function recover(made) {
  recovering ??= recover_now(made).catch((error) => {
    recovering = null;
    throw error;
  });
  return recovering;
}

// A store that was opened again may have been emptied meanwhile.
when_lost(() => (recovering = null));

/** @param {Made} made */
async function recover_now(made) {
  // Opening the store takes as long as looking for copies.
  const [keys] = await Promise.all([copied(), transact(["facts"], "readonly", () => undefined)]);
  const [is_new, rules, events, unsent] = await transact(
    ["facts", "events", "unsent"],
    "readonly",
    async (table) => [
      (await asked(table("facts").get("device"))) === undefined,
      await asked(table("facts").get("rules")),
      await Promise.all(keys.map((key) => asked(table("events").getKey(key)))),
      await Promise.all(keys.map((key) => asked(table("unsent").getKey(key)))),
    ],
  );
  const lost = await copies(keys.filter((_, i) => events[i] === undefined));
  if (is_new || lost.length > 0 || rules !== made.version) await put_back(lost, made.version);
  // These were sent. The phone was stopped before their copies were removed.
  const stale = keys.filter((_, i) => events[i] !== undefined && unsent[i] === undefined);
  if (stale.length > 0) await forget(stale);
  return is_new;
}

/** @param {EventJson[]} lost @param {string} rules */
async function put_back(lost, rules) {
  await transact(["facts", "events", "unsent", "sessions"], "readwrite", async (table) => {
    const facts = table("facts");
    if ((await asked(facts.get("device"))) === undefined) {
      facts.put(new_ulid(Date.now()), "device");
    }
    for (const event of lost) {
      table("events").put(event, key_of(event));
      table("unsent").put({ refused: "" }, key_of(event));
    }
    const fresh = (await asked(facts.get("rules"))) === rules;
    const sids = fresh ? lost.map((event) => event.sid) : await all_sids(table);
    for (const sid of new Set(sids)) await outline(table, sid);
    facts.put(rules, "rules");
  });
}

/** @param {(name: string) => IDBObjectStore} table @returns {Promise<string[]>} */
async function all_sids(table) {
  const keys = /** @type {Key[]} */ (
    /** @type {unknown} */ (await asked(table("events").getAllKeys()))
  );
  return keys.map(([sid]) => sid);
}

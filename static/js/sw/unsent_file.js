// A session with unsent entries as a file, one event a line. `lowside replay` reads it.

import { bare } from "./event_json.js";
import { asked, of_session, transact } from "./open_store.js";
import { copied, copies } from "./second_copy.js";

/** @typedef {import("./event_json.js").EventJson} EventJson */

const PATH = /^\/unsent\/([0-9A-Z]{26})\.jsonl$/;

/** The file of `/unsent/SID.jsonl`: the store's events, and those that only the second copy has.
 * @param {string} path @param {Record<string, string>} headers */
export async function unsent_file(path, headers) {
  const sid = PATH.exec(path)?.[1];
  if (sid === undefined) return new Response("There is no such file.", { status: 404, headers });
  /** @type {Map<string, EventJson>} */
  const events = new Map();
  const keys = (await copied()).filter((key) => key[0] === sid);
  for (const event of [...(await copies(keys)), ...(await stored(sid))]) events.set(event.eid, event);
  const ordered = [...events.values()].sort((a, b) => (a.hlc < b.hlc ? -1 : a.hlc > b.hlc ? 1 : 0));
  return new Response(ordered.map((event) => JSON.stringify(bare(event)) + "\n").join(""), {
    headers: {
      ...headers,
      "Content-Type": "application/x-ndjson",
      "Content-Disposition": `attachment; filename="lowside-${sid}.jsonl"`,
      "Cache-Control": "no-store",
    },
  });
}

/** An empty list, not an error, when the store cannot be read. @param {string} sid
 * @returns {Promise<EventJson[]>} */
function stored(sid) {
  return transact(["events"], "readonly", (table) =>
    asked(table("events").getAll(of_session(sid))),
  ).catch(() => []);
}

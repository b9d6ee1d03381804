// A session with unsent entries as a file, one event a line. `lowside replay` reads it.

import { in_order } from "../core/session/events.js";
import { is_ulid } from "../core/session/ulids.js";
import { event_from, json_of } from "./event_json.js";
import { asked, of_session, transact } from "./open_store.js";
import { copied, copies } from "./second_copy.js";

/** @typedef {import("./event_json.js").EventJson} EventJson */

/** The file of `/unsent/SID.jsonl`: the store's events, and those that only the second copy has.
 * @param {string} path @param {Record<string, string>} headers */
export async function unsent_file(path, headers) {
  const sid = path.slice("/unsent/".length, -".jsonl".length);
  if (!is_ulid(sid)) return new Response("There is no such file.", { status: 404, headers });
  const keys = (await copied()).filter((key) => key[0] === sid);
  const events = [...(await copies(keys)), ...(await stored(sid))];
  const ordered = in_order(events.map(event_from));
  return new Response(ordered.map((event) => JSON.stringify(json_of(event)) + "\n").join(""), {
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

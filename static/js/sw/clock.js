// The phone's clocks and identifiers. Nothing else asks the machine for them.
// As src/lowside/web/clock.py on the server.

import { Moment } from "../core/session/events.js";
import { new_ulid as ulid_of } from "../core/session/ulids.js";

/** A ULID of this time [ms]. @param {number} at_ms */
export function new_ulid(at_ms) {
  return ulid_of(at_ms, Array.from(crypto.getRandomValues(new Uint8Array(16))));
}

/** One life of the worker. Compare `mono` only within it. A worker that was stopped and started
 * again is another run. Times between the two use the wall clock (`elapsed`). */
const RUN = new_ulid(Date.now());

/** Both clocks at once, with the offset from UTC [min]. */
export function now() {
  const at = Date.now();
  return new Moment(RUN, Math.floor(performance.now()), at, 0 - new Date(at).getTimezoneOffset());
}

// The phone's clocks and identifiers. Nothing else asks the machine for them.
// As src/lowside/web/clock.py on the server.

import { CROCKFORD_32, Moment } from "../core/session/events.js";

/** A ULID: 48 bits of time [ms], 80 random bits, 26 characters. @param {number} at_ms */
export function new_ulid(at_ms) {
  let time = "";
  let left = at_ms;
  for (let i = 0; i < 10; i += 1) {
    time = CROCKFORD_32[left % 32] + time;
    left = Math.floor(left / 32);
  }
  const random = crypto.getRandomValues(new Uint8Array(16));
  return time + Array.from(random, (byte) => CROCKFORD_32[byte % 32]).join("");
}

/** [ms since 1970-01-01 UTC] @param {string} ulid */
export function ulid_ms(ulid) {
  let ms = 0;
  for (const character of ulid.slice(0, 10)) ms = ms * 32 + CROCKFORD_32.indexOf(character);
  return ms;
}

/** One life of the worker. Compare `mono` only within it. A worker that was stopped and started
 * again is another run. Times between the two use the wall clock (`elapsed`). */
const RUN = new_ulid(Date.now());

/** Both clocks at once, with the offset from UTC [min]. */
export function now() {
  const at = Date.now();
  return new Moment(RUN, Math.floor(performance.now()), at, 0 - new Date(at).getTimezoneOffset());
}

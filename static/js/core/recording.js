// Twin of src/lowside/core/pages/recording.py: a filled-in form in, an event's content and the next page
// out.

import * as addresses from "./addresses.js";
import { AMEND, Address, CURRENT, FORM, STEP, TIMELINE, parse_path } from "./addresses.js";
import { Accepted, accept, accept_amendment } from "./entry.js";
import { Attempt } from "./page_forms.js";
import { strip } from "./python.js";
import { fold } from "./session.js";

/** @typedef {import("./events.js").Event} Event */
/** @typedef {import("./handbook.js").Handbook} Handbook */

export const SHOT_FORMS = ["shot_open", "shot_close"];

export const PROGRAM = "1";

export const HIDDEN = ["eid", "step", "back"];

/** Write this event, then show `next_path`. */
export class Record {
  /** @param {string} kind @param {Map<string, string>} data @param {string} next_path */
  constructor(kind, data, next_path) {
    this.kind = kind;
    this.data = data;
    this.next_path = next_path;
  }
}

/** The same form was sent before: nothing to write, show `next_path`. */
export class AlreadyRecorded {
  /** @param {string} next_path */
  constructor(next_path) {
    this.next_path = next_path;
  }
}

/** Write nothing; show `address` again with everything typed and what is wrong. */
export class Refusal {
  /** @param {Address} address @param {Attempt} attempt */
  constructor(address, attempt) {
    this.address = address;
    this.attempt = attempt;
  }
}

/** Decide what a posted form becomes.
 * @param {readonly Event[]} events @param {Address} address @param {Map<string, string>} typed
 * @param {Handbook} handbook @returns {Record | AlreadyRecorded | Refusal} */
export function record_form(events, address, typed, handbook) {
  const state = fold(events, handbook);
  let name = address.about;
  let accepted;
  if (address.page === AMEND) {
    accepted = accept_amendment(state, address.about, typed, handbook);
    name = "amend";
  } else {
    accepted = accept(state, address.about, typed, handbook);
  }
  const earlier = _with_eid(events, typed.get("eid") ?? "");
  if (earlier !== null && _says_the_same(earlier, typed)) {
    return new AlreadyRecorded(_next_path(address, typed));
  }
  if (!(accepted instanceof Accepted)) {
    const attempt = new Attempt(name, typed, accepted.problems, accepted.message);
    return new Refusal(_address_again(address, typed), attempt);
  }
  if (earlier !== null) {
    const message =
      "This was saved before with other values. Save again to add what it says now.";
    return new Refusal(
      _address_again(address, typed),
      new Attempt(name, typed, new Map(), message),
    );
  }
  return new Record(accepted.kind, accepted.data, _next_path(address, typed));
}

/** Data of a session's first event, or `null` when it names no known procedure.
 * @param {Map<string, string>} typed @param {Handbook} handbook
 * @returns {Map<string, string> | null} */
export function start_data(typed, handbook) {
  const procedure = typed.get("procedure") ?? "";
  if (!handbook.procedures.has(procedure)) {
    return null;
  }
  return new Map([
    ["procedure", procedure],
    ["tables", handbook.version],
    ["rules", PROGRAM],
  ]);
}

/** @param {readonly Event[]} events @param {string} eid @returns {Event | null} */
function _with_eid(events, eid) {
  for (const event of events) {
    if (event.eid === eid) {
      return event;
    }
  }
  return null;
}

/** @param {Event} earlier @param {Map<string, string>} typed */
function _says_the_same(earlier, typed) {
  for (const [name, text] of earlier.data) {
    if (name !== "target" && (typed.get(name) ?? "") !== text) {
      return false;
    }
  }
  for (const [name, text] of typed) {
    const ignored = HIDDEN.includes(name) || name.endsWith("_unit");
    if (!ignored && strip(text) !== "" && !earlier.data.has(name)) {
      return false;
    }
  }
  return true;
}

/** The page a refused form came from. @param {Address} address @param {Map<string, string>} typed */
function _address_again(address, typed) {
  if (address.page === AMEND) {
    return address;
  }
  if (SHOT_FORMS.includes(address.about)) {
    return new Address(CURRENT, address.sid);
  }
  const step = typed.get("step") ?? "";
  if (step !== "") {
    return new Address(STEP, address.sid, step);
  }
  if (address.about === "void") {
    return new Address(TIMELINE, address.sid);
  }
  return new Address(FORM, address.sid, address.about);
}

/** @param {Address} address @param {Map<string, string>} typed */
function _next_path(address, typed) {
  if (address.page === AMEND) {
    return addresses.timeline(address.sid);
  }
  if ((typed.get("step") ?? "") !== "") {
    return addresses.current(address.sid);
  }
  const back = parse_path(typed.get("back") ?? "");
  if (back !== null && back.sid === address.sid) {
    return addresses.path(back);
  }
  return addresses.current(address.sid);
}

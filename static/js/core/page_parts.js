// Twin of src/lowside/core/pages/parts.py: what every page of a session carries.

import * as addresses from "./addresses.js";
import { CURRENT } from "./addresses.js";
import * as gate from "./gate.js";
import { nth_eid, small_form } from "./page_forms.js";
import { NEW_SESSION, unit_name } from "./page_home.js";
import { ticket_number } from "./wording.js";

/** @typedef {import("./addresses.js").Address} Address */
/** @typedef {import("./state.js").State} State */

export const ALWAYS_SHOWN = [
  "stopped",
  "wrong_refrigerant",
  "reading_stop",
  "leaking",
  "mixed_refrigerant",
];

export const STOP_FORM = 1;

/** The strip on top: which unit, which refrigerant, which ticket. @param {State} state */
export function head(state) {
  return {
    home: addresses.home(),
    where: state.job !== null ? unit_name(state) : NEW_SESSION,
    refrigerant: state.unit_texts.get("refrigerant") ?? "",
    practice: state.practice,
    ticket: ticket_number(state.sid),
  };
}

/** What must not be overlooked on any page.
 * @param {State} state */
export function alerts(state) {
  if (state.closed !== null) {
    return [];
  }
  const shown = [];
  for (const block of gate.blocks(state)) {
    if (ALWAYS_SHOWN.includes(block.code)) {
      shown.push(alert("stop", "Stop.", block.sentence, block.cure));
    }
  }
  return shown;
}

/** One alert: `level` is stop or warn.
 * @param {string} level @param {string} word @param {string} text @param {string} [cure] */
export function alert(level, word, text, cure = "") {
  return { level, word, text, cure };
}

/** Links and the stop button, on every page of an open session.
 * @param {State} state @param {Address} address @param {string} fresh */
export function tools(state, address, fresh) {
  let stop = null;
  if (state.closed === null) {
    let back = addresses.path(address);
    if (address.page !== CURRENT && address.page !== addresses.STEP) {
      back = addresses.current(state.sid);
    }
    const name = state.running ? "system_stopped" : "system_started";
    stop = small_form(state.sid, name, nth_eid(fresh, STOP_FORM), "", back);
  }
  return {
    stop,
    reading: addresses.form(state.sid, "reading"),
    note: addresses.form(state.sid, "note"),
    timeline: addresses.timeline(state.sid),
    open: state.closed === null,
  };
}

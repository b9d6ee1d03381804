// Twin of src/lowside/core/pages/home.py: open sessions to go on with, and the start of a new one.

import * as addresses from "./addresses.js";
import { nth_eid } from "./page_forms.js";
import { open_step } from "./procedure.js";
import { day, day_and_time } from "./wording.js";

/** @typedef {import("./handbook.js").Handbook} Handbook */
/** @typedef {import("./state.js").State} State */

export const NEW_SESSION = "New session";

/** Context of `field/home.html`; `states` newest first. Practice has its own first page.
 * @param {readonly State[]} states @param {Handbook} handbook @param {string} fresh */
export function home_context(states, handbook, fresh) {
  const open_slips = [];
  const closed_slips = [];
  for (const state of states) {
    if (state.practice) {
      continue;
    }
    if (state.closed === null) {
      open_slips.push({
        href: addresses.current(state.sid),
        title: unit_name(state),
        line: _line(state),
        step: _step_title(state, handbook),
      });
    } else {
      closed_slips.push({
        href: addresses.ticket(state.sid),
        title: unit_name(state),
        line: _line(state),
      });
    }
  }
  return {
    title: "Sessions",
    page: "home",
    heading: "Charging sessions",
    open: open_slips,
    closed: closed_slips,
    practice: addresses.PRACTICE,
    start: {
      eid: nth_eid(fresh, 1),
      sid: nth_eid(fresh, 2),
      procedures: [...handbook.procedures.values()]
        .filter((procedure) => !procedure.retired)
        .map((procedure) => ({ value: procedure.id, label: procedure.title })),
    },
  };
}

/** How lists and headings call a session. @param {State} state */
export function unit_name(state) {
  if (state.job === null) {
    return NEW_SESSION;
  }
  return state.job.unit_label + ", " + state.job.site;
}

/** @param {State} state */
function _line(state) {
  if (state.started === null) {
    return "Start not known";
  }
  let words = day_and_time(state.started);
  if (state.closed !== null) {
    words = "Closed " + day(state.closed);
  }
  const refrigerant = state.unit_texts.get("refrigerant") ?? "";
  if (refrigerant !== "") {
    words = words + " · " + refrigerant;
  }
  return words;
}

/** @param {State} state @param {Handbook} handbook */
function _step_title(state, handbook) {
  const procedure = handbook.procedures.get(state.procedure);
  if (procedure === undefined) {
    return "Open";
  }
  const step = open_step(procedure, state.done);
  return step !== null ? step.title : "Ready to close";
}

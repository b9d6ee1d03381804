// Twin of src/lowside/core/pages/step.py: a step's page.

import * as addresses from "./addresses.js";
import { elapsed } from "./events.js";
import { facts_for, findings_for, warnings_for } from "./page_facts.js";
import { figures_of } from "./page_figures.js";
import { full_form, nth_eid, small_form } from "./page_forms.js";
import {
  conditions_of,
  hoses_of_step,
  picture_of_step,
  size_words,
  with_hoses,
} from "./page_hoses.js";
import { alert } from "./page_parts.js";
import {
  CHARGE_PAGE,
  cautions_of,
  neighbours,
  open_step,
  position,
  steps_of_stage,
} from "./procedure.js";
import { int, last } from "./python.js";
import { latest_reading } from "./state.js";
import { clock_time, timer } from "./wording.js";

/** @typedef {import("./events.js").Moment} Moment */
/** @typedef {import("./handbook.js").Handbook} Handbook */
/** @typedef {import("./hoses.js").Conditions} Conditions */
/** @typedef {import("./ledger.js").CylinderUse} CylinderUse */
/** @typedef {import("./page_forms.js").Attempt} Attempt */
/** @typedef {import("./procedure.js").Procedure} Procedure */
/** @typedef {import("./procedure.js").Step} Step */
/** @typedef {import("./state.js").State} State */
/** @typedef {import("./unit_choice.js").UnitChoice} UnitChoice */

export const STEP_FORM = 2;
export const DONE_FORM = 3;

export const FIGURE_FORMS = ["decide", "record"];

/** Part of the context of `field/step.html` (and of `field/charge.html`).
 * @param {State} state @param {Procedure} procedure @param {Step} step @param {Handbook} handbook
 * @param {Moment} now @param {string} fresh @param {CylinderUse[]} cylinder_uses
 * @param {Attempt | null} attempt @returns {Record<string, any>} */
export function step_context(
  state,
  procedure,
  step,
  handbook,
  now,
  fresh,
  cylinder_uses,
  attempt,
) {
  const conditions = with_hoses(procedure, step) ? conditions_of(state, handbook) : null;
  const latest = latest_reading(state);
  /** @type {Record<string, any>[]} */
  let figures = [];
  if (FIGURE_FORMS.includes(step.form) && latest !== null) {
    figures = figures_of(state, latest);
  }
  let form = null;
  let done_form = null;
  if (state.closed === null && step.form !== "") {
    const back = addresses.step(state.sid, step.id);
    const eid = nth_eid(fresh, STEP_FORM);
    form = full_form(state, handbook, step.form, eid, step.id, back, attempt);
  } else if (state.closed === null && !state.done.has(step.id)) {
    done_form = small_form(state.sid, "done", nth_eid(fresh, DONE_FORM), step.id);
  }
  return {
    title: step.title,
    page: "step",
    step: _step(state, procedure, step, handbook),
    facts: facts_for(state, step.form, cylinder_uses),
    figures,
    findings_now: findings_for(state, step.form, handbook),
    form,
    done_form,
    wait: _wait(state, step, now),
    links: {
      units: addresses.form(state.sid, "units"),
      units_line: units_line(state.units),
    },
    hoses: _hoses(state, procedure, step, conditions),
    hoses_href: conditions !== null ? addresses.hoses(state.sid, step.id) : "",
    step_alerts: _step_alerts(state, step, cylinder_uses, attempt),
  };
}

/** Part of the context of `field/hoses.html`; `null` where there is nothing to draw.
 * @param {State} state @param {Procedure} procedure @param {Step} step @param {Handbook} handbook
 * @returns {Record<string, any> | null} */
export function hoses_context(state, procedure, step, handbook) {
  const conditions = conditions_of(state, handbook);
  if (conditions === null) {
    return null;
  }
  const panel = hoses_of_step(procedure, conditions, step, size_words(state));
  if (panel === null) {
    return null;
  }
  return {
    title: "Hoses: " + step.title,
    page: "hoses",
    heading: step.title,
    hoses: panel,
    back: addresses.step(state.sid, step.id),
  };
}

/** The hoses' picture, where the step is one at the hoses and their contents can be known.
 * @param {State} state @param {Procedure} procedure @param {Step} step
 * @param {Conditions | null} conditions */
function _hoses(state, procedure, step, conditions) {
  if (conditions === null || step.page === CHARGE_PAGE) {
    return null;
  }
  return picture_of_step(procedure, conditions, step, size_words(state));
}

/** `psig, °F, lb+oz, ft`. @param {UnitChoice} choice */
export function units_line(choice) {
  return [choice.pressure, choice.temperature, choice.mass, choice.length].join(", ");
}

/** @param {State} state @param {Procedure} procedure @param {Step} step @param {Handbook} handbook */
function _step(state, procedure, step, handbook) {
  const [before, after] = neighbours(procedure, step.id);
  const of_stage = steps_of_stage(procedure, step.stage);
  const number = of_stage.findIndex((other) => other.id === step.id) + 1;
  const first_open = open_step(procedure, state.done);
  const ahead =
    first_open !== null && position(procedure, step.id) > position(procedure, first_open.id);
  const refrigerant = handbook.refrigerants.get(state.unit_texts.get("refrigerant") ?? "");
  const safety_class = refrigerant !== undefined ? refrigerant.safety_class : "";
  return {
    id: step.id,
    title: step.title,
    progress: step.stage + ", step " + String(number) + " of " + String(of_stage.length),
    done_line: _done_line(state, step),
    ahead: ahead && first_open !== null ? "“" + first_open.title + "” is not done yet." : "",
    ahead_href: addresses.current(state.sid),
    cautions: cautions_of(step, handbook.cautions, safety_class).map((caution) => ({
      title: caution.title,
      text: caution.text,
    })),
    do: [...step.do],
    why: step.why,
    done_when: step.done_when,
    previous: before !== null ? addresses.step(state.sid, before.id) : "",
    previous_title: before !== null ? before.title : "",
    next: after !== null ? addresses.step(state.sid, after.id) : "",
    next_title: after !== null ? after.title : "",
  };
}

/** @param {State} state @param {Step} step */
function _done_line(state, step) {
  const eid = state.done.get(step.id) ?? "";
  for (const entry of state.entries) {
    if (entry.eid === eid && eid !== "") {
      return "Done " + clock_time(entry.moment);
    }
  }
  return "";
}

/** @param {State} state @param {Step} step @param {CylinderUse[]} cylinder_uses
 * @param {Attempt | null} attempt */
function _step_alerts(state, step, cylinder_uses, attempt) {
  const found = [];
  if (
    attempt !== null &&
    ["done", "system_stopped", "system_started"].includes(attempt.form)
  ) {
    found.push(alert("warn", "Not saved.", attempt.message));
  }
  for (const [word, sentence] of warnings_for(state, step.form, cylinder_uses)) {
    found.push(alert("warn", word, sentence));
  }
  return found;
}

/** Beside the final reading: how long ago the last shot ended.
 * @param {State} state @param {Step} step @param {Moment} now */
function _wait(state, step, now) {
  if (step.form !== "final_reading" || state.shots.length === 0) {
    return null;
  }
  const closed = last(state.shots).closed;
  if (closed === null) {
    return null;
  }
  const seconds = elapsed(closed, now).seconds;
  return {
    label: "Since the last shot",
    elapsed: int(seconds),
    text: timer(seconds),
  };
}

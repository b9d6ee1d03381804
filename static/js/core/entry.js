// Twin of src/lowside/core/session/entry.py: every form passes here before it becomes an event.

import { ADD, reason } from "./charge.js";
import { amend_data } from "./corrections.js";
import * as cylinders from "./cylinder.js";
import { FORM_OF_KIND, FORMS, REFRIGERANT, read_fields, typed_names } from "./forms.js";
import * as gate from "./gate.js";
import { contradictions } from "./plausibility.js";
import { step_by_id } from "./procedure.js";
import { item, set_default, strip } from "./python.js";
import { reading_of } from "./session.js";
import { STANDS, added_kg, latest_reading, open_shot, taken_out } from "./state.js";
import * as system from "./system.js";
import { label } from "./unit_choice.js";

/** @typedef {import("./forms.js").Fields} Fields */
/** @typedef {import("./forms.js").Form} Form */
/** @typedef {import("./handbook.js").Handbook} Handbook */
/** @typedef {import("./state.js").Entry} Entry */
/** @typedef {import("./state.js").State} State */
/** @typedef {import("./unit_choice.js").UnitChoice} UnitChoice */

/** Ready to become an event. */
export class Accepted {
  /** @param {string} kind @param {Map<string, string>} data */
  constructor(kind, data) {
    this.kind = kind;
    this.data = data;
  }
}

/** Sentences by field name; `message` is for the form as a whole. */
export class Refused {
  /** @param {Map<string, string>} problems @param {string} [message] */
  constructor(problems, message = "") {
    this.problems = problems;
    this.message = message;
  }
}

/** Check one filled-in form against the session so far.
 * @param {State} state @param {string} form_name @param {Map<string, string>} typed
 * @param {Handbook} handbook @returns {Accepted | Refused} */
export function accept(state, form_name, typed, handbook) {
  const form = FORMS.get(form_name);
  if (form === undefined) {
    return new Refused(new Map(), "This program has no such form. Go back to the session.");
  }
  if (state.closed !== null && !["note", "units", "void"].includes(form_name)) {
    return new Refused(new Map(), "This session is closed. Add a note, or start a new session.");
  }
  const stray = _check_step(state, form, typed, handbook);
  if (stray !== "") {
    return new Refused(new Map(), stray);
  }
  const [problems, message] = _check(state, form, typed, handbook);
  if (problems.size > 0 || message !== "") {
    return new Refused(problems, message);
  }
  return new Accepted(form.kind, _data(form, typed));
}

/** Check the corrected data of an entry that already stands.
 * @param {State} state @param {string} eid @param {Map<string, string>} typed
 * @param {Handbook} handbook @returns {Accepted | Refused} */
export function accept_amendment(state, eid, typed, handbook) {
  const entry = find_entry(state, eid);
  if (entry === null || !FORM_OF_KIND.has(entry.kind)) {
    return new Refused(new Map(), "There is no such entry to correct.");
  }
  if (entry.status !== STANDS) {
    return new Refused(new Map(), "That entry was struck out. Restore it first.");
  }
  const form = item(FORM_OF_KIND, entry.kind);
  const fields = read_fields(form, typed, state.units);
  const problems = new Map(fields.problems);
  const message = _check_values(state, form, fields, handbook, problems);
  if (problems.size > 0 || message !== "") {
    return new Refused(problems, message);
  }
  const data = _data(form, typed);
  if (entry.data.has("step")) {
    data.set("step", item(entry.data, "step"));
  }
  return new Accepted("event.amended", amend_data(eid, data));
}

/** The entry with this eid. @param {State} state @param {string} eid @returns {Entry | null} */
export function find_entry(state, eid) {
  for (const entry of state.entries) {
    if (entry.eid === eid) {
      return entry;
    }
  }
  return null;
}

/** What is kept: as typed, and units only beside a number that is there.
 * @param {Form} form @param {Map<string, string>} typed @returns {Map<string, string>} */
function _data(form, typed) {
  /** @type {Map<string, string>} */
  const data = new Map();
  for (const name of typed_names(form)) {
    const text = typed.get(name) ?? "";
    if (strip(text) !== "") {
      data.set(name, text);
    }
  }
  for (const field of form.fields) {
    if (!data.has(field.name) && !data.has(field.name + "_oz")) {
      data.delete(field.name + "_unit");
    }
  }
  const step = typed.get("step") ?? "";
  if (step !== "") {
    data.set("step", step);
  }
  return data;
}

/** A step is done by its own form alone, and one without a form by “done”.
 * @param {State} state @param {Form} form @param {Map<string, string>} typed
 * @param {Handbook} handbook @returns {string} */
function _check_step(state, form, typed, handbook) {
  const step_id = typed.get("step") ?? "";
  const procedure = handbook.procedures.get(state.procedure);
  if (step_id === "" || procedure === undefined) {
    return "";
  }
  const step = step_by_id(procedure, step_id);
  if (step === null) {
    return "This session has no such step. Open the session and try again.";
  }
  if (form.name !== (step.form !== "" ? step.form : "done")) {
    return `“${step.title}” is not done with this form. Open the session and try again.`;
  }
  return "";
}

/** @param {State} state @param {Form} form @param {Map<string, string>} typed
 * @param {Handbook} handbook @returns {[Map<string, string>, string]} */
function _check(state, form, typed, handbook) {
  const fields = read_fields(form, typed, state.units);
  const problems = new Map(fields.problems);
  let message = _check_values(state, form, fields, handbook, problems);
  if (form.name === "decide") {
    message = _check_decision(state, fields, problems);
  } else if (form.name === "shot_open") {
    message = _check_shot_open(state);
  } else if (form.name === "shot_close") {
    message = _check_shot_close(state, fields, problems);
  } else if (form.name === "done") {
    message = _check_done(state, typed);
  } else if (form.name === "reconcile") {
    _check_reconcile(state, fields, problems);
  } else if (form.name === "record") {
    message = _check_record(state);
  } else if (form.name === "void") {
    message = _check_void(state, fields);
  }
  return [problems, message];
}

/** What must hold whenever it is said: for a new entry and for the correction of an old one.
 * @param {State} state @param {Form} form @param {Fields} fields @param {Handbook} handbook
 * @param {Map<string, string>} problems @returns {string} */
function _check_values(state, form, fields, handbook, problems) {
  _check_refrigerants(form, fields, handbook, problems);
  if (form.name === "target") {
    _check_target(state, fields, problems);
  } else if (form.name === "tare") {
    _check_scale(state, fields, problems);
  } else if (form.name === "reading" || form.name === "final_reading") {
    return _check_reading(state, fields, handbook, problems);
  } else if (form.name === "start_weight") {
    _check_start_weight(state, fields, problems);
  } else if (form.name === "end_weight") {
    _check_end_weight(state, fields, problems);
  } else if (form.name === "cylinder") {
    _check_tare(state, fields, problems);
  }
  return "";
}

/** @param {Form} form @param {Fields} fields @param {Handbook} handbook
 * @param {Map<string, string>} problems */
function _check_refrigerants(form, fields, handbook, problems) {
  for (const field of form.fields) {
    const name = fields.texts.get(field.name);
    if (field.kind === REFRIGERANT && name !== undefined && !handbook.refrigerants.has(name)) {
      problems.set(
        field.name,
        `“${name}” has no property table here, so no number could be trusted. ` +
          "Choose from the list.",
      );
    }
  }
}

/** @param {State} state @param {Fields} fields @param {Map<string, string>} problems */
function _check_target(state, fields, problems) {
  const method = fields.texts.get("method") ?? "";
  if (method === system.BY_SUBCOOLING && !fields.numbers.has("maker_subcooling")) {
    set_default(
      problems,
      "maker_subcooling",
      "This method needs the maker’s subcooling. Read it off the nameplate, or choose " +
        "another method.",
    );
  }
  if (method === system.BY_SUPERHEAT && !fields.numbers.has("maker_superheat")) {
    set_default(
      problems,
      "maker_superheat",
      "This method needs the maker’s superheat. Read it off the service papers, or choose " +
        "another method.",
    );
  }
  const metering = state.unit_texts.get("metering") ?? "";
  if (method === system.BY_CHART && (metering === system.TXV || metering === system.EEV)) {
    problems.set(
      "method",
      "An expansion valve holds superheat by itself, so the chart says nothing about its " +
        "charge. Use the maker’s subcooling.",
    );
  }
  if (method === system.BY_SUBCOOLING && metering === system.FIXED) {
    problems.set(
      "method",
      "A fixed orifice is charged by superheat: the maker’s, or the chart by outdoor and " +
        "indoor air.",
    );
  }
}

/** @param {State} _state @param {Fields} fields @param {Map<string, string>} problems */
function _check_scale(_state, fields, problems) {
  const resolution = fields.numbers.get("scale_resolution");
  if (resolution !== undefined && resolution <= 0.0) {
    problems.set(
      "scale_resolution",
      "The smallest step cannot be zero. Look at the last digit.",
    );
  }
}

/** @param {State} state @param {Fields} fields @param {Handbook} handbook
 * @param {Map<string, string>} problems */
function _check_reading(state, fields, handbook, problems) {
  if (fields.numbers.size === 0 && fields.problems.size === 0) {
    return "Nothing entered. Type at least one pressure with its line temperature.";
  }
  if (state.system === null) {
    return "Save the unit and its target first; a reading means nothing without them.";
  }
  const reading = reading_of(fields.numbers, state.system.atmosphere_pa);
  for (const [name, sentence] of contradictions(state.system, reading, handbook, state.units)) {
    set_default(problems, name, sentence);
  }
  return "";
}

/** @param {State} state @param {Fields} fields @param {Map<string, string>} problems */
function _check_start_weight(state, fields, problems) {
  const gross = fields.numbers.get("gross");
  if (gross !== undefined && state.cylinder !== null && gross < state.cylinder.tare_kg) {
    problems.set("gross", _below_tare(gross, state.cylinder.tare_kg, state.units));
  }
}

/** @param {State} state @param {Fields} fields @param {Map<string, string>} problems */
function _check_tare(state, fields, problems) {
  const tare = fields.numbers.get("cylinder_tare");
  const start = state.start_weight;
  if (tare !== undefined && start !== null && tare > start.kg) {
    problems.set(
      "cylinder_tare",
      `More than the whole cylinder weighed at the start (${label("mass", start.kg, state.units)}). ` +
        "Read the stamp again, or correct the start weight on the timeline.",
    );
  }
}

/** @param {State} state @param {Fields} fields @param {Map<string, string>} problems */
function _check_end_weight(state, fields, problems) {
  const gross = fields.numbers.get("gross");
  if (gross === undefined) {
    return;
  }
  if (state.cylinder !== null && gross < state.cylinder.tare_kg) {
    problems.set("gross", _below_tare(gross, state.cylinder.tare_kg, state.units));
  } else if (state.start_weight !== null) {
    const allowance = state.scale !== null ? 2.0 * state.scale.resolution_kg : 0.0;
    if (gross > state.start_weight.kg + allowance) {
      const start = label("mass", state.start_weight.kg, state.units);
      problems.set(
        "gross",
        `More than at the start (${start}). A cylinder cannot gain: weigh it bare, or ` +
          "correct the start weight on the timeline.",
      );
    }
  }
}

/** @param {number} gross @param {number} tare @param {UnitChoice} choice */
function _below_tare(gross, tare, choice) {
  return (
    `${label("mass", gross, choice)} is less than the empty cylinder ` +
    `(${label("mass", tare, choice)}). Check the scale, its zero and the tare.`
  );
}

/** @param {State} state @param {Fields} fields @param {Map<string, string>} problems */
function _check_decision(state, fields, problems) {
  if (fields.texts.get("decision") !== "add") {
    return "";
  }
  const hard = gate
    .blocks(state)
    .filter((block) => block.code !== "undecided" && block.code !== "leave");
  if (hard.length > 0) {
    return `Not now: ${hard[0].sentence} ${hard[0].cure}`;
  }
  const latest = latest_reading(state);
  if (latest === null || latest.assessment === null) {
    return "";
  }
  if (latest.assessment.verdict !== ADD && !fields.texts.has("reason")) {
    problems.set(
      "reason",
      `The readings do not ask for charge: ${reason(latest.assessment, state.units)} ` +
        "Say why you add all the same.",
    );
  }
  return "";
}

/** @param {State} state */
function _check_shot_open(state) {
  if (open_shot(state) !== null) {
    return "A shot is already open. Shut the valve and end it first.";
  }
  const hard = gate.blocks(state);
  if (hard.length > 0) {
    return `${hard[0].sentence} ${hard[0].cure}`;
  }
  return "";
}

/** @param {State} state @param {Fields} fields @param {Map<string, string>} problems */
function _check_shot_close(state, fields, problems) {
  if (open_shot(state) === null) {
    return "No shot is open. If you did open the valve, note it and take a scale reading.";
  }
  const after = fields.numbers.get("scale_after");
  if (after === undefined || state.scale === null || state.shot_before_kg === null) {
    return "";
  }
  const amount = taken_out(state.scale.mode, state.shot_before_kg, after);
  if (amount < -state.scale.resolution_kg) {
    const before = label("mass", state.shot_before_kg, state.units);
    problems.set(
      "scale_after",
      `The cylinder would have gained weight (it read ${before} before). Check the scale ` +
        "and type what it shows.",
    );
    return "";
  }
  if (state.start_weight !== null && state.cylinder !== null) {
    const left =
      cylinders.net_kg(state.start_weight.kg, state.cylinder.tare_kg) - added_kg(state);
    if (amount > left + 2.0 * state.scale.resolution_kg) {
      problems.set(
        "scale_after",
        `That is more than the cylinder held (${label("mass", left, state.units)} left). ` +
          "Check the scale and the unit.",
      );
    }
  }
  return "";
}

/** @param {State} state @param {Map<string, string>} typed */
function _check_done(state, typed) {
  if ((typed.get("step") ?? "") === "") {
    return "Which step is done was not sent. Go back and try again.";
  }
  if (open_shot(state) !== null) {
    return "A shot is still open. Shut the valve and end it first.";
  }
  return "";
}

/** @param {State} state @param {Fields} fields @param {Map<string, string>} problems */
function _check_reconcile(state, fields, problems) {
  if (cylinders.reconcile_session(state).disagrees && !fields.texts.has("explanation")) {
    problems.set(
      "explanation",
      "The weights do not agree. Write what explains it, even if that is “unknown”.",
    );
  }
}

/** @param {State} state */
function _check_record(state) {
  if (open_shot(state) !== null) {
    return "A shot is still open. Shut the valve and end it first.";
  }
  if (state.start_weight !== null && state.end_weight === null && state.explanation === "") {
    return (
      "The end weight is missing. Weigh the cylinder, or explain why it cannot be weighed."
    );
  }
  return "";
}

/** @param {State} state @param {Fields} fields */
function _check_void(state, fields) {
  const entry = find_entry(state, fields.texts.get("target") ?? "");
  if (entry === null) {
    return "There is no such entry to strike out.";
  }
  if (entry.status !== STANDS) {
    return "That entry is already struck out.";
  }
  if (entry.kind === "session.started") {
    return "The start of a session cannot be struck out.";
  }
  return "";
}

// Twin of src/lowside/core/pages/form.py: a form as the templates show it.

import * as addresses from "./addresses.js";
import { CHOICE, FORMS, NUMBER, REFRIGERANT } from "./forms.js";
import { floor_div, item, len, mod } from "./python.js";
import { STANDS } from "./state.js";
import { BY_CHART } from "./system.js";
import { label, small_mass_unit, unit_for } from "./unit_choice.js";

/** @typedef {import("./forms.js").Choices} Choices */
/** @typedef {import("./forms.js").Field} Field */
/** @typedef {import("./handbook.js").Handbook} Handbook */
/** @typedef {import("./state.js").State} State */

const _ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";

/** @type {Map<string, string[]>} */
export const MORE_FIELDS = new Map([
  ["unit", ["line_length", "line_included", "line_adder", "high_side_limit"]],
  ["cylinder", ["cylinder_pressure", "cylinder_temperature", "hose_length", "hose_bore"]],
  [
    "reading",
    [
      "outdoor_dry_bulb",
      "return_dry_bulb",
      "return_wet_bulb",
      "return_humidity",
      "supply_dry_bulb",
      "compressor_amps",
    ],
  ],
]);

/** @type {Map<string, string>} */
export const MORE_LABELS = new Map([
  ["unit", "Line set and pressure limit"],
  ["cylinder", "Pressure check, size of the hoses"],
  ["reading", "Air temperatures and current"],
]);

export const CHART_FIELDS = [
  "outdoor_dry_bulb",
  "return_dry_bulb",
  "return_wet_bulb",
  "return_humidity",
];

export const ONE_AT_A_TIME = ["reading", "final_reading", "note", "shot_open", "shot_close"];

export const LONG_TEXTS = ["text", "explanation"];

/** A form that was refused: what was typed, and what is wrong with it. */
export class Attempt {
  /** @param {string} form @param {Map<string, string>} typed @param {Map<string, string>} problems
   * @param {string} [message] */
  constructor(form, typed, problems, message = "") {
    this.form = form;
    this.typed = typed;
    this.problems = problems;
    this.message = message;
  }
}

/** The n-th event id made from one fresh ULID: its last three characters count the forms.
 * @param {string} fresh @param {number} n */
export function nth_eid(fresh, n) {
  return (
    fresh.slice(0, 23) +
    _ALPHABET[mod(floor_div(n, 1024), 32)] +
    _ALPHABET[mod(floor_div(n, 32), 32)] +
    _ALPHABET[mod(n, 32)]
  );
}

/** A form that is only its button.
 * @param {string} sid @param {string} form_name @param {string} eid @param {string} [step]
 * @param {string} [back] @param {string} [button] */
export function small_form(sid, form_name, eid, step = "", back = "", button = "") {
  return {
    action: addresses.form(sid, form_name),
    eid,
    step,
    back,
    button: button !== "" ? button : item(FORMS, form_name).button,
  };
}

/** A form with its fields, filled with what was typed, else with what stands, else with suggestions.
 * @param {State} state @param {Handbook} handbook @param {string} form_name @param {string} eid
 * @param {string} step @param {string} back @param {Attempt | null} attempt */
export function full_form(state, handbook, form_name, eid, step, back, attempt) {
  const form = item(FORMS, form_name);
  const tried = attempt !== null && attempt.form === form_name ? attempt : null;
  /** @type {Map<string, string>} */
  let known = new Map();
  let suggest = false;
  if (tried !== null) {
    known = tried.typed;
  } else if (!ONE_AT_A_TIME.includes(form_name)) {
    const standing = _standing(state, form.kind);
    known = standing !== null ? standing : _in_use(state, form_name);
    suggest = standing === null;
  }
  const context = filled(state, handbook, form_name, form.fields, known, suggest, tried);
  context.action = addresses.form(state.sid, form_name);
  context.eid = eid;
  context.step = step;
  context.back = back;
  context.draft = state.sid + "/" + form_name + "/" + step;
  context.button = form.button;
  return context;
}

/** The fields of a form, those folded away apart.
 * @param {State} state @param {Handbook} handbook @param {string} form_name
 * @param {readonly Field[]} fields @param {Map<string, string>} known @param {boolean} suggest
 * @param {Attempt | null} tried @returns {Record<string, any>} */
export function filled(state, handbook, form_name, fields, known, suggest, tried) {
  const problems = tried !== null ? tried.problems : new Map();
  const folded_away = _folded_away(state, form_name);
  const shown = [];
  const more = [];
  let more_open = false;
  for (const field of fields) {
    const problem = problems.get(field.name) ?? "";
    const described = _field(state, handbook, field, known, suggest, problem);
    if (folded_away.includes(field.name)) {
      more.push(described);
      more_open = more_open || described.value !== "" || described.problem !== "";
    } else {
      shown.push(described);
    }
  }
  return {
    message: tried !== null ? tried.message : "",
    fields: shown,
    more,
    more_label: MORE_LABELS.get(_family(form_name)) ?? "",
    more_open,
  };
}

/** What holds although nobody entered it: the units a session starts with.
 * @param {State} state @param {string} form_name @returns {Map<string, string>} */
function _in_use(state, form_name) {
  if (form_name !== "units") {
    return new Map();
  }
  const choice = state.units;
  return new Map([
    ["pressure", choice.pressure],
    ["temperature", choice.temperature],
    ["mass", choice.mass],
    ["length", choice.length],
  ]);
}

/** The data of the last standing entry of a kind.
 * @param {State} state @param {string} kind @returns {Map<string, string> | null} */
function _standing(state, kind) {
  /** @type {Map<string, string> | null} */
  let found = null;
  for (const entry of state.entries) {
    if (entry.kind === kind && entry.status === STANDS) {
      found = entry.data;
    }
  }
  return found;
}

/** @param {string} form_name */
function _family(form_name) {
  return form_name === "final_reading" ? "reading" : form_name;
}

/** @param {State} state @param {string} form_name @returns {string[]} */
function _folded_away(state, form_name) {
  const names = MORE_FIELDS.get(_family(form_name)) ?? [];
  if (_family(form_name) !== "reading") {
    return names;
  }
  const by_chart = state.system !== null && state.system.method === BY_CHART;
  return names.filter((name) => !(by_chart && CHART_FIELDS.includes(name)));
}

/** @param {State} state @param {Handbook} handbook @param {Field} field
 * @param {Map<string, string>} known @param {boolean} suggest @param {string} problem */
function _field(state, handbook, field, known, suggest, problem) {
  const value = known.get(field.name) ?? (suggest ? field.suggestion : "");
  /** @type {Record<string, any>} */
  const described = {
    name: field.name,
    label: field.label,
    hint: _hint(state, field),
    required: field.required,
    problem,
    value,
    unit: "",
    ounces: "",
    choices: [],
    short: false,
  };
  if (field.kind === CHOICE) {
    described.kind = "choice";
    described.choices = _choices(field.choices, value);
    described.short = field.choices.every(([_, text]) => len(text) <= 12);
  } else if (field.kind === REFRIGERANT) {
    described.kind = "select";
    /** @type {Choices} */
    const names = [...handbook.refrigerants.keys()].map((name) => [name, name]);
    described.choices = _choices(names, value);
  } else if (field.kind === NUMBER) {
    const unit = known.get(field.name + "_unit") ?? "";
    described.unit = unit !== "" ? unit : _unit(state, field);
    described.kind = described.unit === "lb+oz" ? "mass2" : "number";
    described.ounces = known.get(field.name + "_oz") ?? "";
  } else {
    described.kind = LONG_TEXTS.includes(field.name) ? "long" : "text";
  }
  return described;
}

/** @param {Choices} choices @param {string} value */
function _choices(choices, value) {
  return choices.map(([code, text]) => ({ value: code, label: text, on: code === value }));
}

/** @param {State} state @param {Field} field */
function _unit(state, field) {
  if (field.name === "scale_resolution") {
    return small_mass_unit(state.units);
  }
  return unit_for(field.quantity, state.units);
}

/** The field's own hint; the scale and air temperatures also say what they showed last.
 * @param {State} state @param {Field} field */
function _hint(state, field) {
  if (field.name === "scale_before" && state.last_scale_kg !== null) {
    return "Leave empty if it still reads " + label("mass", state.last_scale_kg, state.units);
  }
  if (!item(MORE_FIELDS, "reading").includes(field.name)) {
    return field.hint;
  }
  let last = "";
  for (const entry of state.entries) {
    if (
      (entry.kind === "reading.taken" || entry.kind === "reading.final") &&
      entry.status === STANDS
    ) {
      const typed = entry.data.get(field.name) ?? "";
      if (typed !== "") {
        last = typed + " " + (entry.data.get(field.name + "_unit") ?? "");
      }
    }
  }
  if (last === "") {
    return field.hint;
  }
  if (field.hint === "") {
    return "Last time " + last;
  }
  return field.hint + ". Last time " + last;
}

// Twin of src/lowside/core/handbook/procedure.py: the steps of one session as data.

import { FORMS } from "./forms.js";
import { item } from "./python.js";

export const STAGES = ["Prepare", "Connect", "Measure", "Charge", "Close out", "Record"];

export const STEP_PAGE = "step";
export const CHARGE_PAGE = "charge";
export const PAGES = [STEP_PAGE, CHARGE_PAGE];

export const HOSE = "hose";
export const BODY = "body";
export const VOLUME_KINDS = [HOSE, BODY];

export const CYLINDER = "cylinder";
export const SUCTION = "suction";
export const LIQUID_LINE = "liquid_line";
export const OUTSIDE = "outside";
export const BOUNDARIES = [CYLINDER, SUCTION, LIQUID_LINE, OUTSIDE];

export const GATE = "gate";
export const HANDWHEEL = "handwheel";
export const NUT = "nut";
export const POSITION = "position";

export const OPEN = "open";
export const CLOSED = "closed";
export const TIGHT = "tight";
export const LOOSE = "loose";
export const OFF = "off";
export const UPRIGHT = "upright";
export const INVERTED = "inverted";

/** @type {Map<string, string[]>} */
export const SETTINGS_OF_KIND = new Map([
  [GATE, [OPEN, CLOSED]],
  [HANDWHEEL, [OPEN, CLOSED]],
  [NUT, [TIGHT, LOOSE, OFF]],
  [POSITION, [UPRIGHT, INVERTED]],
]);

/** A warning; `classes` are the safety classes it is shown for, empty: always. */
export class Caution {
  /** @param {string} code @param {string} title @param {string} text @param {string[]} [classes] */
  constructor(code, title, text, classes = []) {
    this.code = code;
    this.title = title;
    this.text = text;
    this.classes = classes;
  }
}

/** One move of the hand: set `valve` to `to`. */
export class Action {
  /** @param {string} valve @param {string} to */
  constructor(valve, to) {
    this.valve = valve;
    this.to = to;
  }
}

/** One screen. `settings` is how the named valves stand when the step is done. */
export class Step {
  /** @param {string} id @param {string} stage @param {string} title @param {string[]} do_
   * @param {string} why @param {string} done_when @param {string[]} cautions @param {string} form
   * @param {string} page @param {Map<string, string>} settings @param {Action[]} actions */
  constructor(id, stage, title, do_, why, done_when, cautions, form, page, settings, actions) {
    this.id = id;
    this.stage = stage;
    this.title = title;
    this.do = do_;
    this.why = why;
    this.done_when = done_when;
    this.cautions = cautions;
    this.form = form;
    this.page = page;
    this.settings = settings;
    this.actions = actions;
  }
}

/** A hose or a chamber of the manifold. */
export class Volume {
  /** @param {string} id @param {string} title @param {string} kind @param {string} colour */
  constructor(id, title, kind, colour) {
    this.id = id;
    this.title = title;
    this.kind = kind;
    this.colour = colour;
  }
}

/** Anything a hand sets. */
export class Valve {
  /** @param {string} id @param {string} title @param {string} kind @param {string} start
   * @param {string} [a] @param {string} [b] @param {string[]} [a_gates] @param {string[]} [b_gates]
   * @param {boolean} [self_closing] @param {boolean} [core] */
  constructor(
    id,
    title,
    kind,
    start,
    a = "",
    b = "",
    a_gates = [],
    b_gates = [],
    self_closing = false,
    core = false,
  ) {
    this.id = id;
    this.title = title;
    this.kind = kind;
    this.start = start;
    this.a = a;
    this.b = b;
    this.a_gates = a_gates;
    this.b_gates = b_gates;
    this.self_closing = self_closing;
    this.core = core;
  }
}

/** `volumes` and `valves` describe the hoses and the manifold before anything is connected. */
export class Procedure {
  /** @param {string} id @param {string} title @param {string} hardware @param {Step[]} steps
   * @param {Volume[]} volumes @param {Valve[]} valves @param {boolean} [retired] */
  constructor(id, title, hardware, steps, volumes, valves, retired = false) {
    this.id = id;
    this.title = title;
    this.hardware = hardware;
    this.steps = steps;
    this.volumes = volumes;
    this.valves = valves;
    this.retired = retired;
  }
}

/** The step, or `null` when the procedure has none of that name.
 * @param {Procedure} procedure @param {string} step_id @returns {Step | null} */
export function step_by_id(procedure, step_id) {
  for (const step of procedure.steps) {
    if (step.id === step_id) {
      return step;
    }
  }
  return null;
}

/** Index of the step, from 0; -1 when the procedure has none of that name.
 * @param {Procedure} procedure @param {string} step_id */
export function position(procedure, step_id) {
  for (let i = 0; i < procedure.steps.length; i += 1) {
    if (procedure.steps[i].id === step_id) {
      return i;
    }
  }
  return -1;
}

/** The first step not done, or `null` when all are.
 * @param {Procedure} procedure @param {Map<string, string>} done @returns {Step | null} */
export function open_step(procedure, done) {
  for (const step of procedure.steps) {
    if (!done.has(step.id)) {
      return step;
    }
  }
  return null;
}

/** The steps before and after this one.
 * @param {Procedure} procedure @param {string} step_id @returns {[Step | null, Step | null]} */
export function neighbours(procedure, step_id) {
  const at = position(procedure, step_id);
  const before = at > 0 ? procedure.steps[at - 1] : null;
  const after = 0 <= at && at < procedure.steps.length - 1 ? procedure.steps[at + 1] : null;
  return [before, after];
}

/** The steps of one stage, in order. @param {Procedure} procedure @param {string} stage */
export function steps_of_stage(procedure, stage) {
  return procedure.steps.filter((step) => step.stage === stage);
}

/** The valve, or `null` when this hardware has none of that name.
 * @param {Procedure} procedure @param {string} valve_id @returns {Valve | null} */
export function valve_by_id(procedure, valve_id) {
  for (const valve of procedure.valves) {
    if (valve.id === valve_id) {
      return valve;
    }
  }
  return null;
}

/** The step's cautions that apply to a refrigerant of this safety class (empty: unknown).
 * @param {Step} step @param {Map<string, Caution>} cautions @param {string} safety_class */
export function cautions_of(step, cautions, safety_class) {
  /** @type {Caution[]} */
  const shown = [];
  for (const code of step.cautions) {
    const caution = item(cautions, code);
    if (
      caution.classes.length === 0 ||
      safety_class === "" ||
      caution.classes.includes(safety_class)
    ) {
      shown.push(caution);
    }
  }
  return shown;
}

/** Cautions by code, in order.
 * @param {any} data @param {string} [source] @returns {Map<string, Caution>} */
export function cautions_from(data, source = "cautions") {
  /** @type {Map<string, Caution>} */
  const cautions = new Map();
  for (const [i, entry] of _list(data, "cautions", source).entries()) {
    const where = `${source}, caution ${i + 1}`;
    const code = _text(entry, "code", where);
    if (cautions.has(code)) {
      throw new Error(`${where}: code “${code}” is used twice`);
    }
    cautions.set(
      code,
      new Caution(
        code,
        _text(entry, "title", where),
        _text(entry, "text", where),
        "classes" in entry ? _texts(entry, "classes", where) : [],
      ),
    );
  }
  return cautions;
}

/** Read and check a procedure.
 * @param {any} data @param {Map<string, Caution>} cautions @param {string} [source] */
export function procedure_from(data, cautions, source = "procedure") {
  const volumes = _list(data, "volumes", source).map(
    (entry, i) =>
      new Volume(
        _text(entry, "id", `${source}, volume ${i + 1}`),
        _text(entry, "title", `${source}, volume ${i + 1}`),
        _one_of(entry, "kind", VOLUME_KINDS, `${source}, volume ${i + 1}`),
        _optional(entry, "colour", `${source}, volume ${i + 1}`),
      ),
  );
  _refuse_doubles(
    volumes.map((volume) => volume.id),
    `${source}, volumes`,
  );
  const valves = _list(data, "valves", source).map((entry, i) =>
    _valve(entry, `${source}, valve ${i + 1}`),
  );
  _refuse_doubles(
    valves.map((valve) => valve.id),
    `${source}, valves`,
  );
  _check_joints(
    valves,
    volumes.map((volume) => volume.id),
    source,
  );
  const steps = _list(data, "steps", source).map((entry, i) =>
    _step(entry, cautions, valves, `${source}, step ${i + 1}`),
  );
  _refuse_doubles(
    steps.map((step) => step.id),
    `${source}, steps`,
  );
  if (steps.length === 0) {
    throw new Error(`${source}: “steps” is empty`);
  }
  const procedure = new Procedure(
    _text(data, "id", source),
    _text(data, "title", source),
    _text(data, "hardware", source),
    steps,
    volumes,
    valves,
    _flag(data, "retired", source),
  );
  _check_settings(procedure, source);
  return procedure;
}

/** @param {any} entry @param {Map<string, Caution>} cautions @param {Valve[]} valves
 * @param {string} where */
function _step(entry, cautions, valves, where) {
  const step_id = _text(entry, "id", where);
  where = `${where} “${step_id}”`;
  const codes = _texts(entry, "cautions", where);
  for (const code of codes) {
    if (!cautions.has(code)) {
      throw new Error(`${where}: field “cautions” names “${code}”, which does not exist`);
    }
  }
  const form = _optional(entry, "form", where);
  if (form !== "" && !FORMS.has(form)) {
    throw new Error(`${where}: field “form” names “${form}”, which does not exist`);
  }
  const actions = ("actions" in entry ? _list(entry, "actions", where) : []).map(
    (action, i) =>
      new Action(
        _text(action, "valve", `${where}, action ${i + 1}`),
        _text(action, "to", `${where}, action ${i + 1}`),
      ),
  );
  const settings = "settings" in entry ? entry.settings : {};
  if (!_is_mapping(settings)) {
    throw new Error(`${where}: field “settings” must map valves to how they stand`);
  }
  for (const action of actions) {
    _check_setting(valves, action.valve, action.to, where);
  }
  for (const [valve_id, to] of Object.entries(settings)) {
    _check_setting(valves, valve_id, to, where);
  }
  const do_ = _texts(entry, "do", where);
  if (do_.length === 0) {
    throw new Error(`${where}: field “do” is empty`);
  }
  return new Step(
    step_id,
    _one_of(entry, "stage", STAGES, where),
    _text(entry, "title", where),
    do_,
    _text(entry, "why", where),
    _text(entry, "done_when", where),
    codes,
    form,
    "page" in entry ? _one_of(entry, "page", PAGES, where) : STEP_PAGE,
    new Map(Object.entries(settings)),
    actions,
  );
}

/** @param {any} entry @param {string} where */
function _valve(entry, where) {
  const kind = _one_of(entry, "kind", [...SETTINGS_OF_KIND.keys()], where);
  return new Valve(
    _text(entry, "id", where),
    _text(entry, "title", where),
    kind,
    _one_of(entry, "start", item(SETTINGS_OF_KIND, kind), where),
    _optional(entry, "a", where),
    _optional(entry, "b", where),
    "a_gates" in entry ? _texts(entry, "a_gates", where) : [],
    "b_gates" in entry ? _texts(entry, "b_gates", where) : [],
    _flag(entry, "self_closing", where),
    _flag(entry, "core", where),
  );
}

/** @param {Valve[]} valves @param {string[]} volume_ids @param {string} source */
function _check_joints(valves, volume_ids, source) {
  const gates = valves.filter((valve) => valve.kind === GATE).map((valve) => valve.id);
  for (const valve of valves) {
    const where = `${source}, valve “${valve.id}”`;
    if (valve.kind === GATE || valve.kind === POSITION) {
      continue;
    }
    if (!volume_ids.includes(valve.a)) {
      throw new Error(`${where}: field “a” names “${valve.a}”, which is no volume`);
    }
    if (valve.kind === HANDWHEEL && !volume_ids.includes(valve.b)) {
      throw new Error(`${where}: field “b” names “${valve.b}”, which is no volume`);
    }
    const ports = ["", CYLINDER, SUCTION, LIQUID_LINE, ...volume_ids];
    if (valve.kind === NUT && !ports.includes(valve.b)) {
      throw new Error(`${where}: field “b” names “${valve.b}”, which is neither port nor volume`);
    }
    for (const gate of [...valve.a_gates, ...valve.b_gates]) {
      if (!gates.includes(gate)) {
        throw new Error(`${where}: gate “${gate}” does not exist`);
      }
    }
  }
}

/** @param {Valve[]} valves @param {string} valve_id @param {any} to @param {string} where */
function _check_setting(valves, valve_id, to, where) {
  for (const valve of valves) {
    if (valve.id === valve_id) {
      if (!item(SETTINGS_OF_KIND, valve.kind).includes(to)) {
        throw new Error(`${where}: valve “${valve_id}” cannot be “${to}”`);
      }
      return;
    }
  }
  throw new Error(`${where}: valve “${valve_id}” does not exist`);
}

/** @param {Procedure} procedure @param {string} source */
function _check_settings(procedure, source) {
  const now = new Map(procedure.valves.map((valve) => [valve.id, valve.start]));
  for (const step of procedure.steps) {
    for (const action of step.actions) {
      now.set(action.valve, action.to);
    }
    for (const [valve_id, to] of step.settings) {
      if (now.get(valve_id) !== to) {
        throw new Error(
          `${source}, step “${step.id}”: field “settings” says “${valve_id}” is ${to}, ` +
            `but the actions leave it ${now.get(valve_id)}`,
        );
      }
    }
  }
}

/** @param {string[]} names @param {string} where */
function _refuse_doubles(names, where) {
  /** @type {Set<string>} */
  const seen = new Set();
  for (const name of names) {
    if (seen.has(name)) {
      throw new Error(`${where}: “${name}” is used twice`);
    }
    seen.add(name);
  }
}

/** @param {any} value */
function _is_mapping(value) {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

/** @param {any} data @param {string} field @param {string} where @returns {any[]} */
function _list(data, field, where) {
  const value = data[field];
  if (!Array.isArray(value)) {
    throw new Error(`${where}: field “${field}” must be a list`);
  }
  for (const entry of value) {
    if (!_is_mapping(entry)) {
      throw new Error(`${where}: field “${field}” must hold objects`);
    }
  }
  return value;
}

/** @param {any} data @param {string} field @param {string} where @returns {string} */
function _text(data, field, where) {
  const value = data[field];
  if (typeof value !== "string" || value === "") {
    throw new Error(`${where}: field “${field}” must be a text that is not empty`);
  }
  return value;
}

/** @param {any} data @param {string} field @param {string} where @returns {string} */
function _optional(data, field, where) {
  const value = field in data ? data[field] : "";
  if (typeof value !== "string") {
    throw new Error(`${where}: field “${field}” must be a text`);
  }
  return value;
}

/** @param {any} data @param {string} field @param {string} where @returns {string[]} */
function _texts(data, field, where) {
  const value = data[field];
  if (!Array.isArray(value) || !value.every((v) => typeof v === "string" && v !== "")) {
    throw new Error(`${where}: field “${field}” must be a list of texts`);
  }
  return [...value];
}

/** @param {any} data @param {string} field @param {string[]} allowed @param {string} where */
function _one_of(data, field, allowed, where) {
  const value = _text(data, field, where);
  if (!allowed.includes(value)) {
    throw new Error(`${where}: field “${field}” must be one of ${allowed.join(", ")}`);
  }
  return value;
}

/** @param {any} data @param {string} field @param {string} where @returns {boolean} */
function _flag(data, field, where) {
  const value = field in data ? data[field] : false;
  if (typeof value !== "boolean") {
    throw new Error(`${where}: field “${field}” must be true or false`);
  }
  return value;
}

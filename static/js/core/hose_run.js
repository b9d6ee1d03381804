// Twin of src/lowside/core/hoses/run.py: runs a procedure through the hose model.

import { settle } from "./hose_flow.js";
import { hazards_at_rest, hazards_of_turn } from "./hose_hazards.js";
import { AIR, DIP_TUBE, Hoses, LIQUID, bare, held_kg } from "./hoses.js";
import {
  Action,
  BOUNDARIES,
  CHARGE_PAGE,
  NUT,
  OFF,
  OUTSIDE,
  POSITION,
  valve_by_id,
} from "./procedure.js";
import { equal, item, last as last_of } from "./python.js";

/** @typedef {import("./hose_flow.js").Flow} Flow */
/** @typedef {import("./hose_hazards.js").Hazard} Hazard */
/** @typedef {import("./hoses.js").Conditions} Conditions */
/** @typedef {import("./procedure.js").Procedure} Procedure */
/** @typedef {import("./procedure.js").Step} Step */
/** @typedef {import("./procedure.js").Valve} Valve */

/** One turn of a valve: the hoses after it, what moved, and what is wrong with it. */
export class Turn {
  /** @param {Action} action @param {Hoses} after @param {Flow[]} flows @param {Hazard[]} hazards */
  constructor(action, after, flows, hazards) {
    this.action = action;
    this.after = after;
    this.flows = flows;
    this.hazards = hazards;
  }
}

/** One step carried out. */
export class StepRun {
  /** @param {string} step_id @param {Hoses} before @param {Turn[]} turns @param {Hoses} after
   * @param {Hazard[]} hazards */
  constructor(step_id, before, turns, after, hazards) {
    this.step_id = step_id;
    this.before = before;
    this.turns = turns;
    this.after = after;
    this.hazards = hazards;
  }
}

/** Of a whole run [kg]: what is still in the hoses, and what went into the open air. */
export class Grams {
  /** @param {number} trapped_kg @param {number} released_kg @param {number} released_liquid_kg */
  constructor(trapped_kg, released_kg, released_liquid_kg) {
    this.trapped_kg = trapped_kg;
    this.released_kg = released_kg;
    this.released_liquid_kg = released_liquid_kg;
  }
}

/** Set one valve and let everything settle.
 * @param {Procedure} procedure @param {Conditions} conditions @param {Hoses} hoses
 * @param {Action} action @param {boolean} [in_shot] */
export function turn(procedure, conditions, hoses, action, in_shot = false) {
  const settings = new Map(hoses.settings);
  if (valve_by_id(procedure, action.valve) !== null) {
    settings.set(action.valve, action.to);
  }
  const hazards = hazards_of_turn(procedure, conditions, hoses, settings, in_shot);
  const settled = settle(
    procedure,
    conditions,
    new Hoses(settings, hoses.contents, hoses.received_kg),
  );
  return new Turn(action, settled.hoses, settled.flows, hazards);
}

/** The joint that has to come off first.
 * @param {Procedure} procedure @param {Map<string, string>} settings @param {Action} action
 * @returns {Valve | null} */
export function in_the_way(procedure, settings, action) {
  const moved = valve_by_id(procedure, action.valve);
  if (
    moved === null ||
    moved.kind !== NUT ||
    !BOUNDARIES.includes(moved.b) ||
    action.to === OFF
  ) {
    return null;
  }
  for (const valve of procedure.valves) {
    if (valve.kind !== NUT || valve.id === moved.id || !BOUNDARIES.includes(valve.b)) {
      continue;
    }
    if (item(settings, valve.id) !== OFF && (valve.b === moved.b || valve.a === moved.a)) {
      return valve;
    }
  }
  return null;
}

/** Carry out the step's actions.
 * @param {Procedure} procedure @param {Conditions} conditions @param {Hoses} hoses
 * @param {Step} step @param {boolean} [last] */
export function run_step(procedure, conditions, hoses, step, last = false) {
  /** @type {Turn[]} */
  const turns = [];
  let now = hoses;
  for (const action of actions_of(procedure, conditions, step)) {
    const made = turn(procedure, conditions, now, action, step.page === CHARGE_PAGE);
    turns.push(made);
    now = made.after;
  }
  const left = turns.length > 0 || last ? hazards_left(procedure, conditions, now, last) : [];
  return new StepRun(step.id, hoses, turns, now, left);
}

/** What is wrong with leaving everything as it is now and going on to the next step.
 * @param {Procedure} procedure @param {Conditions} conditions @param {Hoses} hoses
 * @param {boolean} last @returns {Hazard[]} */
export function hazards_left(procedure, conditions, hoses, last) {
  const left = hazards_of_turn(procedure, conditions, hoses, hoses.settings, false);
  for (const one of hazards_at_rest(procedure, conditions, hoses, last)) {
    if (!left.some((other) => equal(other, one))) {
      left.push(one);
    }
  }
  return left;
}

/** Carry out the procedure from bare hoses: the whole of it, or through the step named.
 * @param {Procedure} procedure @param {Conditions} conditions @param {string} [through]
 * @returns {StepRun[]} */
export function run(procedure, conditions, through = "") {
  /** @type {StepRun[]} */
  const runs = [];
  let now = bare(procedure, conditions);
  const final = last_with_actions(procedure);
  for (const step of procedure.steps) {
    const made = run_step(procedure, conditions, now, step, step.id === final);
    runs.push(made);
    now = made.after;
    if (step.id === through) {
      break;
    }
  }
  return runs;
}

/** The run of one step, with everything before it done.
 * @param {Procedure} procedure @param {Conditions} conditions @param {string} step_id */
export function run_to(procedure, conditions, step_id) {
  const made = last_of(run(procedure, conditions, step_id));
  return made.step_id === step_id ? made : null;
}

/** The step's actions; a cylinder with a dip tube is not turned over.
 * @param {Procedure} procedure @param {Conditions} conditions @param {Step} step
 * @returns {Action[]} */
export function actions_of(procedure, conditions, step) {
  if (conditions.withdrawal !== DIP_TUBE) {
    return step.actions;
  }
  /** @type {Action[]} */
  const kept = [];
  for (const action of step.actions) {
    const valve = valve_by_id(procedure, action.valve);
    if (valve === null || valve.kind !== POSITION) {
      kept.push(action);
    }
  }
  return kept;
}

/** Id of the last step that turns a valve. @param {Procedure} procedure */
export function last_with_actions(procedure) {
  let found = "";
  for (const step of procedure.steps) {
    if (step.actions.length > 0) {
      found = step.id;
    }
  }
  return found;
}

/** (step id, hazard) of a whole run in order.
 * @param {readonly StepRun[]} runs @returns {[string, Hazard][]} */
export function hazards_of(runs) {
  /** @type {[string, Hazard][]} */
  const found = [];
  for (const made of runs) {
    for (const one of made.turns) {
      for (const hazard of one.hazards) {
        found.push([made.step_id, hazard]);
      }
    }
    for (const hazard of made.hazards) {
      if (!found.some(([id, other]) => id === made.step_id && equal(other, hazard))) {
        found.push([made.step_id, hazard]);
      }
    }
  }
  return found;
}

/** Trapped and released over these steps. @param {readonly StepRun[]} runs */
export function grams(runs) {
  let released = 0.0;
  let liquid = 0.0;
  for (const made of runs) {
    for (const one of made.turns) {
      for (const flow of one.flows) {
        if (flow.end === OUTSIDE && flow.phase !== AIR) {
          released = released + flow.kg;
          liquid = liquid + (flow.phase === LIQUID ? flow.kg : 0.0);
        }
      }
    }
  }
  return new Grams(runs.length > 0 ? held_kg(last_of(runs).after) : 0.0, released, liquid);
}

/** What it means that valves stand differently from what the step expects once it is done.
 * @param {Procedure} procedure @param {Conditions} conditions @param {string} step_id
 * @param {Map<string, string>} stands @returns {Hazard[]} */
export function if_stood(procedure, conditions, step_id, stands) {
  /** @type {Hazard[]} */
  const found = [];
  /** @type {Hoses | null} */
  let now = null;
  const final = last_with_actions(procedure);
  const runs = run(procedure, conditions);
  for (let i = 0; i < runs.length; i += 1) {
    const step = procedure.steps[i];
    if (runs[i].step_id === step_id) {
      now = runs[i].after;
      for (const [valve_id, to] of stands) {
        const one = turn(procedure, conditions, now, new Action(valve_id, to));
        now = one.after;
        found.push(...one.hazards);
      }
      found.push(...hazards_at_rest(procedure, conditions, now, step.id === final));
    } else if (now !== null) {
      const again = run_step(procedure, conditions, now, step, step.id === final);
      now = again.after;
      found.push(...hazards_of([again]).map((pair) => pair[1]));
    }
  }
  /** @type {Hazard[]} */
  const kept = [];
  for (const one of found) {
    if (!kept.some((other) => equal(other, one))) {
      kept.push(one);
    }
  }
  return kept;
}

/** The valves a step turns, in order, each once.
 * @param {Procedure} procedure @param {Step} step @returns {Valve[]} */
export function handled(procedure, step) {
  /** @type {Valve[]} */
  const found = [];
  for (const action of step.actions) {
    const valve = valve_by_id(procedure, action.valve);
    if (valve !== null && !found.includes(valve)) {
      found.push(valve);
    }
  }
  return found;
}

// Twin of src/lowside/core/pages/hoses.py: the hose pictures of a step.

import { format_decimal } from "./arithmetic.js";
import { STAND_WORDS, draw } from "./drawing.js";
import {
  grams,
  handled,
  hazards_left,
  in_the_way,
  last_with_actions,
  run,
  run_step,
  turn,
} from "./hose_run.js";
import {
  HOSE_BORE_M,
  HOSE_LENGTH_M,
  INVERT,
  conditions_from,
  usual_conditions,
} from "./hoses.js";
import {
  Action,
  CHARGE_PAGE,
  CLOSED,
  INVERTED,
  LOOSE,
  NUT,
  OPEN,
  POSITION,
  TIGHT,
  UPRIGHT,
  position,
} from "./procedure.js";
import { item, last } from "./python.js";
import { OutOfRange, bubble_pressure } from "./saturation.js";
import { latest_reading } from "./state.js";
import { label } from "./unit_choice.js";

/** @typedef {import("./handbook.js").Handbook} Handbook */
/** @typedef {import("./hose_hazards.js").Hazard} Hazard */
/** @typedef {import("./hose_run.js").StepRun} StepRun */
/** @typedef {import("./hoses.js").Conditions} Conditions */
/** @typedef {import("./procedure.js").Procedure} Procedure */
/** @typedef {import("./procedure.js").Step} Step */
/** @typedef {import("./procedure.js").Valve} Valve */
/** @typedef {import("./state.js").State} State */

export const GRAMS_PER_KG = 1000.0;

/** What the hoses are joined to: pressures as last read, usual ones until then.
 * @param {State} state @param {Handbook} handbook @returns {Conditions | null} */
export function conditions_of(state, handbook) {
  if (state.system === null || !handbook.tables.has(state.system.refrigerant)) {
    return null;
  }
  const table = item(handbook.tables, state.system.refrigerant);
  const withdrawal = state.cylinder !== null ? state.cylinder.withdrawal : INVERT;
  const atmosphere = state.system.atmosphere_pa;
  const [length, bore] = _size(state);
  const usual = usual_conditions(table, atmosphere, withdrawal, length, bore);
  if (usual instanceof OutOfRange) {
    return null;
  }
  const latest = latest_reading(state);
  if (latest === null) {
    return usual;
  }
  const suction = latest.reading.suction_pressure_pa;
  const liquid = latest.reading.liquid_pressure_pa;
  if (suction === null || liquid === null || !(atmosphere < suction && suction < liquid)) {
    return usual;
  }
  let cylinder = usual.cylinder_pa;
  if (latest.reading.outdoor_dry_bulb_k !== null) {
    const warm = bubble_pressure(table, latest.reading.outdoor_dry_bulb_k);
    cylinder = warm instanceof OutOfRange ? usual.cylinder_pa : warm;
  }
  const found = conditions_from(
    table,
    suction,
    liquid,
    cylinder,
    atmosphere,
    withdrawal,
    length,
    bore,
  );
  return found instanceof OutOfRange ? usual : found;
}

/** The size of hoses the figures are for, and who said so. @param {State} state */
export function size_words(state) {
  const [length, bore] = _size(state);
  const words =
    "Worked out for hoses " +
    label("hose_length", length, state.units) +
    " long with a bore of " +
    label("bore", bore, state.units);
  const typed_length = state.cylinder !== null && state.cylinder.hose_length_m !== null;
  const typed_bore = state.cylinder !== null && state.cylinder.hose_bore_m !== null;
  if (typed_length && typed_bore) {
    return words + ", as typed with the cylinder.";
  }
  if (typed_length) {
    return words + ": length as typed with the cylinder, bore the usual one.";
  }
  if (typed_bore) {
    return words + ": bore as typed with the cylinder, length the usual one.";
  }
  return words + ", the usual size. If yours differ, say so where the cylinder is entered.";
}

/** Context of `_hoses.html`'s `hose_picture`, or `null` for a step before any hose is on.
 * @param {Procedure} procedure @param {Conditions} conditions @param {Step} step
 * @param {string} size @returns {Record<string, any> | null} */
export function picture_of_step(procedure, conditions, step, size) {
  if (!with_hoses(procedure, step)) {
    return null;
  }
  const runs = run(procedure, conditions, step.id);
  const here = last(runs);
  let now = _at_start(procedure, conditions, step, here);
  if (now === null) {
    now = _when_done(procedure, conditions, step, here);
  }
  return { now, grams: _grams_line(runs) + " " + size };
}

/** Context of `_hoses.html`'s `hose_panel`, or `null` for a step before any hose is on.
 * @param {Procedure} procedure @param {Conditions} conditions @param {Step} step
 * @param {string} size @returns {Record<string, any> | null} */
export function hoses_of_step(procedure, conditions, step, size) {
  if (!with_hoses(procedure, step)) {
    return null;
  }
  const runs = run(procedure, conditions, step.id);
  const here = last(runs);
  return {
    now: _when_done(procedure, conditions, step, here),
    before: _at_start(procedure, conditions, step, here),
    moves: _moves(procedure, conditions, here),
    valves: _valves(procedure, conditions, here),
    grams: _grams_line(runs) + " " + size,
  };
}

/** Whether hoses are on, or go on, at this step.
 * @param {Procedure} procedure @param {Step} step */
export function with_hoses(procedure, step) {
  return position(procedure, step.id) >= position(procedure, "connect");
}

/** Length and bore of the hoses [m]: as typed, else the usual ones.
 * @param {State} state @returns {[number, number]} */
function _size(state) {
  let length = HOSE_LENGTH_M;
  let bore = HOSE_BORE_M;
  if (state.cylinder !== null) {
    if (state.cylinder.hose_length_m !== null) {
      length = state.cylinder.hose_length_m;
    }
    if (state.cylinder.hose_bore_m !== null) {
      bore = state.cylinder.hose_bore_m;
    }
  }
  return [length, bore];
}

/** @param {Procedure} procedure @param {Conditions} conditions @param {Step} step
 * @param {StepRun} here */
function _at_start(procedure, conditions, step, here) {
  if (here.turns.length === 0) {
    return null;
  }
  const turned = handled(procedure, step).map((valve) => valve.id);
  return draw(procedure, conditions, here.before, [], turned, "Turn the ringed ones");
}

/** @param {Procedure} procedure @param {Conditions} conditions @param {Step} step
 * @param {StepRun} here */
function _when_done(procedure, conditions, step, here) {
  if (step.page === CHARGE_PAGE && here.turns.length > 0) {
    const turned = handled(procedure, step).map((valve) => valve.id);
    const shot = here.turns[0];
    return draw(procedure, conditions, shot.after, shot.flows, turned, "During a shot");
  }
  return draw(procedure, conditions, here.after, [], [], "How it should stand when done");
}

/** @param {Procedure} procedure @param {Conditions} conditions @param {StepRun} here */
function _moves(procedure, conditions, here) {
  return here.turns.map((one, i) => {
    let title = one.action.valve;
    for (const valve of procedure.valves) {
      title = valve.id === one.action.valve ? valve.title : title;
    }
    const caption = String(i + 1) + ". " + title + ": " + item(STAND_WORDS, one.action.to);
    return draw(procedure, conditions, one.after, one.flows, [one.action.valve], caption);
  });
}

/** Each valve: how it should stand, and what it means if it stands the other way.
 * @param {Procedure} procedure @param {Conditions} conditions @param {StepRun} here */
function _valves(procedure, conditions, here) {
  const settings = here.after.settings;
  /** @type {Record<string, any>[]} */
  const found = [];
  for (const valve of procedure.valves) {
    const other = _other(valve, item(settings, valve.id));
    const action = new Action(valve.id, other);
    if (in_the_way(procedure, settings, action) !== null) {
      continue;
    }
    const hazards = _if_stood(procedure, conditions, here, action);
    found.push({
      title: valve.title,
      word: item(STAND_WORDS, item(settings, valve.id)),
      other: item(STAND_WORDS, other),
      means: hazards.map((hazard) => ({ text: hazard.sentence, check: hazard.cure })),
      harmless: hazards.length === 0,
    });
  }
  return found;
}

/** The first thing that goes wrong if the valve stands so and nobody sees it.
 * @param {Procedure} procedure @param {Conditions} conditions @param {StepRun} here
 * @param {Action} action @returns {Hazard[]} */
function _if_stood(procedure, conditions, here, action) {
  const final = last_with_actions(procedure);
  const at = position(procedure, here.step_id);
  const made = turn(procedure, conditions, here.after, action);
  let now = made.after;
  if (made.hazards.length > 0) {
    return made.hazards;
  }
  const left = hazards_left(procedure, conditions, now, here.step_id === final);
  if (left.length > 0) {
    return left;
  }
  for (const step of procedure.steps.slice(at + 1)) {
    const again = run_step(procedure, conditions, now, step, step.id === final);
    for (const one of again.turns) {
      if (one.hazards.length > 0) {
        return one.hazards;
      }
    }
    if (again.hazards.length > 0) {
      return again.hazards;
    }
    now = again.after;
  }
  return [];
}

/** @param {Valve} valve @param {string} now */
function _other(valve, now) {
  if (valve.kind === NUT) {
    return now === TIGHT ? LOOSE : TIGHT;
  }
  if (valve.kind === POSITION) {
    return now === UPRIGHT ? INVERTED : UPRIGHT;
  }
  return now === OPEN ? CLOSED : OPEN;
}

/** @param {readonly StepRun[]} runs */
function _grams_line(runs) {
  const so_far = grams(runs);
  return (
    "In the hoses then: " +
    format_decimal(so_far.trapped_kg * GRAMS_PER_KG, 0) +
    " g. Let out so far while purging and disconnecting: " +
    format_decimal(so_far.released_kg * GRAMS_PER_KG, 0) +
    " g."
  );
}

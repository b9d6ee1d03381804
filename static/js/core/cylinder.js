// Twin of src/lowside/core/cylinder.py: what is left, what is inside, and whether the weights agree.

import { Fact, Finding, REFUSE, WARN } from "./findings.js";
import { LIQUID_GAUGE_PA, THERMOMETER_K } from "./plausibility.js";
import { item } from "./python.js";
import { OutOfRange, bubble_pressure, dew_pressure } from "./saturation.js";
import { added_kg, taken_out, unweighed_shots } from "./state.js";
import { label } from "./unit_choice.js";

/** @typedef {import("./handbook.js").Handbook} Handbook */
/** @typedef {import("./state.js").State} State */
/** @typedef {import("./unit_choice.js").UnitChoice} UnitChoice */

export const STEPS_ALLOWED = 2.0;

export const HOSE_FILL_KG = 0.05;

/** The three ways the charge added was weighed [kg]; `null` where one is missing. */
export class Reconciliation {
  /** @param {number | null} by_weights_kg @param {number | null} by_shots_kg
   * @param {number | null} by_scale_kg @param {number} allowed_kg @param {number} unweighed
   * @param {[string, number][]} problems */
  constructor(by_weights_kg, by_shots_kg, by_scale_kg, allowed_kg, unweighed, problems) {
    this.by_weights_kg = by_weights_kg;
    this.by_shots_kg = by_shots_kg;
    this.by_scale_kg = by_scale_kg;
    this.allowed_kg = allowed_kg;
    this.unweighed = unweighed;
    this.problems = problems;
  }

  /** Whether someone must say what explains it. */
  get disagrees() {
    return this.problems.length > 0;
  }
}

/** @type {Map<string, string>} */
export const SENTENCES = new Map([
  [
    "cylinder_lost_more",
    "The cylinder lost {amount} more than the shots say: a leak, a shot that was not " +
      "noted, or a weighing that was off.",
  ],
  [
    "shots_say_more",
    "The shots say {amount} more than the cylinder lost: a shot weighed wrongly, or the " +
      "bare weighings had something else on the scale.",
  ],
  [
    "scale_drifted",
    "The scale moved {amount} outside the shots: it drifted, was touched, or something " +
      "leaked.",
  ],
]);

/** Refrigerant inside a cylinder [kg]. @param {number} gross_kg @param {number} tare_kg */
export function net_kg(gross_kg, tare_kg) {
  return gross_kg - tare_kg;
}

/** Refrigerant left by the start weight and the weighed shots [kg].
 * @param {State} state @returns {number | null} */
export function left_kg(state) {
  if (state.start_weight === null || state.cylinder === null) {
    return null;
  }
  return net_kg(state.start_weight.kg, state.cylinder.tare_kg) - added_kg(state);
}

/** Compare start and end weight, shots and scale. @param {State} state @returns {Reconciliation} */
export function reconcile_session(state) {
  let allowed = 0.0;
  if (state.scale !== null) {
    allowed = STEPS_ALLOWED * state.scale.resolution_kg;
  }
  /** @type {number | null} */
  let by_weights = null;
  if (state.start_weight !== null && state.end_weight !== null) {
    by_weights = state.start_weight.kg - state.end_weight.kg;
  }
  const unweighed = unweighed_shots(state);
  const by_shots = unweighed > 0 ? null : added_kg(state);
  const by_scale = _scale_total_kg(state);
  /** @type {[string, number][]} */
  const problems = [];
  if (by_weights !== null && by_shots !== null) {
    if (by_weights - by_shots > allowed + HOSE_FILL_KG) {
      problems.push(["cylinder_lost_more", by_weights - by_shots]);
    } else if (by_shots - by_weights > allowed) {
      problems.push(["shots_say_more", by_shots - by_weights]);
    }
  }
  if (by_scale !== null && by_shots !== null && Math.abs(by_scale - by_shots) > allowed) {
    problems.push(["scale_drifted", Math.abs(by_scale - by_shots)]);
  }
  return new Reconciliation(by_weights, by_shots, by_scale, allowed, unweighed, problems);
}

/** What disagrees, in the user's units.
 * @param {Reconciliation} reconciliation @param {UnitChoice} choice */
export function problem_sentences(reconciliation, choice) {
  return reconciliation.problems.map(([code, difference]) =>
    item(SENTENCES, code).replaceAll("{amount}", () => label("mass", difference, choice)),
  );
}

/** A resting cylinder's pressure against saturation at its temperature.
 * @param {State} state @param {Handbook} handbook @returns {Finding[]} */
export function contents_findings(state, handbook) {
  const cylinder = state.cylinder;
  if (cylinder === null || cylinder.pressure_pa === null || cylinder.temperature_k === null) {
    return [];
  }
  if (state.system === null) {
    return [];
  }
  const table = handbook.tables.get(cylinder.refrigerant);
  if (table === undefined) {
    return [];
  }
  const shared = [
    new Fact("refrigerant", "text", 0.0, cylinder.refrigerant),
    new Fact("temperature", "temperature", cylinder.temperature_k),
  ];
  const highest = bubble_pressure(table, cylinder.temperature_k + THERMOMETER_K);
  const lowest = dew_pressure(table, cylinder.temperature_k - THERMOMETER_K);
  const expected = bubble_pressure(table, cylinder.temperature_k);
  if (
    highest instanceof OutOfRange ||
    lowest instanceof OutOfRange ||
    expected instanceof OutOfRange
  ) {
    return [new Finding("cylinder_unreadable", WARN, shared)];
  }
  const facts = [
    ...shared,
    new Fact("pressure", "gauge_pressure", cylinder.pressure_pa),
    new Fact("expected", "gauge_pressure", expected - state.system.atmosphere_pa),
  ];
  const absolute = cylinder.pressure_pa + state.system.atmosphere_pa;
  if (absolute > highest + LIQUID_GAUGE_PA) {
    return [new Finding("cylinder_over", REFUSE, facts)];
  }
  if (absolute < lowest - LIQUID_GAUGE_PA) {
    return [new Finding("cylinder_under", REFUSE, facts)];
  }
  return [];
}

/** What left the cylinder since the scale was set, by the scale alone [kg]. @param {State} state */
function _scale_total_kg(state) {
  if (state.scale === null || state.last_scale_kg === null) {
    return null;
  }
  return taken_out(state.scale.mode, state.scale.reading_kg, state.last_scale_kg);
}

// Twin of src/lowside/core/doubts.py: signs that this unit is not only short of charge.

import { Unknown } from "./findings.js";
import { last as last_of, max } from "./python.js";
import { SUBCOOLING, Target } from "./targets.js";
import { label } from "./unit_choice.js";

/** @typedef {import("./response.js").Observation} Observation */
/** @typedef {import("./state.js").State} State */
/** @typedef {import("./state.js").Taken} Taken */

export const WARMER_THAN_LIQUID_K = -2.2;

export const SESSION_READINGS = 3;

export const DEPRESSION_HIGHEST_K = 20.5;
export const DEPRESSION_PER_SUPERHEAT = 0.5;
export const DEPRESSION_LOWEST_K = 14.0;
export const LIFT_HIGHEST_K = 17.2;
export const LIFT_LOWEST_K = 7.8;
export const LIFT_PER_SUPERHEAT = 0.12;
export const WEAK_DEPRESSION_K = 16.5;
export const WEAK_LIFT_K = 9.5;

export const ANSWER_SHARE = 0.06;
export const SUBCOOLING_ANSWER_K = 8.0;
export const SUPERHEAT_ANSWER_K = 9.0;
export const FLAT_SHARE = 0.3;
export const FLAT_FROM = 0.4;
export const ANSWER_NOISE_K = 0.5;

export const DRIFT_K = 1.5;

/** What a reading shows beside the target [K]. */
class _Look {
  /** @param {number} superheat_k @param {number | null} depression_k @param {number | null} lift_k */
  constructor(superheat_k, depression_k, lift_k) {
    this.superheat_k = superheat_k;
    this.depression_k = depression_k;
    this.lift_k = lift_k;
  }
}

/** Why charge should not go on although the target calls for it; `null` when nothing speaks
 * against it.
 * @param {State} state @param {Taken} basis @param {readonly Observation[]} observations
 * @param {number} full_charge_kg @returns {string | null} */
export function doubt(state, basis, observations, full_charge_kg) {
  const assessment = basis.assessment;
  if (assessment === null || !(assessment.target instanceof Target)) {
    return null;
  }
  const subcooling = assessment.subcooling_k;
  if (!(subcooling instanceof Unknown) && subcooling < WARMER_THAN_LIQUID_K) {
    return (
      "The liquid line reads warmer than this refrigerant can be at this pressure: check " +
      "the clamp, the gauge, and that the unit holds what its nameplate says."
    );
  }
  const drifting = _drift(state, observations);
  if (drifting !== null) {
    return drifting;
  }
  if (observations.length < SESSION_READINGS || state.shots.length === 0) {
    return null;
  }
  const silent = _answer(state, observations, assessment.target, full_charge_kg);
  return silent !== null ? silent : _sides(state, basis);
}

/** The target slips away while nothing was taken out.
 * @param {State} state @param {readonly Observation[]} observations @returns {string | null} */
function _drift(state, observations) {
  if (observations.length < 2) {
    return null;
  }
  const last = observations[observations.length - 1];
  const before = observations[observations.length - 2];
  const grown = last.gap_k - before.gap_k;
  if (last.added_kg < before.added_kg || grown <= DRIFT_K) {
    return null;
  }
  return (
    "The reading went " +
    label("temperature_difference", grown, state.units) +
    " the wrong way since the one before although no charge was taken out: look for a leak, " +
    "or for weather and load that changed."
  );
}

/** Charge went in and the readings hardly moved.
 * @param {State} state @param {readonly Observation[]} observations @param {Target} target
 * @param {number} full_charge_kg @returns {string | null} */
function _answer(state, observations, target, full_charge_kg) {
  const first = observations[0];
  const last = last_of(observations);
  const share = (last.added_kg - first.added_kg) / full_charge_kg;
  const hidden = target.quantity === SUBCOOLING && last.gap_k > FLAT_FROM * target.value_k;
  if (share < (hidden ? FLAT_SHARE : ANSWER_SHARE)) {
    return null;
  }
  let moved = first.gap_k - last.gap_k;
  let least = SUPERHEAT_ANSWER_K;
  if (target.quantity === SUBCOOLING) {
    least = SUBCOOLING_ANSWER_K;
    if (first.valve_superheat_k !== null && last.valve_superheat_k !== null) {
      moved = moved + max(first.valve_superheat_k - last.valve_superheat_k, 0.0);
    }
  }
  if (moved >= least * share + ANSWER_NOISE_K) {
    return null;
  }
  return (
    "The unit hardly answers: " +
    label("mass", last.added_kg - first.added_kg, state.units) +
    " went in and the reading moved by " +
    label("temperature_difference", moved, state.units) +
    ". Look for a leak, a restriction or a wrong charge of another kind before adding more."
  );
}

/** Low and high side do not come right as the charge does.
 * @param {State} state @param {Taken} basis @returns {string | null} */
function _sides(state, basis) {
  const look = _look(basis);
  if (look === null) {
    return null;
  }
  const starved = max(look.superheat_k - 8.0, 0.0);
  const depression = look.depression_k;
  const lift = look.lift_k;
  if (depression !== null) {
    if (depression > DEPRESSION_HIGHEST_K + DEPRESSION_PER_SUPERHEAT * look.superheat_k) {
      return (
        "Low-side saturation stays " +
        label("temperature_difference", depression, state.units) +
        " below return air as charge goes in: check filter, blower, coil and metering " +
        "device."
      );
    }
    if (depression < DEPRESSION_LOWEST_K) {
      return (
        "Low-side saturation is only " +
        label("temperature_difference", depression, state.units) +
        " below return air: check the compressor, and for too much air or heat."
      );
    }
  }
  if (lift === null) {
    return null;
  }
  if (lift > LIFT_HIGHEST_K) {
    return (
      "Condensing stands " +
      label("temperature_difference", lift, state.units) +
      " above outdoor air: check the outdoor coil and fan, and for air in the unit."
    );
  }
  const weak = depression !== null && depression < WEAK_DEPRESSION_K && lift < WEAK_LIFT_K;
  if (weak || lift < LIFT_LOWEST_K - LIFT_PER_SUPERHEAT * starved) {
    return (
      "Condensing is only " +
      label("temperature_difference", lift, state.units) +
      " above outdoor air with this much charge in: check the compressor before adding " +
      "more."
    );
  }
  return null;
}

/** @param {Taken} basis @returns {_Look | null} */
function _look(basis) {
  const assessment = basis.assessment;
  if (assessment === null || assessment.superheat_k instanceof Unknown) {
    return null;
  }
  let depression = null;
  let lift = null;
  const indoor = basis.reading.return_dry_bulb_k;
  const outdoor = basis.reading.outdoor_dry_bulb_k;
  if (indoor !== null && assessment.dew_k !== null) {
    depression = indoor - assessment.dew_k;
  }
  if (outdoor !== null && assessment.bubble_k !== null) {
    lift = assessment.bubble_k - outdoor;
  }
  return new _Look(assessment.superheat_k, depression, lift);
}

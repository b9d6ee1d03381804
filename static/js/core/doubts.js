// Twin of src/lowside/core/advice/doubts.py: signs that this unit is not only short of charge.

import { Unknown } from "./findings.js";
import { last as last_of, max } from "./python.js";
import { SUBCOOLING, SUPERHEAT_TOLERANCE_K, Target } from "./targets.js";
import { label } from "./unit_choice.js";

/** @typedef {import("./response.js").Observation} Observation */
/** @typedef {import("./state.js").State} State */
/** @typedef {import("./state.js").Taken} Taken */

export const WARMER_THAN_LIQUID_K = -2.2;

export const SESSION_READINGS = 3;

export const DEPRESSION_HIGHEST_K = 20.5;
export const DEPRESSION_PER_SUPERHEAT = 0.7;
export const DEPRESSION_LOWEST_K = 14.0;
export const LIFT_HIGHEST_K = 17.2;
export const LIFT_LOWEST_K = 7.8;
export const LIFT_PER_SUPERHEAT = 0.12;
export const WEAK_DEPRESSION_K = 16.5;
export const WEAK_LIFT_K = 9.5;
export const HIGH_SIDE_K = 17.2;
export const HIGH_SIDE_PER_SUBCOOLING = 0.5;

export const ANSWER_SHARE = 0.06;
export const SUBCOOLING_ANSWER_K = 8.0;
export const SUPERHEAT_ANSWER_K = 12.0;
export const FLAT_SHARE = 0.2;
export const FLAT_FROM = 0.4;
export const FLAT_ANSWER_K = 1.2;
export const ANSWER_NOISE_K = 0.5;

export const DRIFT_K = 1.5;
export const WENT_IN = 0.02;
export const BACK_K = 1.2;
export const VALVE_BACK_K = 2.5;

export const TAKEN_SHARE = 0.45;
export const TAKEN_SHARE_UNKNOWN = 0.6;

export const LIQUID_K = 7.0;
export const LIQUID_PER_SUPERHEAT = 0.15;
export const VALVE_STARVED_K = 9.5;
export const VALVE_LIQUID_K = 3.9;
export const SPLIT_HIGH_K = 2.4;

/** What a reading shows beside the target [K]. */
class _Look {
  /** @param {number} superheat_k @param {number | null} subcooling_k
   * @param {number | null} depression_k @param {number | null} lift_k */
  constructor(superheat_k, subcooling_k, depression_k, lift_k) {
    this.superheat_k = superheat_k;
    this.subcooling_k = subcooling_k;
    this.depression_k = depression_k;
    this.lift_k = lift_k;
  }
}

/** Why charge should not go on although the target calls for it; `null` when nothing speaks
 * against it.
 * @param {State} state @param {Taken} basis @param {readonly Observation[]} observations
 * @param {number} full_charge_kg @param {number} least_missing_kg @returns {string | null} */
export function doubt(state, basis, observations, full_charge_kg, least_missing_kg) {
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
  const drifting = _drift(state, observations, assessment.target, full_charge_kg);
  if (drifting !== null) {
    return drifting;
  }
  if (observations.length < SESSION_READINGS || state.shots.length === 0) {
    return null;
  }
  const silent = _answer(state, observations, assessment.target, full_charge_kg);
  if (silent !== null) {
    return silent;
  }
  const devoured = _takes_too_much(state, observations, full_charge_kg, least_missing_kg);
  if (devoured !== null) {
    return devoured;
  }
  const blocked = _liquid_but_starved(state, basis, assessment.target);
  if (blocked !== null) {
    return blocked;
  }
  const short_of_air = _air_first(state, basis);
  return short_of_air !== null ? short_of_air : _sides(state, basis, assessment.target);
}

/** The target slips away, or the valve starves more, while nothing was taken out.
 * @param {State} state @param {readonly Observation[]} observations @param {Target} target
 * @param {number} full_charge_kg @returns {string | null} */
function _drift(state, observations, target, full_charge_kg) {
  const last = observations[observations.length - 1];
  for (const before of observations) {
    if (last.added_kg < before.added_kg) {
      continue;
    }
    const fed = last.added_kg - before.added_kg >= WENT_IN * full_charge_kg;
    const limit = fed && target.quantity === SUBCOOLING ? BACK_K : DRIFT_K;
    let grown = last.gap_k - before.gap_k;
    if (grown > limit) {
      return _slipped(state, grown);
    }
    if (fed && last.valve_superheat_k !== null && before.valve_superheat_k !== null) {
      grown = last.valve_superheat_k - before.valve_superheat_k;
      if (grown > VALVE_BACK_K) {
        return _slipped(state, grown);
      }
    }
  }
  return null;
}

/** @param {State} state @param {number} grown_k */
function _slipped(state, grown_k) {
  return (
    "The reading went " +
    label("temperature_difference", grown_k, state.units) +
    " the wrong way although no charge was taken out: look for a leak, or for weather and " +
    "load that changed."
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
  const wanted = hidden ? FLAT_ANSWER_K : least * share + ANSWER_NOISE_K;
  if (moved >= wanted) {
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

/** More went in, and is still wanted, than a unit that ran can have been short of.
 * @param {State} state @param {readonly Observation[]} observations
 * @param {number} full_charge_kg @param {number} least_missing_kg @returns {string | null} */
function _takes_too_much(state, observations, full_charge_kg, least_missing_kg) {
  const known = state.system !== null && state.system.nameplate_charge_kg !== null;
  const went_in = observations[observations.length - 1].added_kg - observations[0].added_kg;
  const most = (known ? TAKEN_SHARE : TAKEN_SHARE_UNKNOWN) * full_charge_kg;
  if (went_in + max(least_missing_kg, 0.0) <= most) {
    return null;
  }
  return (
    label("mass", went_in, state.units) +
    " went in and it still asks for more than a unit that cooled can be short of: look for a " +
    "leak or a restriction before adding more."
  );
}

/** Liquid stands before the metering device and the coil starves all the same.
 * @param {State} state @param {Taken} basis @param {Target} target @returns {string | null} */
function _liquid_but_starved(state, basis, target) {
  const assessment = basis.assessment;
  if (assessment === null) {
    return null;
  }
  const superheat = assessment.superheat_k;
  const subcooling = assessment.subcooling_k;
  if (superheat instanceof Unknown || subcooling instanceof Unknown) {
    return null;
  }
  if (target.quantity === SUBCOOLING) {
    if (superheat <= _most_a_valve_holds(state) || subcooling < VALVE_LIQUID_K) {
      return null;
    }
  } else {
    const above = superheat - target.value_k - target.tolerance_k;
    if (above <= 0.0 || subcooling + LIQUID_PER_SUPERHEAT * above < LIQUID_K) {
      return null;
    }
  }
  return (
    "Superheat stays at " +
    label("temperature_difference", superheat, state.units) +
    " with " +
    label("temperature_difference", subcooling, state.units) +
    " of subcooling before the metering device: check for a temperature drop across the " +
    "filter drier, a kinked line, and the metering device before adding more."
  );
}

/** @param {State} state */
function _most_a_valve_holds(state) {
  const maker = state.system === null ? null : state.system.maker_superheat_k;
  return maker === null ? VALVE_STARVED_K : maker + SUPERHEAT_TOLERANCE_K;
}

/** The air's temperature drop stands above the table's, reading after reading.
 * @param {State} state @param {Taken} basis @returns {string | null} */
function _air_first(state, basis) {
  let total = 0.0;
  let count = 0;
  for (const taken of state.readings) {
    const assessment = taken.assessment;
    if (assessment !== null && taken.running && assessment.split_over_k !== null) {
      total = total + assessment.split_over_k;
      count = count + 1;
    }
    if (taken.eid === basis.eid) {
      break;
    }
  }
  if (count < SESSION_READINGS || total / count <= SPLIT_HIGH_K) {
    return null;
  }
  return (
    "The air cools " +
    label("temperature_difference", total / count, state.units) +
    " more than its table says, reading after reading, and missing charge cools it less: " +
    "check filter, blower, coil and registers before adding more."
  );
}

/** Low and high side do not come right as the charge does.
 * @param {State} state @param {Taken} basis @param {Target} target @returns {string | null} */
function _sides(state, basis, target) {
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
  const subcooling = target.quantity === SUBCOOLING ? null : look.subcooling_k;
  if (subcooling !== null && lift + HIGH_SIDE_PER_SUBCOOLING * subcooling > HIGH_SIDE_K) {
    return (
      "Condensing " +
      label("temperature_difference", lift, state.units) +
      " above outdoor air with " +
      label("temperature_difference", subcooling, state.units) +
      " of subcooling is not a unit short of charge: check the outdoor coil and fan, " +
      "and for air in the unit."
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
  const subcooling = assessment.subcooling_k;
  return new _Look(
    assessment.superheat_k,
    subcooling instanceof Unknown ? null : subcooling,
    depression,
    lift,
  );
}

// Twin of src/lowside/core/advice/outlook.py: what is missing, what is safe to add, how long to wait.

import * as feeding from "./feeding.js";
import { Suction } from "./feeding.js";
import { Unknown } from "./findings.js";
import { last, max, min } from "./python.js";
import {
  BIAS_K,
  BIAS_REACH,
  BIAS_SIDE,
  Observation,
  SETTLING_S,
  Subject,
  VALVE_SUPERHEAT_K,
  VALVE_SUPERHEAT_SPREAD_K,
  learn,
  missing_with_bias,
  quantile,
  quantiles,
  time_constants_until,
} from "./response.js";
import { EEV, TXV } from "./system.js";
import { SUBCOOLING, SUPERHEAT, Target } from "./targets.js";
import { TON_W } from "./units.js";

/** @typedef {import("./feeding.js").Flow} Flow */
/** @typedef {import("./response.js").Guess} Guess */
/** @typedef {import("./state.js").State} State */
/** @typedef {import("./state.js").Taken} Taken */
/** @typedef {import("./system.js").System} System */

export const FULL_CHARGE_KG_PER_W = 1.13 / TON_W;
export const ASSUMED_CAPACITY_W = 3.0 * TON_W;

export const OVERSHOOT = 0.12;
export const BLIND_OVERSHOOT = 0.05;
export const BLIND_FROM = 0.8;
export const TOLERANCE_USED = 0.8;

export const AIM = 0.6;
export const LAST_SHARE = 0.6;

export const FULL = 2.5;
export const UNSETTLED_SHARE = 0.2;
export const SUPERHEAT_FALL_K = 111.0;
export const HELD_K = 1.0;
export const WARMEST_SUCTION_K = 28.0;
export const LINE_GAIN_K = 2.0;

/** From the last reading that counts. Masses in kg, temperatures in K, times in s. */
export class Outlook {
  /** @param {{gap_k: number, tolerance_k: number, missing_kg: number, low_kg: number,
   *   high_kg: number, safe_kg: number, within: number, expected_gap_k: number,
   *   full_charge_kg: number,
   *   settling_s: number, full_wait_s: number, slope_k_per_kg: number, flow: Flow,
   *   suction: Suction, least_superheat_k: number, readings_here: number,
   *   observations: Observation[]}} fields */
  constructor(fields) {
    this.gap_k = fields.gap_k;
    this.tolerance_k = fields.tolerance_k;
    this.missing_kg = fields.missing_kg;
    this.low_kg = fields.low_kg;
    this.high_kg = fields.high_kg;
    this.safe_kg = fields.safe_kg;
    this.within = fields.within;
    this.expected_gap_k = fields.expected_gap_k;
    this.full_charge_kg = fields.full_charge_kg;
    this.settling_s = fields.settling_s;
    this.full_wait_s = fields.full_wait_s;
    this.slope_k_per_kg = fields.slope_k_per_kg;
    this.flow = fields.flow;
    this.suction = fields.suction;
    this.least_superheat_k = fields.least_superheat_k;
    this.readings_here = fields.readings_here;
    this.observations = fields.observations;
  }

  /** The suction side once `fed_kg` [kg] went in since the last reading: superheat falls with
   * charge, and what it will fall to cannot boil what it boiled before.
   * @param {number} fed_kg @returns {Suction} */
  suction_after(fed_kg) {
    const superheat = this.suction.superheat_k;
    if (superheat === null || fed_kg <= 0.0) {
      return this.suction;
    }
    let fallen = superheat - (SUPERHEAT_FALL_K * fed_kg) / this.full_charge_kg;
    fallen = max(fallen, min(superheat, this.least_superheat_k));
    return new Suction(this.suction.refrigerant, this.suction.capacity_w, fallen);
  }

  /** Wait [s] after `fed_kg` [kg] until a reading shows what it did. @param {number} fed_kg */
  wait_for(fed_kg) {
    if (fed_kg >= LAST_SHARE * this.missing_kg) {
      return this.full_wait_s;
    }
    const change = fed_kg * this.slope_k_per_kg;
    if (change <= 0.0) {
      return 0.0;
    }
    const left = (UNSETTLED_SHARE * this.tolerance_k) / change;
    if (left >= 1.0) {
      return 0.0;
    }
    return this.settling_s * time_constants_until(left);
  }
}

/** What the readings up to `basis` say; `null` without a target or its reading.
 * @param {State} state @param {Taken} basis @returns {Outlook | null} */
export function outlook_of(state, basis) {
  if (state.system === null || basis.assessment === null) {
    return null;
  }
  const target = basis.assessment.target;
  if (!(target instanceof Target)) {
    return null;
  }
  const step = state.scale === null ? 0.0 : state.scale.resolution_kg;
  const flow = feeding.flow_of(state.shots, step);
  const observations = observations_of(state, basis, target, flow);
  if (observations.length === 0) {
    return null;
  }
  const subject = _subject(state.system, basis, target, step);
  const learned = learn(subject, observations);
  if (learned === null) {
    return null;
  }
  const guesses = learned.guesses;
  const [low, middle, high] = quantiles(missing_with_bias(guesses), [0.05, 0.5, 0.95]);
  const full = subject.full_charge_kg;
  const slope = quantile(
    guesses.map((g) => [g.slope_k, g.weight]),
    0.5,
  );
  const settling = quantile(
    SETTLING_S.map((settling, k) => [settling, learned.settling[k]]),
    0.6,
  );
  const superheat = basis.assessment.superheat_k;
  const newest = last(observations);
  return new Outlook({
    gap_k: newest.gap_k,
    tolerance_k: target.tolerance_k,
    missing_kg: middle * full,
    low_kg: low * full,
    high_kg: high * full,
    safe_kg: _safe(subject, guesses, newest.gap_k) * full,
    within: _within(subject, guesses),
    expected_gap_k: _expected_gap(guesses),
    full_charge_kg: full,
    settling_s: settling,
    full_wait_s: _full_wait(settling),
    slope_k_per_kg: slope / full,
    flow,
    suction: feeding.suction_of(
      state.system,
      superheat instanceof Unknown ? null : superheat,
    ),
    least_superheat_k: _least_superheat(state.system, target, observations),
    readings_here: _readings_here(observations),
    observations,
  });
}

/** The readings up to `basis` that can be compared; unweighed shots count by their time.
 * @param {State} state @param {Taken} basis @param {Target} target @param {Flow} flow */
export function observations_of(state, basis, target, flow) {
  /** @type {Observation[]} */
  const found = [];
  const valve =
    state.system !== null && (state.system.metering === TXV || state.system.metering === EEV);
  for (const taken of state.readings) {
    const observation = _observation(state, taken, target, flow, valve);
    if (observation !== null) {
      found.push(observation);
    }
    if (taken.eid === basis.eid) {
      break;
    }
  }
  return found;
}

/** @param {State} state @param {Taken} taken @param {Target} target @param {Flow} flow
 * @param {boolean} valve */
function _observation(state, taken, target, flow, valve) {
  if (!taken.running || taken.assessment === null) {
    return null;
  }
  if (taken.since_shot_s !== null && taken.since_shot_s < 60.0) {
    return null;
  }
  const own = taken.assessment.target;
  if (!(own instanceof Target) || own.quantity !== target.quantity) {
    return null;
  }
  const superheat = taken.assessment.superheat_k;
  const subcooling = taken.assessment.subcooling_k;
  let gap;
  if (target.quantity === SUPERHEAT) {
    if (superheat instanceof Unknown) {
      return null;
    }
    gap = superheat - own.value_k;
  } else {
    if (subcooling instanceof Unknown) {
      return null;
    }
    gap = own.value_k - subcooling;
  }
  let valve_superheat = null;
  if (valve && !(superheat instanceof Unknown)) {
    valve_superheat = superheat;
  }
  return new Observation(_added(state, taken, flow), gap, taken.since_shot_s, valve_superheat);
}

/** @param {State} state @param {Taken} taken @param {Flow} flow */
function _added(state, taken, flow) {
  let total = 0.0;
  let count = 0;
  for (const shot of state.shots) {
    if (shot.closed === null || count >= taken.shots_before) {
      break;
    }
    count = count + 1;
    if (shot.amount_kg !== null) {
      total = total + shot.amount_kg;
    } else if (shot.open_s !== null) {
      total = total + shot.open_s * flow.rate_kg_s;
    }
  }
  return total;
}

/** @param {System} system @param {Taken} basis @param {Target} target @param {number} step_kg */
function _subject(system, basis, target, step_kg) {
  let headroom = target.value_k;
  if (target.quantity === SUPERHEAT) {
    headroom = _warmest(basis) - target.value_k;
    headroom = max(headroom, 2.0 * target.tolerance_k);
  } else if (headroom < target.tolerance_k) {
    headroom = target.tolerance_k;
  }
  return new Subject(
    target.quantity,
    target.value_k,
    target.tolerance_k,
    _full_charge(system),
    headroom,
    target.quantity === SUBCOOLING ? system.maker_superheat_k : null,
    step_kg,
  );
}

/** Superheat below which charge does not take it: the far side of its target, or what the valve
 * holds, seen once charge went in and the superheat stayed.
 * @param {System} system @param {Target} target @param {readonly Observation[]} observations */
function _least_superheat(system, target, observations) {
  if (target.quantity === SUPERHEAT) {
    return target.value_k - target.tolerance_k;
  }
  if (observations.length > 1) {
    const newest = observations[observations.length - 1];
    const before = observations[observations.length - 2];
    const held = newest.valve_superheat_k;
    const was = before.valve_superheat_k;
    const went_in = newest.added_kg > before.added_kg;
    if (held !== null && was !== null && went_in && held >= was - HELD_K) {
      return held - HELD_K;
    }
  }
  if (system.maker_superheat_k !== null) {
    return system.maker_superheat_k;
  }
  return VALVE_SUPERHEAT_K - 0.5 * VALVE_SUPERHEAT_SPREAD_K;
}

/** @param {Taken} basis */
function _warmest(basis) {
  const dew = basis.assessment === null ? null : basis.assessment.dew_k;
  const air = basis.reading.return_dry_bulb_k;
  if (dew === null || air === null) {
    return WARMEST_SUCTION_K;
  }
  const warmest = air + LINE_GAIN_K - dew;
  return warmest > 10.0 ? warmest : 10.0;
}

/** @param {System} system */
function _full_charge(system) {
  const charge = system.nameplate_charge_kg;
  if (charge !== null && charge > 0.0) {
    const length = system.line_length_m;
    const included = system.line_included_m;
    const adder = system.line_adder_kg_per_m;
    if (length !== null && included !== null && adder !== null) {
      const whole = charge + (length - included) * adder;
      if (whole > 0.5 * charge) {
        return whole;
      }
    }
    return charge;
  }
  let capacity = system.capacity_w;
  if (capacity === null || capacity <= 0.0) {
    capacity = ASSUMED_CAPACITY_W;
  }
  return capacity * FULL_CHARGE_KG_PER_W;
}

/** Share of the full charge that may go in: no more than is probably missing, and passing the
 * tolerance on the far side all but excluded.
 * @param {Subject} subject @param {readonly Guess[]} guesses @param {number} gap_k */
function _safe(subject, guesses, gap_k) {
  /** @type {[number, number][]} */
  const limits = [];
  for (const guess of guesses) {
    limits.push([
      guess.missing + (TOLERANCE_USED * subject.tolerance_k) / guess.slope_k,
      guess.weight,
    ]);
  }
  const blind = subject.quantity === SUBCOOLING && gap_k > BLIND_FROM * subject.target_k;
  const limit = quantile(limits, blind ? BLIND_OVERSHOOT : OVERSHOOT);
  const aim = quantile(
    guesses.map((guess) => [guess.missing, guess.weight]),
    AIM,
  );
  const safe = min(aim, limit);
  return safe > 0.0 ? safe : 0.0;
}

/** How likely the true settled value is within tolerance, instruments' offset included.
 * @param {Subject} subject @param {readonly Guess[]} guesses */
function _within(subject, guesses) {
  let total = 0.0;
  const off = BIAS_REACH * BIAS_K;
  for (const guess of guesses) {
    const gap = guess.slope_k * guess.missing;
    if (Math.abs(gap) <= subject.tolerance_k) {
      total = total + guess.weight * (1.0 - 2.0 * BIAS_SIDE);
    }
    if (Math.abs(gap + off) <= subject.tolerance_k) {
      total = total + guess.weight * BIAS_SIDE;
    }
    if (Math.abs(gap - off) <= subject.tolerance_k) {
      total = total + guess.weight * BIAS_SIDE;
    }
  }
  return total;
}

/** @param {readonly Guess[]} guesses */
function _expected_gap(guesses) {
  let total = 0.0;
  for (const guess of guesses) {
    total = total + guess.weight * guess.slope_k * guess.missing;
  }
  return total;
}

/** @param {number} settling_s */
function _full_wait(settling_s) {
  const wait = FULL * settling_s;
  if (wait < 300.0) {
    return 300.0;
  }
  if (wait > 900.0) {
    return 900.0;
  }
  return wait;
}

/** @param {readonly Observation[]} observations */
function _readings_here(observations) {
  let count = 0;
  const newest = last(observations).added_kg;
  for (const observation of observations) {
    if (observation.added_kg >= newest) {
      count = count + 1;
    }
  }
  return count;
}

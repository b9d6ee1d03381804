// Twin of src/lowside/core/advice/response.py: how this unit answers to charge, and what is missing.

import { linear, square_root } from "./arithmetic.js";
import { last, max, min } from "./python.js";
import { SUBCOOLING } from "./targets.js";

export const SUBCOOLING_SLOPES_K = [12.0, 17.0, 24.0, 34.0, 48.0, 68.0, 96.0, 136.0];
export const SUBCOOLING_WEIGHTS = [0.04, 0.11, 0.2, 0.25, 0.21, 0.12, 0.05, 0.02];

export const SUPERHEAT_SLOPES_K = [28.0, 40.0, 56.0, 80.0, 112.0, 160.0, 225.0, 320.0];
export const SUPERHEAT_WEIGHTS = [0.04, 0.1, 0.19, 0.25, 0.21, 0.13, 0.06, 0.02];

export const BENDS = [0.0, 0.7];

export const SUBCOOLING_FLOORS = [0.85, 1.05];
export const SUPERHEAT_CEILINGS = [0.7, 1.0, 1.6, 4.0];

export const SETTLING_S = [70.0, 150.0, 400.0];
export const SETTLING_WEIGHTS = [0.35, 0.4, 0.25];

export const MISSING_FLAT = 0.42;
export const MISSING_MOST = 0.6;

export const NODES = 26;

export const NOISE_K = 0.3;
export const BIAS_K = 0.36;
export const BIAS_REACH = 1.2;
export const BIAS_SIDE = 0.3;
export const SHAPE_SHARE = 0.05;

export const STARVED_SLOPES_K = [25.0, 220.0];
export const VALVE_SUPERHEAT_K = 6.5;
export const VALVE_SUPERHEAT_SPREAD_K = 4.0;

const _DECAY_X = [
  0.0, 0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 8.0,
];
const _DECAY_Y = [
  1.0, 0.7788, 0.6065, 0.4724, 0.3679, 0.2865, 0.2231, 0.1738, 0.1353, 0.0821, 0.0498, 0.0302,
  0.0183, 0.0067, 0.0025, 0.0003,
];

/** One reading of a running unit. */
export class Observation {
  /** @param {number} added_kg @param {number} gap_k @param {number | null} since_shot_s
   * @param {number | null} valve_superheat_k */
  constructor(added_kg, gap_k, since_shot_s, valve_superheat_k) {
    this.added_kg = added_kg;
    this.gap_k = gap_k;
    this.since_shot_s = since_shot_s;
    this.valve_superheat_k = valve_superheat_k;
  }
}

/** What is known of the unit before it answers. */
export class Subject {
  /** @param {string} quantity @param {number} target_k @param {number} tolerance_k
   * @param {number} full_charge_kg @param {number} headroom_k
   * @param {number | null} valve_setting_k @param {number} step_kg */
  constructor(
    quantity,
    target_k,
    tolerance_k,
    full_charge_kg,
    headroom_k,
    valve_setting_k,
    step_kg,
  ) {
    this.quantity = quantity;
    this.target_k = target_k;
    this.tolerance_k = tolerance_k;
    this.full_charge_kg = full_charge_kg;
    this.headroom_k = headroom_k;
    this.valve_setting_k = valve_setting_k;
    this.step_kg = step_kg;
  }
}

/** A pair of missing charge and steepness; the weights of all pairs sum to 1. */
export class Guess {
  /** @param {number} weight @param {number} missing @param {number} slope_k */
  constructor(weight, missing, slope_k) {
    this.weight = weight;
    this.missing = missing;
    this.slope_k = slope_k;
  }
}

/** What the readings leave believable. */
export class Learned {
  /** @param {Guess[]} guesses @param {number[]} settling */
  constructor(guesses, settling) {
    this.guesses = guesses;
    this.settling = settling;
  }
}

/** Every guess with its weight after the readings; `null` when none explains them.
 * @param {Subject} subject @param {readonly Observation[]} observations
 * @returns {Learned | null} */
export function learn(subject, observations) {
  const count = observations.length;
  const newest = observations[count - 1];
  const added = observations.map((o) => (newest.added_kg - o.added_kg) / subject.full_charge_kg);
  const gaps = observations.map((o) => o.gap_k);
  const before = _charge_before(observations);
  const decays = SETTLING_S.map((settling) => _decays(observations, settling));
  const [ladder, prior] = _slopes(subject);
  const [lowest, highest] = _range_of_missing(subject, newest, ladder, added[0]);
  const width = (highest - lowest) / (NODES - 1);
  const shapes = _shapes(subject);
  /** @type {Guess[]} */
  const guesses = [];
  const settling = SETTLING_S.map(() => 0.0);
  let total = 0.0;
  for (const [rung, slope] of ladder.entries()) {
    const slope_weight = prior[rung];
    const weighing = _weighing_error(subject, slope);
    const spreads = observations.map((o) => 5.0 * (_variance(o) + weighing));
    const onsets = shapes.map(([ceiling, bend]) => _onset(subject, slope, ceiling, bend));
    for (let node = 0; node < NODES; node += 1) {
      const missing = lowest + width * node;
      const first = slope_weight * _first_missing_weight(missing + added[0]);
      if (first <= 0.0) {
        continue;
      }
      let pair = 0.0;
      for (let j = 0; j < shapes.length; j += 1) {
        let believed = first;
        if (newest.valve_superheat_k !== null) {
          const beyond = missing - onsets[j];
          believed = believed * _starving(subject, newest.valve_superheat_k, beyond);
        }
        const [ceiling, bend] = shapes[j];
        const settled = added.map((a) => gap_at(missing + a, slope, ceiling, bend, subject));
        for (let k = 0; k < SETTLING_S.length; k += 1) {
          let weight = believed * SETTLING_WEIGHTS[k];
          const decay_k = decays[k];
          for (let i = 0; i < count; i += 1) {
            let off = gaps[i] - settled[i];
            if (before[i] >= 0) {
              off = off - (settled[before[i]] - settled[i]) * decay_k[i];
            }
            const q = 1.0 + (off * off) / spreads[i];
            weight = weight / (q * q * q);
          }
          settling[k] = settling[k] + weight;
          pair = pair + weight;
        }
      }
      total = total + pair;
      guesses.push(new Guess(pair, missing, slope));
    }
  }
  if (total <= 0.0) {
    return null;
  }
  return new Learned(
    guesses.map((g) => new Guess(g.weight / total, g.missing, g.slope_k)),
    settling.map((weight) => weight / total),
  );
}

/** The settled gap [K] of a guess when `missing` (share of the full charge) is missing.
 * @param {number} missing @param {number} slope_k @param {number} ceiling_k @param {number} bend
 * @param {Subject} subject */
export function gap_at(missing, slope_k, ceiling_k, bend, subject) {
  const straight = slope_k * missing;
  if (straight <= 0.0) {
    return straight;
  }
  if (subject.quantity === SUBCOOLING) {
    const bent = straight * (1.0 + (bend * straight) / subject.headroom_k);
    let share = bent / ceiling_k;
    share = share * share;
    return bent / square_root(square_root(1.0 + share * share));
  }
  const share = straight / ceiling_k;
  return straight / square_root(1.0 + share * share);
}

/** e^−`share`, from a table; 0 beyond its end. @param {number} share */
export function decay(share) {
  if (share <= 0.0) {
    return 1.0;
  }
  if (share >= 8.0) {
    return 0.0;
  }
  return linear(_DECAY_X, _DECAY_Y, share);
}

/** How many time constants until only `left` (0 to 1) of a change is still to come.
 * @param {number} left */
export function time_constants_until(left) {
  for (let i = 1; i < _DECAY_X.length; i += 1) {
    if (_DECAY_Y[i] <= left) {
      const share = (_DECAY_Y[i - 1] - left) / (_DECAY_Y[i - 1] - _DECAY_Y[i]);
      if (share < 0.0) {
        return 0.0;
      }
      return _DECAY_X[i - 1] + (_DECAY_X[i] - _DECAY_X[i - 1]) * share;
    }
  }
  return 8.0;
}

/** The value below which `share` of the weight lies, of (value, weight) pairs.
 * @param {readonly [number, number][]} values @param {number} share */
export function quantile(values, share) {
  return quantiles(values, [share])[0];
}

/** The values below which these shares of the weight lie; `shares` must rise.
 * @param {readonly [number, number][]} values @param {readonly number[]} shares */
export function quantiles(values, shares) {
  const ordered = [...values].sort((a, b) => a[0] - b[0]);
  /** @type {number[]} */
  const found = [];
  let reached = 0.0;
  for (const [value, weight] of ordered) {
    reached = reached + weight;
    while (found.length < shares.length && reached >= shares[found.length]) {
      found.push(value);
    }
    if (found.length === shares.length) {
      return found;
    }
  }
  while (found.length < shares.length) {
    found.push(last(ordered)[0]);
  }
  return found;
}

/** (share of the full charge missing, weight), spread by what the instruments may stand off.
 * @param {readonly Guess[]} guesses */
export function missing_with_bias(guesses) {
  /** @type {[number, number][]} */
  const found = [];
  for (const guess of guesses) {
    const spread = (BIAS_REACH * BIAS_K) / guess.slope_k;
    found.push([guess.missing - spread, guess.weight * BIAS_SIDE]);
    found.push([guess.missing, guess.weight * (1.0 - 2.0 * BIAS_SIDE)]);
    found.push([guess.missing + spread, guess.weight * BIAS_SIDE]);
  }
  return found;
}

/** @param {Observation} observation */
function _variance(observation) {
  const shape = SHAPE_SHARE * observation.gap_k;
  return NOISE_K * NOISE_K + shape * shape;
}

/** @param {Subject} subject @param {number} slope_k */
function _weighing_error(subject, slope_k) {
  const off = (slope_k * 0.4 * subject.step_kg) / subject.full_charge_kg;
  return off * off;
}

/** For each reading the last one before the charge changed, or −1.
 * @param {readonly Observation[]} observations */
function _charge_before(observations) {
  /** @type {number[]} */
  const found = [];
  for (let i = 0; i < observations.length; i += 1) {
    let j = i - 1;
    while (j >= 0 && observations[j].added_kg >= observations[i].added_kg) {
      j = j - 1;
    }
    found.push(j);
  }
  return found;
}

/** @param {readonly Observation[]} observations @param {number} settling_s */
function _decays(observations, settling_s) {
  /** @type {number[]} */
  const found = [];
  for (const observation of observations) {
    if (observation.since_shot_s === null) {
      found.push(0.0);
    } else {
      found.push(decay(observation.since_shot_s / settling_s));
    }
  }
  return found;
}

/** @param {Subject} subject */
function _slopes(subject) {
  if (subject.quantity === SUBCOOLING) {
    return [SUBCOOLING_SLOPES_K, SUBCOOLING_WEIGHTS];
  }
  return [SUPERHEAT_SLOPES_K, SUPERHEAT_WEIGHTS];
}

/** (ceiling [K], bend) of the shapes tried. @param {Subject} subject @returns {[number, number][]} */
function _shapes(subject) {
  if (subject.quantity === SUBCOOLING) {
    return SUBCOOLING_FLOORS.flatMap((share) =>
      BENDS.map((bend) => /** @type {[number, number]} */ ([share * subject.headroom_k, bend])),
    );
  }
  return SUPERHEAT_CEILINGS.map((share) => [share * subject.headroom_k, 0.0]);
}

/** The least and the most that may be missing at the last reading, as shares.
 * @param {Subject} subject @param {Observation} newest @param {readonly number[]} ladder
 * @param {number} added @returns {[number, number]} */
function _range_of_missing(subject, newest, ladder, added) {
  const room = 3.5 * square_root(_variance(newest));
  const steepest = last(ladder);
  const flattest = ladder[0];
  const low_gap = newest.gap_k - room;
  let lowest = low_gap > 0.0 ? low_gap / steepest : low_gap / flattest;
  lowest = max(lowest, -0.3);
  const high_gap = newest.gap_k + room;
  let highest = MISSING_MOST - added;
  if (high_gap <= 0.0) {
    highest = high_gap / steepest;
  } else if (high_gap < 0.6 * subject.headroom_k) {
    const reach = (1.5 * high_gap) / flattest;
    highest = min(highest, reach);
  }
  highest = max(highest, lowest + 0.02);
  return [lowest, highest];
}

/** @param {number} missing */
function _first_missing_weight(missing) {
  if (missing < -0.25 || missing >= MISSING_MOST) {
    return 0.0;
  }
  if (missing < 0.0) {
    return 0.5;
  }
  if (missing <= MISSING_FLAT) {
    return 1.0;
  }
  return (MISSING_MOST - missing) / (MISSING_MOST - MISSING_FLAT);
}

/** How well a guess agrees with the superheat of an expansion valve.
 * @param {Subject} subject @param {number} superheat_k @param {number} beyond */
function _starving(subject, superheat_k, beyond) {
  let setting = VALVE_SUPERHEAT_K;
  let spread = VALVE_SUPERHEAT_SPREAD_K;
  if (subject.valve_setting_k !== null) {
    setting = subject.valve_setting_k;
    spread = 2.0;
  }
  const excess = superheat_k - setting;
  beyond = max(beyond, 0.0);
  let off = 0.0;
  if (excess > beyond * STARVED_SLOPES_K[1]) {
    off = excess - beyond * STARVED_SLOPES_K[1];
  } else if (excess < beyond * STARVED_SLOPES_K[0]) {
    off = excess - beyond * STARVED_SLOPES_K[0];
  }
  const q = 1.0 + (off * off) / (spread * spread) / 5.0;
  return 1.0 / (q * q * q);
}

/** Share missing at which the condenser of a guess runs out of liquid.
 * @param {Subject} subject @param {number} slope_k @param {number} ceiling_k @param {number} bend */
function _onset(subject, slope_k, ceiling_k, bend) {
  if (bend <= 0.0) {
    return ceiling_k / slope_k;
  }
  const steeper = bend / subject.headroom_k;
  const root = square_root(1.0 + 4.0 * steeper * ceiling_k);
  return (root - 1.0) / (2.0 * steeper) / slope_k;
}

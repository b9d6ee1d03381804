// Twin of src/lowside/core/advice/feeding.py: how fast charge goes in, and the size of one shot.

import { max, min } from "./python.js";
import { TON_W } from "./units.js";

/** @typedef {import("./state.js").Shot} Shot */
/** @typedef {import("./system.js").System} System */

export const FIRST_RATE_KG_S = 0.008;

export const SAFE_SUPERHEAT_K = 2.0;

/** @type {Map<string, number>} */
export const BOILS = new Map([
  ["R-22", 1.8e-8],
  ["R-32", 1.3e-8],
  ["R-134a", 2.4e-8],
  ["R-290", 1.3e-8],
  ["R-404A", 3.9e-8],
  ["R-407A", 2.4e-8],
  ["R-407C", 2.1e-8],
  ["R-407F", 2.1e-8],
  ["R-410A", 2.5e-8],
  ["R-417A", 3.1e-8],
  ["R-421A", 3.3e-8],
  ["R-422B", 3.3e-8],
  ["R-422D", 3.7e-8],
  ["R-427A", 2.3e-8],
  ["R-448A", 2.3e-8],
  ["R-449A", 2.4e-8],
  ["R-450A", 2.6e-8],
  ["R-452A", 3.5e-8],
  ["R-452B", 1.8e-8],
  ["R-454A", 2.2e-8],
  ["R-454B", 1.8e-8],
  ["R-454C", 2.5e-8],
  ["R-455A", 2.2e-8],
  ["R-507A", 4.1e-8],
  ["R-513A", 3.1e-8],
  ["R-600a", 1.3e-8],
  ["R-1234yf", 3.6e-8],
  ["R-1234ze(E)", 2.7e-8],
  ["R-744", 4.6e-8],
]);
export const BOILS_LEAST = 1.3e-8;

export const HELD_KG_PER_W = 0.02 / TON_W;

export const FLASHES = 0.09;

export const LAG_S = 2.0;

export const HAND = 1.4;
export const STEPS_TRUSTED = 10.0;
export const LEAST_TIMED_S = 1.0;
export const ASKED_SHARE = 0.7;
export const SLOWEST_ASKED_KG_S = 0.0007;

export const LEAST_EXCESS = 0.2;

export const LEAST_BOIL_OFF_S = 60.0;
export const MOST_BOIL_OFF_S = 240.0;

export const LOWEST_CAPACITY_W = 1.5 * TON_W;

/** What this session's shots showed [kg/s]; `learned` is false before the first weighed one. */
export class Flow {
  /** @param {number} rate_kg_s @param {number} fastest_kg_s @param {boolean} learned */
  constructor(rate_kg_s, fastest_kg_s, learned) {
    this.rate_kg_s = rate_kg_s;
    this.fastest_kg_s = fastest_kg_s;
    this.learned = learned;
  }
}

/** Flow through the opened valve, from shots with a weight and a trusted time: the last one, averaged
 * with those before it until it is much heavier than the scale's step.
 * @param {readonly Shot[]} shots @param {number} step_kg */
export function flow_of(shots, step_kg) {
  let kilograms = 0.0;
  let seconds = 0.0;
  for (let i = shots.length - 1; i >= 0; i -= 1) {
    const shot = shots[i];
    if (shot.amount_kg === null || shot.open_s === null || shot.doubtful_time) {
      continue;
    }
    if (shot.amount_kg < 0.0 || shot.open_s <= 0.0) {
      continue;
    }
    kilograms = kilograms + shot.amount_kg;
    seconds = seconds + shot.open_s;
    if (kilograms >= STEPS_TRUSTED * step_kg) {
      break;
    }
  }
  if (kilograms <= 0.0 || seconds < LEAST_TIMED_S) {
    return new Flow(FIRST_RATE_KG_S, FIRST_RATE_KG_S, false);
  }
  const rate = kilograms / seconds;
  return new Flow(rate, HAND * rate + (0.5 * step_kg) / seconds, true);
}

/** The suction side as the last reading shows it. */
export class Suction {
  /** @param {string} refrigerant @param {number} capacity_w @param {number | null} superheat_k */
  constructor(refrigerant, capacity_w, superheat_k) {
    this.refrigerant = refrigerant;
    this.capacity_w = capacity_w;
    this.superheat_k = superheat_k;
  }
}

/** The suction side of a unit; a small one when its capacity is not known.
 * @param {System} system @param {number | null} superheat_k */
export function suction_of(system, superheat_k) {
  let capacity = system.capacity_w;
  if (capacity === null || capacity <= 0.0) {
    capacity = LOWEST_CAPACITY_W;
  }
  return new Suction(system.refrigerant, capacity, superheat_k);
}

/** Liquid [kg/s] the suction gas boils while `SAFE_SUPERHEAT_K` is left, 0 at least.
 * @param {Suction} suction */
export function boil_rate(suction) {
  if (suction.superheat_k === null || suction.superheat_k <= SAFE_SUPERHEAT_K) {
    return 0.0;
  }
  const boils = BOILS.get(suction.refrigerant) ?? BOILS_LEAST;
  const boiled = suction.capacity_w * boils * (suction.superheat_k - SAFE_SUPERHEAT_K);
  return boiled / (1.0 - FLASHES);
}

/** Liquid [kg] that may lie in the suction line for a moment. @param {Suction} suction */
export function held_kg(suction) {
  return suction.capacity_w * HELD_KG_PER_W;
}

/** Flow [kg/s] to open the valve for: what the suction gas boils as it comes.
 * @param {Suction} suction */
export function rate_to_ask_for(suction) {
  return max(ASKED_SHARE * boil_rate(suction), SLOWEST_ASKED_KG_S);
}

/** The largest shot [kg] the suction line can take at this flow.
 * @param {Suction} suction @param {Flow} flow */
export function most_in_one_opening(suction, flow) {
  const left = max(1.0 - boil_rate(suction) / flow.fastest_kg_s, LEAST_EXCESS);
  return held_kg(suction) / (1.0 - FLASHES) / left;
}

/** Pause [s] until what lies in the suction line has boiled. @param {Suction} suction */
export function boil_off_s(suction) {
  const boiled = boil_rate(suction);
  if (boiled <= 0.0) {
    return MOST_BOIL_OFF_S;
  }
  const pause = (1.5 * held_kg(suction)) / boiled;
  return min(max(pause, LEAST_BOIL_OFF_S), MOST_BOIL_OFF_S);
}

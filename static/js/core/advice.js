// Twin of src/lowside/core/advice/advice.py: what to do next while charging.

import {
  ADD as CALLS_FOR_CHARGE,
  DO_NOT_ADD as POINTS_ELSEWHERE,
  ON_TARGET,
  OVER,
  UNKNOWN,
  reason,
} from "./charge.js";
import * as doubts from "./doubts.js";
import { elapsed } from "./events.js";
import * as feeding from "./feeding.js";
import { Unknown } from "./findings.js";
import * as gate from "./gate.js";
import { outlook_of } from "./outlook.js";
import { int, last, max, min } from "./python.js";
import { added_kg, open_shot } from "./state.js";
import { BY_WEIGHT } from "./system.js";
import { weigh_in, weigh_in_left } from "./targets.js";
import * as words_of_advice from "./words_of_advice.js";

/** @typedef {import("./charge.js").Assessment} Assessment */
/** @typedef {import("./events.js").Moment} Moment */
/** @typedef {import("./gate.js").Block} Block */
/** @typedef {import("./outlook.js").Outlook} Outlook */
/** @typedef {import("./state.js").Shot} Shot */
/** @typedef {import("./state.js").State} State */
/** @typedef {import("./state.js").Taken} Taken */
/** @typedef {import("./system.js").System} System */

export const READ = "read";
export const ADD = "add";
export const WAIT = "wait";
export const STOP = "stop";
export const DO_NOT_ADD = "do_not_add";
export const RECOVER = "recover";
export const FINISH = "finish";
export const ACTIONS = [READ, ADD, WAIT, STOP, DO_NOT_ADD, RECOVER, FINISH];

export const STOPPING = [
  "stopped",
  "wrong_refrigerant",
  "reading_stop",
  "mixed_refrigerant",
  "leaking",
];
export const NOT_YET_DECIDED = ["undecided", "no_baseline"];

export const TOO_EARLY_S = 120.0;
export const LEAST_WAIT_S = 240.0;
export const MOST_WAIT_S = 900.0;

export const SURE = 0.95;
export const LIKELY = 0.97;
export const CLOSE = 0.4;
export const WORTH = 0.2;
export const LEAST_SHOT_KG = 0.01;
export const CONFIRM_K = 0.5;
export const BATCH_LEFT = 0.3;

/** What to do next. Masses in kg, times in s; `null` where it does not apply. */
export class Advice {
  /** @param {string} action @param {number | null} amount_kg @param {number | null} open_s
   * @param {number | null} wait_s @param {number | null} remaining_kg
   * @param {number | null} remaining_low_kg @param {number | null} remaining_high_kg
   * @param {string[]} reasons @param {number | null} [rate_kg_s] */
  constructor(
    action,
    amount_kg,
    open_s,
    wait_s,
    remaining_kg,
    remaining_low_kg,
    remaining_high_kg,
    reasons,
    rate_kg_s = null,
  ) {
    this.action = action;
    this.amount_kg = amount_kg;
    this.open_s = open_s;
    this.wait_s = wait_s;
    this.remaining_kg = remaining_kg;
    this.remaining_low_kg = remaining_low_kg;
    this.remaining_high_kg = remaining_high_kg;
    this.reasons = reasons;
    this.rate_kg_s = rate_kg_s;
  }
}

/** The next thing to do. @param {State} state @param {Moment | null} [now] @returns {Advice} */
export function advise(state, now = null) {
  const barred = _barred(state);
  if (barred !== null) {
    return barred;
  }
  if (state.system !== null && state.system.method === BY_WEIGHT) {
    return _by_weight(state, state.system);
  }
  const basis = _basis(state);
  if (basis === null || basis.assessment === null) {
    return _plain(READ, _why_read(state));
  }
  const moment = _now(state, now);
  const outlook = outlook_of(state, basis);
  const shut = state.shots.filter((shot) => shot.closed !== null);
  const since_basis = shut.slice(basis.shots_before);
  if (open_shot(state) !== null) {
    return _while_open(state, outlook, since_basis);
  }
  if (since_basis.length > 0) {
    return _after_shots(state, basis.assessment, outlook, since_basis, moment);
  }
  return _on_reading(state, basis, basis.assessment, outlook, moment);
}

/** The advice as `lowside replay --json` prints it, masses in g. @param {Advice} advice */
export function as_json(advice) {
  return {
    action: advice.action,
    amount_g: _grams(advice.amount_kg),
    open_s: advice.open_s,
    wait_s: advice.wait_s,
    remaining_g: _grams(advice.remaining_kg),
    remaining_low_g: _grams(advice.remaining_low_kg),
    remaining_high_g: _grams(advice.remaining_high_kg),
    reasons: [...advice.reasons],
  };
}

/** What is advised whatever the readings say. @param {State} state @returns {Advice | null} */
function _barred(state) {
  if (state.closed !== null) {
    return _plain(FINISH, "This session is closed.");
  }
  const blocked = _blocked(state);
  if (blocked === null) {
    return null;
  }
  const action = STOPPING.includes(blocked.code) ? STOP : DO_NOT_ADD;
  return _plain(action, blocked.sentence + " " + blocked.cure);
}

/** @param {State} state @returns {Block | null} */
function _blocked(state) {
  if (state.readings.length === 0 && state.start_weight === null && state.running) {
    const early = gate.blocks(state).filter((b) => STOPPING.includes(b.code));
    return early.length > 0 ? early[0] : null;
  }
  for (const block of gate.blocks(state)) {
    if (!NOT_YET_DECIDED.includes(block.code)) {
      return block;
    }
  }
  return null;
}

/** The newest reading that says something about the charge: taken while running, not too soon
 * after a shot, unless it is the only one. @param {State} state @returns {Taken | null} */
function _basis(state) {
  /** @type {Taken | null} */
  let found = null;
  for (const taken of state.readings) {
    if (!taken.running) {
      continue;
    }
    if (taken.since_shot_s !== null && taken.since_shot_s < TOO_EARLY_S) {
      continue;
    }
    found = taken;
  }
  return found;
}

/** @param {State} state */
function _why_read(state) {
  if (state.system === null) {
    return words_of_advice.NO_UNIT;
  }
  if (state.readings.length === 0) {
    return words_of_advice.NO_READING;
  }
  if (_basis(state) === null) {
    return words_of_advice.NO_USABLE_READING;
  }
  return words_of_advice.NO_HANDBOOK;
}

/** @param {State} state @param {Moment | null} now */
function _now(state, now) {
  if (now !== null) {
    return now;
  }
  if (state.entries.length > 0) {
    return last(state.entries).moment;
  }
  const newest = last(state.readings).moment;
  if (state.shots.length > 0) {
    const closed = last(state.shots).closed;
    if (closed !== null && elapsed(newest, closed).seconds > 0.0) {
      return closed;
    }
  }
  return newest;
}

/** The last thing that happened is a reading that counts.
 * @param {State} state @param {Taken} basis @param {Assessment} assessment
 * @param {Outlook | null} outlook @param {Moment} now */
function _on_reading(state, basis, assessment, outlook, now) {
  const why = reason(assessment, state.units);
  if (assessment.verdict === UNKNOWN) {
    return _plain(READ, why);
  }
  const early = _still_settling(state, basis, outlook, now);
  if (
    (assessment.verdict === POINTS_ELSEWHERE || assessment.verdict === OVER) &&
    early !== null
  ) {
    return early;
  }
  if (assessment.verdict === POINTS_ELSEWHERE) {
    return _plain(DO_NOT_ADD, why);
  }
  if (outlook === null) {
    return _plain(DO_NOT_ADD, words_of_advice.NO_GUESS);
  }
  if (assessment.verdict === OVER) {
    return _over(outlook, why);
  }
  const doubt = doubts.doubt(
    state,
    basis,
    outlook.observations,
    outlook.full_charge_kg,
    outlook.low_kg,
  );
  if (assessment.verdict === ON_TARGET) {
    return _near(state, outlook, early, why, doubt);
  }
  if (doubt !== null) {
    return _with_range(DO_NOT_ADD, outlook, [doubt]);
  }
  return _add(state, outlook, early, why);
}

/** @param {State} state @param {Outlook | null} outlook @param {readonly Shot[]} since */
function _while_open(state, outlook, since) {
  if (outlook === null) {
    return _plain(STOP, words_of_advice.SHUT_UNPLANNED);
  }
  const fed = _fed(since, outlook);
  const left = _planned(state, outlook) - fed;
  if (left < LEAST_SHOT_KG) {
    return _plain(STOP, words_of_advice.SHUT_UNPLANNED);
  }
  return _shot(state, outlook, left, [words_of_advice.SHUT_IN_TIME], fed);
}

/** A shot went in since the last reading that counts.
 * @param {State} state @param {Assessment} assessment @param {Outlook | null} outlook
 * @param {readonly Shot[]} since @param {Moment} now */
function _after_shots(state, assessment, outlook, since, now) {
  const shut = last(since).closed;
  const passed = shut === null ? 0.0 : elapsed(shut, now).seconds;
  const fed = _fed(since, outlook);
  const going_on = [CALLS_FOR_CHARGE, ON_TARGET].includes(assessment.verdict);
  if (outlook !== null && going_on && !_flooding(state)) {
    const planned = _planned(state, outlook);
    const left = planned - fed;
    if (left >= max(max(LEAST_SHOT_KG, BATCH_LEFT * planned), _step(state))) {
      const pause = feeding.boil_off_s(outlook.suction_after(fed)) - passed;
      if (pause >= 1.0) {
        return _wait(outlook, pause, words_of_advice.BOIL_OFF, fed);
      }
      const why = [words_of_advice.batch(state, planned, fed)];
      return _shot(state, outlook, left, why, fed);
    }
  }
  const wait = (outlook === null ? LEAST_WAIT_S : _settle_s(outlook, fed)) - passed;
  if (wait >= 1.0) {
    return _wait(outlook, wait, words_of_advice.settling(state), fed);
  }
  return _with_range(READ, outlook, [words_of_advice.SETTLED], fed);
}

/** A later reading is called for, because this one was taken before the unit had settled.
 * @param {State} state @param {Taken} basis @param {Outlook | null} outlook @param {Moment} now
 * @returns {Advice | null} */
function _still_settling(state, basis, outlook, now) {
  if (basis.since_shot_s === null || outlook === null || state.shots.length === 0) {
    return null;
  }
  const wanted = outlook.full_wait_s;
  if (basis.since_shot_s >= wanted - 1.0) {
    return null;
  }
  const shut = last(state.shots).closed;
  let left = wanted;
  if (shut !== null) {
    left = wanted - elapsed(shut, now).seconds;
  }
  if (left >= 1.0) {
    return _wait(outlook, left, words_of_advice.NOT_SETTLED, 0.0);
  }
  return _with_range(READ, outlook, [words_of_advice.READ_AGAIN_SETTLED]);
}

/** @param {Outlook} outlook @param {string} why */
function _over(outlook, why) {
  if (outlook.gap_k > -outlook.tolerance_k - CONFIRM_K && outlook.readings_here < 2) {
    return _with_range(READ, outlook, [words_of_advice.CONFIRM_OVER]);
  }
  const amount = -outlook.missing_kg;
  return new Advice(
    RECOVER,
    amount > 0.0 ? amount : null,
    null,
    null,
    outlook.missing_kg,
    outlook.low_kg,
    outlook.high_kg,
    [why, words_of_advice.NEVER_VENT],
  );
}

/** The reading is within tolerance; what speaks against more charge is said, not acted on.
 * @param {State} state @param {Outlook} outlook @param {Advice | null} early @param {string} why
 * @param {string | null} doubt */
function _near(state, outlook, early, why, doubt) {
  if (doubt !== null) {
    return _with_range(FINISH, outlook, [why, doubt]);
  }
  const near = outlook.expected_gap_k <= CLOSE * outlook.tolerance_k;
  const enough =
    outlook.observations.length >= doubts.SESSION_READINGS && outlook.within >= LIKELY;
  if (enough || (near && outlook.within >= SURE)) {
    return _with_range(FINISH, outlook, [why]);
  }
  const amount = outlook.safe_kg;
  const worth = amount * outlook.slope_k_per_kg >= WORTH * outlook.tolerance_k;
  if (outlook.expected_gap_k > 0.0 && worth && amount >= max(_step(state), LEAST_SHOT_KG)) {
    return _shot(state, outlook, amount, [words_of_advice.TRIM]);
  }
  if (early !== null) {
    return early;
  }
  if (outlook.readings_here < 2) {
    return _with_range(READ, outlook, [words_of_advice.CONFIRM_NEAR]);
  }
  return _with_range(FINISH, outlook, [why]);
}

/** @param {State} state @param {Outlook} outlook @param {Advice | null} early @param {string} why */
function _add(state, outlook, early, why) {
  const least = max(_step(state), LEAST_SHOT_KG);
  if (outlook.safe_kg >= least) {
    return _shot(state, outlook, outlook.safe_kg, [why]);
  }
  if (early !== null) {
    return early;
  }
  if (outlook.readings_here < 2) {
    return _with_range(READ, outlook, [words_of_advice.CONFIRM_NEAR]);
  }
  return _shot(state, outlook, least, [why]);
}

/** The next opening of what is left to feed, with `fed_kg` in since the last reading.
 * @param {State} state @param {Outlook} outlook @param {number} left @param {string[]} why
 * @param {number} [fed_kg] */
function _shot(state, outlook, left, why, fed_kg = 0.0) {
  let suction = outlook.suction_after(fed_kg);
  const first = min(left, feeding.most_in_one_opening(suction, outlook.flow));
  suction = outlook.suction_after(fed_kg + 0.5 * first);
  const most = feeding.most_in_one_opening(suction, outlook.flow);
  let amount = left;
  const reasons = [...why];
  if (amount > most) {
    amount = most;
    reasons.push(words_of_advice.liquid_limit(state, most));
  }
  const lag = outlook.flow.fastest_kg_s * feeding.LAG_S;
  amount = _whole_steps(max(amount - lag, LEAST_SHOT_KG), _step(state));
  const seconds = amount / outlook.flow.rate_kg_s;
  const asked = feeding.rate_to_ask_for(suction);
  reasons.push(words_of_advice.flow(state, outlook.flow, asked));
  reasons.push(words_of_advice.missing(state, outlook));
  return new Advice(
    ADD,
    amount,
    max(seconds, 1.0),
    null,
    outlook.missing_kg,
    outlook.low_kg,
    outlook.high_kg,
    reasons,
    asked,
  );
}

/** @param {State} state @param {Outlook} outlook */
function _planned(state, outlook) {
  if (outlook.safe_kg < _step(state)) {
    return _step(state);
  }
  return outlook.safe_kg;
}

/** Charge in these shots [kg]; an unweighed one by its time and the flow seen so far.
 * @param {readonly Shot[]} since @param {Outlook | null} outlook */
function _fed(since, outlook) {
  let total = 0.0;
  for (const shot of since) {
    if (shot.amount_kg !== null) {
      total = total + shot.amount_kg;
    } else if (outlook !== null && shot.open_s !== null) {
      total = total + shot.open_s * outlook.flow.fastest_kg_s;
    }
  }
  return total;
}

/** The newest reading, settled or not, shows the suction gas without superheat.
 * @param {State} state */
function _flooding(state) {
  const later = last(state.readings);
  if (later.assessment === null) {
    return false;
  }
  const superheat = later.assessment.superheat_k;
  return !(superheat instanceof Unknown) && superheat < feeding.SAFE_SUPERHEAT_K;
}

/** @param {Outlook} outlook @param {number} fed_kg */
function _settle_s(outlook, fed_kg) {
  return min(max(outlook.wait_for(fed_kg), LEAST_WAIT_S), MOST_WAIT_S);
}

/** @param {State} state */
function _step(state) {
  return state.scale === null ? 0.0 : state.scale.resolution_kg;
}

/** The nearest whole number of the scale's steps, one at least.
 * @param {number} kilograms @param {number} step_kg */
function _whole_steps(kilograms, step_kg) {
  if (step_kg <= 0.0) {
    return kilograms;
  }
  let count = int(kilograms / step_kg + 0.5);
  count = max(count, 1.0);
  return count * step_kg;
}

/** Readings say nothing about the charge here: only the scale and the nameplate do.
 * @param {State} state @param {System} system */
function _by_weight(state, system) {
  const charge = weigh_in(system);
  if (charge instanceof Unknown) {
    return _plain(READ, words_of_advice.finding(state, charge.reason));
  }
  const left = weigh_in_left(charge, added_kg(state));
  const least = left.from_nameplate_kg !== null ? left.from_nameplate_kg : 0.0;
  const why = words_of_advice.by_weight(state, least, left.from_empty_kg);
  if (least < LEAST_SHOT_KG) {
    return new Advice(DO_NOT_ADD, null, null, null, null, least, left.from_empty_kg, [why]);
  }
  const flow = feeding.flow_of(state.shots, _step(state));
  const suction = feeding.suction_of(system, null);
  let amount = min(least, feeding.most_in_one_opening(suction, flow));
  amount = _whole_steps(amount, _step(state));
  const seconds = max(amount / flow.rate_kg_s, 1.0);
  return new Advice(ADD, amount, seconds, null, least, least, left.from_empty_kg, [why]);
}

/** @param {Outlook | null} outlook @param {number} seconds @param {string} why
 * @param {number} fed_kg */
function _wait(outlook, seconds, why, fed_kg) {
  const advice = _with_range(WAIT, outlook, [why], fed_kg);
  advice.wait_s = seconds;
  return advice;
}

/** Advice without an amount; `fed_kg` went in since the reading the outlook rests on.
 * @param {string} action @param {Outlook | null} outlook @param {string[]} reasons
 * @param {number} [fed_kg] */
function _with_range(action, outlook, reasons, fed_kg = 0.0) {
  if (outlook === null) {
    return new Advice(action, null, null, null, null, null, null, reasons);
  }
  return new Advice(
    action,
    null,
    null,
    null,
    outlook.missing_kg - fed_kg,
    outlook.low_kg - fed_kg,
    outlook.high_kg - fed_kg,
    reasons,
  );
}

/** @param {string} action @param {string} why */
function _plain(action, why) {
  return new Advice(action, null, null, null, null, null, null, [why]);
}

/** @param {number | null} kilograms */
function _grams(kilograms) {
  return kilograms === null ? null : kilograms * 1000.0;
}

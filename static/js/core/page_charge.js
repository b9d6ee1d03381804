// Twin of src/lowside/core/pages/charging.py: the charging page.

import * as addresses from "./addresses.js";
import { ADD, DO_NOT_ADD, FINISH, READ, RECOVER, STOP, WAIT, advise } from "./advice.js";
import * as cylinders from "./cylinder.js";
import { elapsed } from "./events.js";
import * as gate from "./gate.js";
import { fact, finding_context, finding_contexts, left_kg } from "./page_facts.js";
import { figures_of } from "./page_figures.js";
import { full_form, nth_eid, small_form } from "./page_forms.js";
import { STOP_FORM } from "./page_parts.js";
import { int, item, last } from "./python.js";
import { added_kg, latest_reading, open_shot, sum_of_shots, unweighed_shots } from "./state.js";
import { label, small_mass_unit } from "./unit_choice.js";
import { label as unit_label } from "./units.js";
import { clock_time, timer } from "./wording.js";

/** @typedef {import("./advice.js").Advice} Advice */
/** @typedef {import("./events.js").Moment} Moment */
/** @typedef {import("./handbook.js").Handbook} Handbook */
/** @typedef {import("./page_forms.js").Attempt} Attempt */
/** @typedef {import("./procedure.js").Step} Step */
/** @typedef {import("./state.js").Shot} Shot */
/** @typedef {import("./state.js").State} State */

export const SHOT_FORM = 4;
export const CLOSE_OUT_FORM = 5;
export const FINISH_FORM = 6;

/** @type {Map<string, string>} */
export const WORDS = new Map([
  [READ, "Take a reading"],
  [ADD, "Add a shot"],
  [WAIT, "Wait"],
  [STOP, "Stop"],
  [DO_NOT_ADD, "Do not add"],
  [RECOVER, "Too much inside"],
  [FINISH, "Charge is right: close out"],
]);

export const CLOSING = [FINISH, STOP, DO_NOT_ADD, RECOVER];

export const NEVER = [STOP, RECOVER];

/** Part of the context of `field/charge.html`, over that of the step page.
 * @param {State} state @param {Step} step @param {Handbook} handbook @param {Moment} now
 * @param {string} fresh @param {Attempt | null} attempt @returns {Record<string, any>} */
export function charge_context(state, step, handbook, now, fresh, attempt) {
  const running = open_shot(state);
  const advice = advise(state, now);
  const latest = latest_reading(state);
  let shot = null;
  if (state.closed === null && running !== null) {
    shot = _shot_form(state, handbook, "shot_close", fresh, attempt);
  } else if (
    (gate.blocks(state).length === 0 && !NEVER.includes(advice.action)) ||
    (attempt !== null && attempt.form === "shot_open")
  ) {
    shot = _shot_form(state, handbook, "shot_open", fresh, attempt);
  }
  return {
    page: "charge",
    advice: _advice(state, advice, running),
    clock: _clock(state, advice, running, now),
    shot,
    shot_open: shot !== null && running !== null,
    figures: latest !== null ? figures_of(state, latest) : [],
    reading_line: _reading_line(state, now),
    findings_now: [...finding_contexts(state, latest), ..._enough(state, advice)],
    facts: _facts(state, advice),
    shots: _shots(state),
    finish: _finish(state, step, fresh, running, advice),
    thumb: _thumb(state, step, fresh, running, advice, shot !== null),
  };
}

/** @param {State} state @param {Handbook} handbook @param {string} name @param {string} fresh
 * @param {Attempt | null} attempt */
function _shot_form(state, handbook, name, fresh, attempt) {
  const back = addresses.current(state.sid);
  return full_form(state, handbook, name, nth_eid(fresh, SHOT_FORM), "", back, attempt);
}

/** @param {State} state @param {Advice} advice @param {Shot | null} running */
function _advice(state, advice, running) {
  if (running !== null) {
    let how = "Shut the valve when the time or the weight is reached.";
    if (advice.open_s !== null && advice.amount_kg !== null) {
      how =
        "Shut the valve after about " +
        timer(advice.open_s) +
        " or " +
        _small(state, advice.amount_kg) +
        ", whichever comes first.";
    }
    return {
      action: "open",
      word: "Valve is open",
      how,
      reason: "",
      more: [...advice.reasons],
    };
  }
  return {
    action: advice.action,
    word: item(WORDS, advice.action),
    how: _how(state, advice),
    reason: state.running ? advice.reasons[0] : "",
    more: state.running ? advice.reasons.slice(1) : [],
  };
}

/** @param {State} state @param {Advice} advice */
function _how(state, advice) {
  if (advice.action === ADD && advice.amount_kg !== null) {
    let how = "About " + _small(state, advice.amount_kg);
    if (advice.open_s !== null) {
      how = how + ", open about " + timer(advice.open_s);
    }
    return how + ", then shut.";
  }
  if (advice.action === WAIT && advice.wait_s !== null) {
    return "Let it boil off and settle before you read.";
  }
  if (advice.action === READ) {
    return "All gauges and clamps together, once they stand still.";
  }
  if (advice.action === FINISH) {
    return "Keep the low handwheel shut and go on to the close-out.";
  }
  if (advice.action === RECOVER) {
    return (
      "Take refrigerant out with a recovery machine into a recovery cylinder. Never vent it."
    );
  }
  return "Keep the cylinder shut.";
}

/** @param {State} state @param {Advice} advice @param {Shot | null} running @param {Moment} now */
function _clock(state, advice, running, now) {
  if (running !== null) {
    const seconds = elapsed(running.opened, now).seconds;
    return {
      kind: "open",
      label: "Valve open",
      elapsed: int(seconds),
      wait: "0",
      text: timer(seconds),
      after: "",
    };
  }
  const closed = state.shots.length > 0 ? last(state.shots).closed : null;
  const latest = latest_reading(state);
  const read_since = latest !== null && latest.shots_before === state.shots.length;
  if (closed === null || (read_since && advice.action !== WAIT)) {
    return null;
  }
  const seconds = elapsed(closed, now).seconds;
  const wait = advice.wait_s !== null ? advice.wait_s : 0.0;
  const total = seconds + wait;
  return {
    kind: "wait",
    label: wait > 0.0 ? "Settling" : "Since the last shot",
    elapsed: int(seconds),
    wait: wait > 0.0 ? String(int(total)) : "0",
    text: wait > 0.0 ? timer(wait) : timer(seconds),
    after: wait > 0.0 ? "until a reading means anything" : "",
  };
}

/** @param {State} state @param {Moment} now */
function _reading_line(state, now) {
  const latest = latest_reading(state);
  if (latest === null) {
    return "No reading yet.";
  }
  const minutes = int(elapsed(latest.moment, now).seconds / 60.0);
  const ago = minutes < 1 ? "just now" : String(minutes) + " min ago";
  const behind = state.shots.length - latest.shots_before;
  let line = "Read at " + clock_time(latest.moment) + ", " + ago;
  if (behind > 0) {
    line = line + ", before the last " + (behind === 1 ? "shot" : String(behind) + " shots");
  }
  return line + ".";
}

/** @param {State} state @param {Advice} advice */
function _facts(state, advice) {
  const facts = [fact("Added so far", _small(state, added_kg(state)))];
  const unweighed = unweighed_shots(state);
  if (unweighed > 0) {
    facts.push(fact("Shots without a weight", String(unweighed)));
  }
  facts.push(..._missing(state, advice));
  const left = left_kg(state);
  if (left !== null) {
    facts.push(fact("Left in the cylinder", label("mass", left, state.units)));
  }
  if (state.last_scale_kg !== null) {
    facts.push(fact("Scale read last", label("mass", state.last_scale_kg, state.units)));
  }
  return facts;
}

/** The estimate of what is missing (or too much) as a range.
 * @param {State} state @param {Advice} advice */
function _missing(state, advice) {
  const low = advice.remaining_low_kg;
  const high = advice.remaining_high_kg;
  if (low === null || high === null) {
    return [];
  }
  if (high <= 0.0) {
    const range = _small(state, -high) + " to " + _small(state, -low);
    return [fact("Too much, estimate", range)];
  }
  if (low <= 0.0) {
    return [fact("Still missing, estimate", "at most " + _small(state, high))];
  }
  return [fact("Still missing, estimate", _small(state, low) + " to " + _small(state, high))];
}

/** Whether the cylinder holds what is still missing. @param {State} state @param {Advice} advice */
function _enough(state, advice) {
  const left = left_kg(state);
  const low = advice.remaining_low_kg;
  const high = advice.remaining_high_kg;
  if (left === null || low === null || high === null) {
    return [];
  }
  const finding = cylinders.enough(left, low, high);
  return finding === null ? [] : [finding_context(state, finding)];
}

/** @param {State} state */
function _shots(state) {
  const rows = [];
  for (const [i, shot] of state.shots.entries()) {
    if (shot.closed === null) {
      continue;
    }
    const total = sum_of_shots(state.shots.slice(0, i + 1));
    rows.push({
      number: String(i + 1),
      open: shot.open_s !== null ? timer(shot.open_s) : "not known",
      amount: shot.amount_kg !== null ? _small(state, shot.amount_kg) : "not weighed",
      total: _small(state, total),
    });
  }
  return rows;
}

/** @param {State} state @param {Step} step @param {string} fresh @param {Shot | null} running
 * @param {Advice} advice */
function _finish(state, step, fresh, running, advice) {
  if (state.closed !== null || running !== null || state.done.has(step.id)) {
    return null;
  }
  if (CLOSING.includes(advice.action) && state.running) {
    return null;
  }
  return small_form(
    state.sid,
    "done",
    nth_eid(fresh, FINISH_FORM),
    step.id,
    "",
    "Stop adding, close out",
  );
}

/** The one or two actions at the thumb; the advised one stands out.
 * @param {State} state @param {Step} step @param {string} fresh @param {Shot | null} running
 * @param {Advice} advice @param {boolean} can_shoot */
function _thumb(state, step, fresh, running, advice, can_shoot) {
  /** @type {Record<string, any>} */
  const thumb = {
    pair: false,
    reading: "",
    reading_style: "secondary",
    reading_label: "Take a reading",
    shot_style: "primary",
    close_out: null,
  };
  if (state.closed !== null || running !== null) {
    return thumb;
  }
  if (!state.running) {
    thumb.close_out = small_form(state.sid, "system_started", nth_eid(fresh, STOP_FORM));
    return thumb;
  }
  thumb.reading = addresses.form(state.sid, "reading");
  if (CLOSING.includes(advice.action) && !state.done.has(step.id)) {
    thumb.reading = "";
    thumb.shot_style = "secondary";
    thumb.close_out = small_form(
      state.sid,
      "done",
      nth_eid(fresh, CLOSE_OUT_FORM),
      step.id,
      "",
      "Close out",
    );
  } else if (advice.action !== ADD || !can_shoot) {
    thumb.reading_style = "primary";
    thumb.shot_style = "secondary";
  }
  thumb.pair = can_shoot;
  return thumb;
}

/** @param {State} state @param {number} kilograms */
function _small(state, kilograms) {
  return unit_label("mass", kilograms, small_mass_unit(state.units));
}

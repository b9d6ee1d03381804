// Twin of src/lowside/core/advice/words.py: the sentences of the advice.

import { sentence } from "./findings.js";
import { small_mass_unit } from "./unit_choice.js";
import { label } from "./units.js";

/** @typedef {import("./feeding.js").Flow} Flow */
/** @typedef {import("./findings.js").Finding} Finding */
/** @typedef {import("./outlook.js").Outlook} Outlook */
/** @typedef {import("./state.js").State} State */

export const NO_UNIT = "Enter the unit and its target first; a reading means nothing without them.";
export const NO_READING =
  "Nothing has been read yet: the first reading says whether charge is missing at all.";
export const NO_USABLE_READING =
  "No reading so far was taken with the unit running and settled.";
export const NO_HANDBOOK = "The readings cannot be judged without the property tables.";
export const NO_GUESS =
  "The readings fit no unit this program can imagine. Check the instruments.";
export const SHUT_UNPLANNED =
  "Shut the valve: nothing more was planned before the next reading.";
export const SHUT_IN_TIME =
  "Shut the valve at the weight or the time, whichever comes first.";
export const BOIL_OFF =
  "Let what lies in the suction line boil off before the next opening.";
export const SETTLED = "The last shot has had time to settle: read everything again.";
export const NOT_SETTLED =
  "The unit has not settled since the last shot, so the reading may still move.";
export const READ_AGAIN_SETTLED =
  "The last reading was taken before the unit had settled: read again.";
export const CONFIRM_OVER =
  "The reading is just past the tolerance: read again before anything is taken out.";
export const CONFIRM_NEAR =
  "The reading is close to the edge of the tolerance: a second one settles it.";
export const TRIM =
  "Within tolerance, but near its lower edge: a small shot brings it to the middle.";
export const NEVER_VENT = "Recover it into a recovery cylinder; never vent it.";

/** A finding in the session's units. @param {State} state @param {Finding} found */
export function finding(state, found) {
  return sentence(found, state.units);
}

/** Why to wait after a shot. @param {State} state */
export function settling(state) {
  if (state.shots.length <= 1) {
    return "Let the shot boil off and the unit settle; how fast it does shows in the readings.";
  }
  return "Let the shot boil off and the unit settle before you read.";
}

/** Why another opening follows without a reading.
 * @param {State} state @param {number} planned_kg @param {number} fed_kg */
export function batch(state, planned_kg, fed_kg) {
  return (
    _small(state, fed_kg) +
    " of the " +
    _small(state, planned_kg) +
    " that surely fit are in; the rest may follow before the next reading."
  );
}

/** Why the shot is smaller than what is missing. @param {State} state @param {number} most_kg */
export function liquid_limit(state, most_kg) {
  return (
    "No more than about " +
    _small(state, most_kg) +
    " at once, so that the suction gas can boil all of it."
  );
}

/** How much is still missing, as a range. @param {State} state @param {Outlook} outlook */
export function missing(state, outlook) {
  const low = outlook.low_kg > 0.0 ? outlook.low_kg : 0.0;
  return (
    "Still missing: " +
    _small(state, low) +
    " to " +
    _small(state, outlook.high_kg > low ? outlook.high_kg : low) +
    ", most likely about " +
    _small(state, outlook.missing_kg > low ? outlook.missing_kg : low) +
    "."
  );
}

/** How far to open the valve, and where the seconds come from.
 * @param {State} state @param {Flow} seen @param {number} asked_kg_s */
export function flow(state, seen, asked_kg_s) {
  const asked = _small(state, asked_kg_s * 60.0);
  if (!seen.learned) {
    return (
      "Crack the valve so that the scale falls by no more than about " +
      asked +
      " a minute; its flow is not known yet, so watch the scale."
    );
  }
  const text = "The last opening ran " + _small(state, seen.rate_kg_s * 60.0) + " a minute";
  if (seen.rate_kg_s > asked_kg_s * 1.5) {
    return text + ": open less, to about " + asked + " a minute, so that the gas can boil it.";
  }
  return text + ", about what the suction gas can boil.";
}

/** What the nameplate says is still to weigh in.
 * @param {State} state @param {number} least_kg @param {number} most_kg */
export function by_weight(state, least_kg, most_kg) {
  if (least_kg > 0.0) {
    return (
      "By weight: " +
      _small(state, least_kg) +
      " for the line set if the unit came with its nameplate charge, " +
      _small(state, most_kg > 0.0 ? most_kg : 0.0) +
      " in all if it started empty."
    );
  }
  return (
    "By weight: " +
    _small(state, most_kg > 0.0 ? most_kg : 0.0) +
    " if the unit started empty; readings do not show how much is inside, so nothing more " +
    "is advised."
  );
}

/** @param {State} state @param {number} kilograms */
function _small(state, kilograms) {
  return label("mass", kilograms, small_mass_unit(state.units));
}

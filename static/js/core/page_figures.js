// Twin of src/lowside/core/pages/figures.py: superheat and subcooling as big figures.

import { format_decimal } from "./arithmetic.js";
import { Unknown, sentence } from "./findings.js";
import { SUBCOOLING, SUPERHEAT, Target, within } from "./targets.js";
import { label, unit_for } from "./unit_choice.js";
import { show } from "./units.js";

/** @typedef {import("./charge.js").Assessment} Assessment */
/** @typedef {import("./state.js").State} State */
/** @typedef {import("./state.js").Taken} Taken */
/** @typedef {import("./unit_choice.js").UnitChoice} UnitChoice */
/** @typedef {Record<string, any>} Figure */

export const BAR_WIDTH = 320.0;
export const BAND_HALF = 40.0;

export const WITHIN = "within";
export const LOW = "low";
export const HIGH = "high";
export const UNKNOWN = "unknown";
export const NEUTRAL = "neutral";

/** The figure the charge is judged by first, then the other.
 * @param {State} state @param {Taken} taken @returns {Figure[]} */
export function figures_of(state, taken) {
  if (taken.assessment === null) {
    return [];
  }
  const superheat = _figure(state.units, taken.assessment, SUPERHEAT);
  const subcooling = _figure(state.units, taken.assessment, SUBCOOLING);
  const target = taken.assessment.target;
  if (target instanceof Target && target.quantity === SUBCOOLING) {
    return [subcooling, superheat];
  }
  return [superheat, subcooling];
}

/** @param {UnitChoice} choice @param {Assessment} assessment @param {string} quantity */
function _figure(choice, assessment, quantity) {
  const name = quantity === SUPERHEAT ? "Superheat" : "Subcooling";
  const value = quantity === SUPERHEAT ? assessment.superheat_k : assessment.subcooling_k;
  if (value instanceof Unknown) {
    return _without_value(name, sentence(value.reason, choice));
  }
  /** @type {Figure} */
  const figure = {
    name,
    state: NEUTRAL,
    value: show("temperature_difference", value, unit_for("temperature", choice)),
    unit: unit_for("temperature", choice),
    word: "",
    bar: null,
    note: _saturation_note(choice, assessment, quantity),
  };
  const target = assessment.target;
  if (target instanceof Target && target.quantity === quantity) {
    _against_target(figure, choice, value, target);
  } else if (quantity === SUPERHEAT && assessment.expected_superheat_k !== null) {
    _against_range(figure, choice, value, assessment.expected_superheat_k);
  }
  return figure;
}

/** @param {string} name @param {string} why @returns {Figure} */
function _without_value(name, why) {
  return {
    name,
    state: UNKNOWN,
    value: "not known",
    unit: "",
    word: why,
    bar: null,
    note: "",
  };
}

/** @param {Figure} figure @param {UnitChoice} choice @param {number} value_k @param {Target} target */
function _against_target(figure, choice, value_k, target) {
  const gap = value_k - target.value_k;
  const goal =
    "target " +
    label("temperature_difference", target.value_k, choice) +
    " ± " +
    label("temperature_difference", target.tolerance_k, choice);
  if (within(target, value_k)) {
    figure.state = WITHIN;
    figure.word = "Within: " + goal;
  } else if (gap < 0.0) {
    figure.state = LOW;
    figure.word = "Low by " + label("temperature_difference", -gap, choice) + ": " + goal;
  } else {
    figure.state = HIGH;
    figure.word = "High by " + label("temperature_difference", gap, choice) + ": " + goal;
  }
  figure.bar = _bar(gap / target.tolerance_k, figure.word);
}

/** @param {Figure} figure @param {UnitChoice} choice @param {number} value_k
 * @param {[number, number]} expected */
function _against_range(figure, choice, value_k, expected) {
  const [lowest, highest] = expected;
  const usual =
    label("temperature_difference", lowest, choice) +
    " to " +
    label("temperature_difference", highest, choice);
  if (value_k < lowest) {
    figure.state = LOW;
    figure.word = "Low: usual here is " + usual;
  } else if (value_k > highest) {
    figure.state = HIGH;
    figure.word = "High: usual here is " + usual;
  } else {
    figure.word = "Usual here: " + usual;
  }
}

/** `tolerances`: how many tolerances above (or below, negative) the target the value lies.
 * @param {number} tolerances @param {string} text */
function _bar(tolerances, text) {
  const middle = BAR_WIDTH / 2.0;
  const mark = middle + tolerances * BAND_HALF;
  let beyond = "";
  if (mark < 10.0) {
    beyond = "left";
  } else if (mark > BAR_WIDTH - 10.0) {
    beyond = "right";
  }
  return {
    band_x: format_decimal(middle - BAND_HALF, 1),
    band_width: format_decimal(2.0 * BAND_HALF, 1),
    target_x: format_decimal(middle, 1),
    mark_x: beyond === "" ? format_decimal(mark, 1) : "0",
    beyond,
    text,
  };
}

/** Which saturation temperature the figure was taken from.
 * @param {UnitChoice} choice @param {Assessment} assessment @param {string} quantity */
function _saturation_note(choice, assessment, quantity) {
  if (quantity === SUPERHEAT && assessment.dew_k !== null) {
    return (
      "Suction line against a dew point of " + label("temperature", assessment.dew_k, choice)
    );
  }
  if (quantity === SUBCOOLING && assessment.bubble_k !== null) {
    return (
      "Liquid line against a bubble point of " +
      label("temperature", assessment.bubble_k, choice)
    );
  }
  return "";
}

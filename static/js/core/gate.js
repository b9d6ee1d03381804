// Twin of src/lowside/core/session/gate.py: why no refrigerant may go in now.

import { STOP, reason } from "./charge.js";
import { latest_reading } from "./state.js";
import { BY_WEIGHT } from "./system.js";

/** @typedef {import("./state.js").State} State */

/** A reason not to add charge, and what ends it. */
export class Block {
  /** @param {string} code @param {string} sentence @param {string} cure */
  constructor(code, sentence, cure) {
    this.code = code;
    this.sentence = sentence;
    this.cure = cure;
  }
}

/** Every reason that stands now, the most dangerous first. @param {State} state @returns {Block[]} */
export function blocks(state) {
  /** @type {Block[]} */
  const found = [];
  if (!state.running) {
    found.push(
      new Block(
        "stopped",
        "The unit is stopped. Liquid fed into an idle system lies in the compressor.",
        "Keep the cylinder shut until the unit runs again and has settled.",
      ),
    );
  }
  found.push(..._wrong_refrigerant(state));
  found.push(..._over_pressure(state));
  found.push(..._failed_checks(state));
  if (state.closed !== null) {
    found.push(new Block("closed", "This session is closed.", "Start a new one."));
  }
  if (state.start_weight === null) {
    found.push(
      new Block(
        "not_weighed",
        "The cylinder has not been weighed yet.",
        "Weigh it bare before the hose goes on; the record rests on it.",
      ),
    );
  }
  if (state.readings.length === 0 && (state.system === null || state.system.method !== BY_WEIGHT)) {
    found.push(
      new Block("no_baseline", "No reading has been taken yet.", "Take the baseline reading first."),
    );
  }
  if (state.decision === "") {
    found.push(
      new Block("undecided", "Nobody has decided to add charge.", "Do the decision step first."),
    );
  } else if (state.decision === "leave") {
    found.push(
      new Block("leave", "The decision was not to add.", "Change the decision if it was wrong."),
    );
  }
  return found;
}

/** The cylinder's label and the unit's nameplate name different refrigerants. @param {State} state */
export function refrigerant_mismatch(state) {
  return (
    state.cylinder !== null &&
    state.system !== null &&
    state.cylinder.refrigerant !== state.system.refrigerant
  );
}

/** @param {State} state @returns {Block[]} */
function _wrong_refrigerant(state) {
  if (state.cylinder === null || state.system === null || !refrigerant_mismatch(state)) {
    return [];
  }
  return [
    new Block(
      "wrong_refrigerant",
      `Cylinder says ${state.cylinder.refrigerant}, the unit says ` +
        `${state.system.refrigerant}. Never mix them.`,
      "Get the right cylinder, or correct the entry if one was mistyped.",
    ),
  ];
}

/** @param {State} state @returns {Block[]} */
function _over_pressure(state) {
  const latest = latest_reading(state);
  if (latest === null || latest.assessment === null || latest.assessment.verdict !== STOP) {
    return [];
  }
  return [
    new Block(
      "reading_stop",
      reason(latest.assessment, state.units),
      "Shut the cylinder. Find the cause before anything else.",
    ),
  ];
}

/** @param {State} state @returns {Block[]} */
function _failed_checks(state) {
  const checks = state.checks;
  /** @type {Block[]} */
  const found = [];
  if (checks.get("qualified") === "no") {
    found.push(
      new Block(
        "not_qualified",
        "Handling refrigerant needs the licence your law asks for.",
        "Call someone who holds it.",
      ),
    );
  }
  if (checks.get("leak") === "leaking") {
    found.push(
      new Block(
        "leaking",
        "The unit leaks now. Charge added will be gone.",
        "Repair the leak first, then answer the checks again.",
      ),
    );
  }
  if (checks.get("same_refrigerant") === "no") {
    found.push(
      new Block(
        "mixed_refrigerant",
        "Another refrigerant may be inside. Pressures then mean nothing.",
        "Recover, evacuate and weigh in the right charge.",
      ),
    );
  }
  if (checks.get("protected") === "no") {
    found.push(
      new Block("unprotected", "No gloves or eye protection.", "Put them on; liquid burns cold."),
    );
  }
  return found;
}

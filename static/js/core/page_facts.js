// Twin of src/lowside/core/pages/facts.py: facts, warnings and findings beside a step's form.

import { target_text } from "./charge.js";
import * as cylinders from "./cylinder.js";
import { REFUSE, SHOWS, STOP, WARN, sentence } from "./findings.js";
import * as gate from "./gate.js";
import { last_end_kg, warnings_now } from "./ledger.js";
import { item } from "./python.js";
import { added_kg, latest_reading } from "./state.js";
import { label, small_mass_unit } from "./unit_choice.js";
import { label as unit_label } from "./units.js";
import { METHOD_NAMES } from "./wording.js";

/** @typedef {import("./findings.js").Finding} Finding */
/** @typedef {import("./handbook.js").Handbook} Handbook */
/** @typedef {import("./ledger.js").CylinderUse} CylinderUse */
/** @typedef {import("./state.js").State} State */
/** @typedef {import("./state.js").Taken} Taken */
/** @typedef {{name: string, value: string}} FactLine */

/** @type {Map<string, string>} */
export const FINDING_WORDS = new Map([
  [STOP, "Stop."],
  [REFUSE, "Do not add."],
  [WARN, "Mind."],
  [SHOWS, "Reading."],
]);

/** @type {Map<string, string>} */
export const FINDING_STYLES = new Map([
  [STOP, "stop"],
  [REFUSE, "stop"],
  [WARN, "warn"],
  [SHOWS, "good"],
]);

/** One line of a list of facts. @param {string} name @param {string} value @returns {FactLine} */
export function fact(name, value) {
  return { name, value };
}

/** What is known that helps with this step's form.
 * @param {State} state @param {string} form_name @param {CylinderUse[]} cylinder_uses
 * @returns {FactLine[]} */
export function facts_for(state, form_name, cylinder_uses) {
  if (form_name === "start_weight") {
    return _start_weight(state, cylinder_uses);
  }
  if (form_name === "reading" || form_name === "final_reading") {
    return _target(state);
  }
  if (form_name === "end_weight") {
    return _expected_end(state);
  }
  if (form_name === "reconcile" || form_name === "record") {
    return reconcile_facts(state);
  }
  return [];
}

/** Word and sentence of each warning that belongs beside this step's form.
 * @param {State} state @param {string} form_name @param {CylinderUse[]} cylinder_uses
 * @returns {[string, string][]} */
export function warnings_for(state, form_name, cylinder_uses) {
  if (form_name === "start_weight" || form_name === "cylinder") {
    return warnings_now(state, cylinder_uses).map((warning) => [
      "Look at the cylinder.",
      warning.sentence(state.units),
    ]);
  }
  if (form_name === "decide") {
    return gate
      .blocks(state)
      .filter((block) => !["undecided", "leave", "reading_stop"].includes(block.code))
      .map((block) => [block.sentence, block.cure]);
  }
  return [];
}

/** What the latest reading, the cylinder or the weights say, beside the form it matters to.
 * @param {State} state @param {string} form_name @param {Handbook} handbook */
export function findings_for(state, form_name, handbook) {
  if (form_name === "start_weight" || form_name === "cylinder") {
    const found = cylinders.contents_findings(state, handbook);
    return found.map((finding) => finding_context(state, finding));
  }
  if (form_name === "reconcile") {
    const found = cylinders.reconcile_session(state).findings;
    return found.map((finding) => finding_context(state, finding));
  }
  if (form_name !== "decide" && form_name !== "record") {
    return [];
  }
  return finding_contexts(state, latest_reading(state));
}

/** The findings of a reading in words, the gravest first.
 * @param {State} state @param {Taken | null} taken */
export function finding_contexts(state, taken) {
  if (taken === null || taken.assessment === null) {
    return [];
  }
  return taken.assessment.findings.map((finding) => finding_context(state, finding));
}

/** One finding in words. @param {State} state @param {Finding} finding */
export function finding_context(state, finding) {
  return {
    level: item(FINDING_STYLES, finding.level),
    word: item(FINDING_WORDS, finding.level),
    text: sentence(finding, state.units),
    check: "",
  };
}

/** Refrigerant left by the start weight and the weighed shots [kg].
 * @param {State} state @returns {number | null} */
export function left_kg(state) {
  if (state.start_weight === null || state.cylinder === null) {
    return null;
  }
  return cylinders.net_kg(state.start_weight.kg, state.cylinder.tare_kg) - added_kg(state);
}

/** The weights against each other. @param {State} state @returns {FactLine[]} */
export function reconcile_facts(state) {
  return cylinders
    .reconcile_session(state)
    .lines.map(([name, kilograms]) => fact(name, label("mass", kilograms, state.units)));
}

/** @param {State} state @param {CylinderUse[]} cylinder_uses */
function _start_weight(state, cylinder_uses) {
  /** @type {FactLine[]} */
  const facts = [];
  if (state.cylinder === null || state.started === null) {
    return facts;
  }
  const before = last_end_kg(cylinder_uses, state.cylinder.label, state.started);
  if (before !== null) {
    facts.push(fact("At the end of its last job", label("mass", before, state.units)));
  }
  if (state.start_weight !== null) {
    const net = cylinders.net_kg(state.start_weight.kg, state.cylinder.tare_kg);
    facts.push(fact("Refrigerant inside", label("mass", net, state.units)));
  }
  return facts;
}

/** @param {State} state */
function _target(state) {
  if (state.system === null) {
    return [];
  }
  const facts = [fact("Judged by", item(METHOD_NAMES, state.system.method))];
  const latest = latest_reading(state);
  if (latest !== null && latest.assessment !== null) {
    facts.push(fact("Target", target_text(latest.assessment, state.units)));
  }
  return facts;
}

/** @param {State} state */
function _expected_end(state) {
  if (state.start_weight === null) {
    return [];
  }
  const expected = state.start_weight.kg - added_kg(state);
  return [
    fact("Start weight", label("mass", state.start_weight.kg, state.units)),
    fact("Sum of shots", unit_label("mass", added_kg(state), small_mass_unit(state.units))),
    fact("So about", label("mass", expected, state.units)),
  ];
}

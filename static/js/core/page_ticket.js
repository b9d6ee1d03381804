// Twin of src/lowside/core/pages/ticket.py: the record of a session on one page.

import * as addresses from "./addresses.js";
import { target_text } from "./charge.js";
import * as cylinders from "./cylinder.js";
import { Unknown } from "./findings.js";
import { fact, finding_contexts, reconcile_facts } from "./page_facts.js";
import { figures_of } from "./page_figures.js";
import { item } from "./python.js";
import { latest_reading, unweighed_shots } from "./state.js";
import { weigh_in } from "./targets.js";
import { label } from "./unit_choice.js";
import { METERING_NAMES, METHOD_NAMES, clock_time, day_and_time } from "./wording.js";

/** @typedef {import("./handbook.js").Handbook} Handbook */
/** @typedef {import("./page_facts.js").FactLine} FactLine */
/** @typedef {import("./state.js").State} State */
/** @typedef {import("./state.js").Taken} Taken */

/** Part of the context of `field/ticket.html` and of the office's session page.
 * @param {State} state @param {Handbook} handbook @returns {Record<string, any>} */
export function ticket_context(state, handbook) {
  const latest = latest_reading(state);
  const parts = [
    _part("Job", _job(state)),
    _part("Unit", _unit(state)),
    _part("Cylinder", _cylinder(state)),
    _part("Charge", _charge(state)),
    _part("First reading", state.readings.length > 0 ? _reading(state, state.readings[0]) : []),
  ];
  const closed = state.closed !== null;
  return {
    title: "Session record",
    page: "record",
    status_line: _status(state),
    parts: parts.filter((part) => part.facts.length > 0),
    figures: latest !== null ? figures_of(state, latest) : [],
    findings_now: finding_contexts(state, latest),
    notes: state.notes.map(([moment, text]) => clock_time(moment) + " " + text),
    flags: [...state.flags],
    basis: _basis(state, handbook),
    next: {
      href: closed ? addresses.home() : addresses.current(state.sid),
      label: closed ? "All sessions" : "Back to the session",
    },
  };
}

/** @param {string} title @param {FactLine[]} facts */
function _part(title, facts) {
  return { title, facts };
}

/** @param {State} state */
function _status(state) {
  if (state.closed !== null) {
    return "Closed " + day_and_time(state.closed) + ", signed by " + state.signed_by;
  }
  return "Still open";
}

/** @param {State} state */
function _job(state) {
  if (state.job === null) {
    return [];
  }
  const facts = [
    fact("Site", state.job.site),
    fact("Unit", state.job.unit_label),
    fact("Technician", state.job.technician),
    fact("Elevation", label("length", state.job.elevation_m, state.units)),
  ];
  if (state.started !== null) {
    facts.push(fact("Started", day_and_time(state.started)));
  }
  return facts;
}

/** @param {State} state */
function _unit(state) {
  const texts = state.unit_texts;
  if (!texts.has("refrigerant")) {
    return [];
  }
  const facts = [
    fact("Refrigerant", item(texts, "refrigerant")),
    fact("Metering device", METERING_NAMES.get(texts.get("metering") ?? "") ?? "not known"),
  ];
  const nameplate = state.unit_numbers.get("nameplate_charge");
  if (nameplate !== undefined) {
    facts.push(fact("Nameplate charge", label("mass", nameplate, state.units)));
  }
  if (state.system !== null) {
    facts.push(fact("Judged by", item(METHOD_NAMES, state.system.method)));
    const full = weigh_in(state.system);
    if (!(full instanceof Unknown)) {
      facts.push(fact("Full charge by weight", label("mass", full.total_kg, state.units)));
    }
  }
  const latest = latest_reading(state);
  if (latest !== null && latest.assessment !== null) {
    facts.push(fact("Target", target_text(latest.assessment, state.units)));
  }
  return facts;
}

/** @param {State} state */
function _cylinder(state) {
  const cylinder = state.cylinder;
  if (cylinder === null) {
    return [];
  }
  const facts = [
    fact("Cylinder", cylinder.label + ", " + cylinder.refrigerant),
    fact("Tare", label("mass", cylinder.tare_kg, state.units)),
  ];
  if (state.start_weight !== null) {
    facts.push(fact("Start weight", label("mass", state.start_weight.kg, state.units)));
  }
  if (state.end_weight !== null) {
    facts.push(fact("End weight", label("mass", state.end_weight.kg, state.units)));
    const left = cylinders.net_kg(state.end_weight.kg, cylinder.tare_kg);
    facts.push(fact("Left inside", label("mass", left, state.units)));
  }
  return facts;
}

/** @param {State} state */
function _charge(state) {
  /** @type {FactLine[]} */
  const facts = [];
  if (state.decision !== "") {
    facts.push(fact("Decision", state.decision === "add" ? "add charge" : "do not add"));
  }
  if (state.decision_reason !== "") {
    facts.push(fact("Reason", state.decision_reason));
  }
  if (state.shots.length > 0) {
    facts.push(fact("Shots", String(state.shots.length)));
  }
  if (unweighed_shots(state) > 0) {
    facts.push(fact("Shots without a weight", String(unweighed_shots(state))));
  }
  facts.push(...reconcile_facts(state));
  if (state.explanation !== "") {
    facts.push(fact("Explanation", state.explanation));
  }
  return facts;
}

/** @param {State} state @param {Taken} taken */
function _reading(state, taken) {
  const choice = state.units;
  if (taken.assessment === null) {
    return [];
  }
  const figures = figures_of(state, taken);
  const facts = [fact("Read at", clock_time(taken.moment))];
  for (const figure of figures) {
    let value = figure.value;
    if (figure.unit !== "") {
      value = value + " " + figure.unit;
    }
    facts.push(fact(figure.name, value));
  }
  const outdoor = taken.reading.outdoor_dry_bulb_k;
  if (outdoor !== null) {
    facts.push(fact("Outdoor air", label("temperature", outdoor, choice)));
  }
  return facts;
}

/** @param {State} state @param {Handbook} handbook */
function _basis(state, handbook) {
  let recorded = "";
  for (const entry of state.entries) {
    if (entry.kind === "session.started") {
      recorded = entry.data.get("tables") ?? "";
    }
  }
  let basis = "Judged by property tables " + handbook.version;
  if (recorded !== "" && recorded !== handbook.version) {
    basis = basis + "; the session was made with " + recorded;
  }
  return basis + ". The maker’s instructions and the law where you work come first.";
}

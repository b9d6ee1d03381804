// Twin of src/lowside/core/pages/timeline.py: every entry as it was typed, with its corrections.

import * as addresses from "./addresses.js";
import { CHOICE, FORM_OF_KIND, NUMBER } from "./forms.js";
import { nth_eid } from "./page_forms.js";
import { step_by_id } from "./procedure.js";
import { strip } from "./python.js";
import { STANDS } from "./state.js";
import { clock_seconds, day, ticket_number, title_of } from "./wording.js";

/** @typedef {import("./forms.js").Choices} Choices */
/** @typedef {import("./forms.js").Form} Form */
/** @typedef {import("./page_forms.js").Attempt} Attempt */
/** @typedef {import("./procedure.js").Procedure} Procedure */
/** @typedef {import("./state.js").Entry} Entry */
/** @typedef {import("./state.js").State} State */

export const FIRST_VOID_FORM = 100;

export const FIXED_KINDS = ["session.started", "event.voided", "event.amended", "step.done"];

/** Part of the context of `field/timeline.html`: entries, the newest first.
 * @param {State} state @param {Procedure | null} procedure @param {string} fresh
 * @param {Attempt | null} attempt */
export function timeline_context(state, procedure, fresh, attempt) {
  const entries = [];
  let number = FIRST_VOID_FORM;
  for (const entry of state.entries) {
    entries.push(entry_context(state, procedure, entry, nth_eid(fresh, number)));
    number = number + 1;
  }
  entries.reverse();
  return {
    title: "Timeline",
    page: "timeline",
    entries,
    back:
      state.closed !== null ? addresses.ticket(state.sid) : addresses.current(state.sid),
    message: _message(attempt),
  };
}

/** One entry as the phone's timeline and the office's page list it.
 * @param {State} state @param {Procedure | null} procedure @param {Entry} entry
 * @param {string} eid */
export function entry_context(state, procedure, entry, eid) {
  const standing = entry.status === STANDS;
  const form = FORM_OF_KIND.get(entry.kind);
  const can_amend = standing && form !== undefined && form.fields.length > 0;
  return {
    eid: entry.eid,
    title: _title(procedure, entry),
    time: clock_seconds(entry.moment),
    day: day(entry.moment),
    device: ticket_number(entry.dev),
    status: entry.status,
    mark: _mark(entry),
    lines: entry_lines(state, entry),
    problems: [...entry.problems.values()],
    amend:
      can_amend && !FIXED_KINDS.includes(entry.kind)
        ? addresses.amend(state.sid, entry.eid)
        : "",
    void:
      standing && entry.kind !== "session.started"
        ? {
            action: addresses.form(state.sid, "void"),
            eid,
            step: "",
            back: addresses.timeline(state.sid),
            button: entry.kind === "event.voided" ? "Restore it" : "Strike it out",
          }
        : null,
  };
}

/** The kind in words; a step that was done by its name.
 * @param {Procedure | null} procedure @param {Entry} entry */
function _title(procedure, entry) {
  const step_id = entry.data.get("step") ?? "";
  if (entry.kind !== "step.done" || step_id === "") {
    return title_of(entry.kind);
  }
  const step = procedure !== null ? step_by_id(procedure, step_id) : null;
  return title_of(entry.kind) + ": " + (step !== null ? step.title : step_id);
}

/** What an entry says, as typed, each value with its unit.
 * @param {State} state @param {Entry} entry @returns {string[]} */
export function entry_lines(state, entry) {
  const form = FORM_OF_KIND.get(entry.kind);
  if (entry.kind === "event.voided" || entry.kind === "event.amended") {
    const lines = ["About: " + _about(state, entry.data.get("target") ?? "")];
    const reason = entry.data.get("reason") ?? "";
    if (reason !== "") {
      lines.push("Why: " + reason);
    }
    return lines;
  }
  if (entry.kind === "step.done") {
    return [];
  }
  if (form === undefined) {
    return [...entry.data].map(([name, text]) => name + ": " + text);
  }
  return typed_lines(form, entry.data);
}

/** Each filled-in field of a form with its label, text and unit.
 * @param {Form} form @param {Map<string, string>} data @returns {string[]} */
export function typed_lines(form, data) {
  const lines = [];
  for (const field of form.fields) {
    const text = strip(data.get(field.name) ?? "");
    const ounces = strip(data.get(field.name + "_oz") ?? "");
    if (text === "" && ounces === "") {
      continue;
    }
    let shown;
    if (field.kind === NUMBER) {
      const unit = data.get(field.name + "_unit") ?? "";
      shown = text + " " + unit;
      if (unit === "lb+oz") {
        shown = _pounds(text, ounces);
      }
    } else if (field.kind === CHOICE) {
      shown = _choice_text(field.choices, text);
    } else {
      shown = text;
    }
    lines.push(field.label + ": " + shown);
  }
  return lines;
}

/** @param {string} pounds @param {string} ounces */
function _pounds(pounds, ounces) {
  if (ounces === "") {
    return pounds + " lb";
  }
  if (pounds === "") {
    return ounces + " oz";
  }
  return pounds + " lb " + ounces + " oz";
}

/** @param {Choices} choices @param {string} code */
function _choice_text(choices, code) {
  for (const [value, text] of choices) {
    if (value === code) {
      return text;
    }
  }
  return code;
}

/** @param {State} state @param {string} eid */
function _about(state, eid) {
  for (const entry of state.entries) {
    if (entry.eid === eid) {
      return title_of(entry.kind) + " of " + clock_seconds(entry.moment);
    }
  }
  return "an entry not on this device";
}

/** @param {Entry} entry */
function _mark(entry) {
  if (entry.status !== STANDS) {
    return "Struck out";
  }
  if (entry.amended) {
    return "Corrected";
  }
  return "";
}

/** @param {Attempt | null} attempt */
function _message(attempt) {
  if (attempt === null) {
    return "";
  }
  if (attempt.message !== "") {
    return attempt.message;
  }
  return [...attempt.problems.values()].join(" ");
}

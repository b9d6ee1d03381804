// Twin of src/lowside/core/pages/view.py: state in, page out.

import * as addresses from "./addresses.js";
import { AMEND, CURRENT, FORM, HOME, HOSES, STEP, TICKET, TIMELINE } from "./addresses.js";
import { find_entry } from "./entry.js";
import { FORM_OF_KIND, FORMS } from "./forms.js";
import { charge_context } from "./page_charge.js";
import { filled, full_form, nth_eid } from "./page_forms.js";
import { home_context } from "./page_home.js";
import { alerts, head, tools } from "./page_parts.js";
import { hoses_context, step_context } from "./page_step.js";
import { ticket_context } from "./page_ticket.js";
import { timeline_context } from "./page_timeline.js";
import { CHARGE_PAGE, open_step, step_by_id } from "./procedure.js";
import { item } from "./python.js";
import { clock_seconds, title_of } from "./wording.js";

/** @typedef {import("./addresses.js").Address} Address */
/** @typedef {import("./events.js").Moment} Moment */
/** @typedef {import("./handbook.js").Handbook} Handbook */
/** @typedef {import("./ledger.js").CylinderUse} CylinderUse */
/** @typedef {import("./page_forms.js").Attempt} Attempt */
/** @typedef {import("./state.js").State} State */
/** @typedef {Record<string, any>} Context */

/** A template's name and its context: strings, ints, bools, lists and objects of these. */
export class Page {
  /** @param {string} template @param {Context} context */
  constructor(template, context) {
    this.template = template;
    this.context = context;
  }
}

/** There is nothing at this address; `sentence` says what to do. */
export class NoPage {
  /** @param {string} sentence */
  constructor(sentence) {
    this.sentence = sentence;
  }
}

/** The first page; `states` newest first.
 * @param {readonly State[]} states @param {Handbook} handbook @param {string} fresh */
export function home(states, handbook, fresh) {
  return new Page("field/home.html", home_context(states, handbook, fresh));
}

/** The page of one session at an address.
 * @param {State} state @param {Address} address @param {Handbook} handbook @param {Moment} now
 * @param {string} fresh @param {CylinderUse[]} [cylinder_uses] @param {Attempt | null} [attempt]
 * @returns {Page | NoPage} */
export function view(
  state,
  address,
  handbook,
  now,
  fresh,
  cylinder_uses = [],
  attempt = null,
) {
  if (address.page === HOME || state.started === null) {
    return new NoPage("There is no such session on this device.");
  }
  /** @type {Context} */
  const context = {
    head: head(state),
    alerts_now: alerts(state),
    tools: tools(state, address, fresh),
  };
  if (address.page === TIMELINE) {
    const procedure = handbook.procedures.get(state.procedure) ?? null;
    const part = timeline_context(state, procedure, fresh, attempt);
    return new Page("field/timeline.html", { ...context, ...part });
  }
  if (address.page === TICKET) {
    return new Page("field/ticket.html", { ...context, ...ticket_context(state, handbook) });
  }
  if (address.page === FORM) {
    return _form_page(state, address, handbook, fresh, attempt, context);
  }
  if (address.page === AMEND) {
    return _amend_page(state, address, handbook, fresh, attempt, context);
  }
  return _step_page(state, address, handbook, now, fresh, cylinder_uses, attempt, context);
}

/** @param {State} state @param {Address} address @param {Handbook} handbook @param {Moment} now
 * @param {string} fresh @param {CylinderUse[]} cylinder_uses @param {Attempt | null} attempt
 * @param {Context} context @returns {Page | NoPage} */
function _step_page(state, address, handbook, now, fresh, cylinder_uses, attempt, context) {
  const procedure = handbook.procedures.get(state.procedure);
  if (procedure === undefined) {
    return new NoPage(
      "This session follows steps this version does not have. Its timeline is still here: " +
        addresses.timeline(state.sid),
    );
  }
  let step = open_step(procedure, state.done);
  if (address.page === STEP || address.page === HOSES) {
    step = step_by_id(procedure, address.about);
    if (step === null) {
      return new NoPage("There is no such step. Go back to the session.");
    }
    if (address.page === HOSES) {
      const pictures = hoses_context(state, procedure, step, handbook);
      if (pictures === null) {
        return new NoPage("There is no picture of the hoses here. Go back to the session.");
      }
      return new Page("field/hoses.html", { ...context, ...pictures });
    }
  }
  if (step === null || (address.page === CURRENT && state.closed !== null)) {
    return new Page("field/ticket.html", { ...context, ...ticket_context(state, handbook) });
  }
  let part = step_context(state, procedure, step, handbook, now, fresh, cylinder_uses, attempt);
  if (step.page !== CHARGE_PAGE) {
    return new Page("field/step.html", { ...context, ...part });
  }
  part = { ...part, ...charge_context(state, step, handbook, now, fresh, attempt) };
  return new Page("field/charge.html", { ...context, ...part });
}

/** @param {State} state @param {Address} address @param {Handbook} handbook @param {string} fresh
 * @param {Attempt | null} attempt @param {Context} context @returns {Page | NoPage} */
function _form_page(state, address, handbook, fresh, attempt, context) {
  if (!FORMS.has(address.about) || address.about === "void") {
    return new NoPage("There is no such form. Go back to the session.");
  }
  const back = addresses.current(state.sid);
  const form = full_form(state, handbook, address.about, nth_eid(fresh, 2), "", back, attempt);
  const kind = item(FORMS, address.about).kind;
  return new Page("field/form.html", {
    ...context,
    title: title_of(kind),
    page: "form",
    heading: title_of(kind),
    lead: "",
    form,
    back,
  });
}

/** @param {State} state @param {Address} address @param {Handbook} handbook @param {string} fresh
 * @param {Attempt | null} attempt @param {Context} context @returns {Page | NoPage} */
function _amend_page(state, address, handbook, fresh, attempt, context) {
  const entry = find_entry(state, address.about);
  if (entry === null || !FORM_OF_KIND.has(entry.kind)) {
    return new NoPage("There is no such entry. Go back to the timeline.");
  }
  const form = item(FORM_OF_KIND, entry.kind);
  const known = attempt !== null ? attempt.typed : entry.data;
  const fields = filled(state, handbook, form.name, form.fields, known, false, attempt);
  const back = addresses.timeline(state.sid);
  fields.action = addresses.amend(state.sid, entry.eid);
  fields.eid = nth_eid(fresh, 2);
  fields.step = "";
  fields.back = back;
  fields.draft = state.sid + "/amend/" + entry.eid;
  fields.button = "Save the correction";
  return new Page("field/form.html", {
    ...context,
    title: "Correct an entry",
    page: "form",
    heading: "Correct: " + title_of(entry.kind) + " of " + clock_seconds(entry.moment),
    lead: "The old values stay on the timeline’s record; the new ones count from now on.",
    form: fields,
    back,
  });
}

// Puts questions of tests/support/phone_core.py to the JavaScript core and dumps the answers exactly.
import { advise } from "../core/advice/advice.js";
import { Action } from "../core/handbook/procedure.js";
import { atmosphere_pressure, wet_bulb } from "../core/handbook/psychrometrics.js";
import {
  bubble_pressure,
  bubble_temperature,
  dew_pressure,
  dew_temperature,
  liquid_density,
  OutOfRange,
  vapor_density,
} from "../core/handbook/saturation.js";
import { bare as bare_hoses, conditions_from, usual_conditions } from "../core/hoses/contents.js";
import { draw } from "../core/hoses/drawing.js";
import { follow, run, turn } from "../core/hoses/run.js";
import { at_step, hoses_of_step, with_hoses } from "../core/pages/hoses.js";
import { format_decimal, parse_decimal } from "../core/numbers/arithmetic.js";
import { UnitChoice } from "../core/numbers/unit_choice.js";
import { label, parse } from "../core/numbers/units.js";
import { item } from "../core/python.js";
import { elapsed, Event, Moment, in_order, next_hlc } from "../core/session/events.js";
import { parse_path } from "../core/pages/addresses.js";
import { label_key, uses_in } from "../core/session/ledger.js";
import { record_form, Refusal, start_data } from "../core/pages/recording.js";
import { Screen } from "../core/pages/screen.js";
import { is_ulid, new_ulid as ulid_of, ulid_ms } from "../core/session/ulids.js";
import { fold } from "../core/session/fold.js";
import { Page } from "../core/pages/page.js";
import { clock_face, is_over, timer } from "../core/pages/running.js";
import { home, view } from "../core/pages/view.js";
import {
  clock_seconds,
  clock_time,
  day,
  day_and_time,
  duration,
} from "../core/pages/wording.js";
import { handbook_from } from "../sw/library.js";
import { cylinder_uses, newest_first, outline_of, visits } from "../sw/sessions.js";
import { render } from "../templates.js";
import { dump, number_from } from "./exact.mjs";

/** @type {import("../core/handbook/handbook.js").Handbook | null} */
let handbook = null;

/** What `calls` may ask for: file, then names. @type {Record<string, Record<string, any>>} */
const called = {
  "handbook/psychrometrics": { atmosphere_pressure, wet_bulb },
  "numbers/arithmetic": { format_decimal, parse_decimal },
  "numbers/units": { label, parse },
  "pages/addresses": { parse_path },
  "pages/running": { clock_face, is_over, timer },
  "pages/wording": { clock_seconds, clock_time, day, day_and_time, duration },
  "session/events": { elapsed, next_hlc },
  "session/ledger": { label_key },
  "session/ulids": { is_ulid, new_ulid: ulid_of, ulid_ms },
};

/** What a table is asked. @type {Record<string, any>} */
const of_tables = {
  bubble_pressure,
  bubble_temperature,
  dew_pressure,
  dew_temperature,
  liquid_density,
  vapor_density,
};

/** A page exactly, and as a browser gets it. @param {any} page */
function shown(page) {
  if (!(page instanceof Page)) return [dump(page), ""];
  return [dump(page), render(page.template, page.context)];
}

function book() {
  if (handbook === null) throw new Error("no handbook was loaded");
  return handbook;
}

/** @param {any} question */
function conditions_for(question) {
  const table = item(book().tables, question.refrigerant);
  const [suction, liquid, cylinder] = question.pressures;
  const made = conditions_from(table, suction, liquid, cylinder, 101325.0, question.withdrawal);
  if (made instanceof OutOfRange) throw new Error("out of range");
  return made;
}

/** @type {Record<string, (question: any) => any>} */
const questions = {
  start({ typed }) {
    return dump(start_data(new Map(typed), book()));
  },
  /** What a session shows at each path, and what becomes of a form posted to one. */
  pages({ events, others, now, fresh, paths, post }) {
    const made = events.map(made_event);
    const state = fold(made, handbook);
    const clock = new Moment(now[0], now[1], now[2], now[3]);
    const uses = [];
    for (const other of others) {
      uses.push(...uses_in(fold(other.map(made_event), handbook)));
    }
    const pages = [];
    for (const path of paths) {
      const address = parse_path(path);
      if (address === null) throw new Error(`no page is at ${path}`);
      pages.push(shown(view(new Screen(state, handbook, clock, fresh, uses, null), address)));
    }
    const typed = new Map(/** @type {[string, string][]} */ (post.typed));
    const target = parse_path(post.path);
    if (target === null) throw new Error(`no page is at ${post.path}`);
    const outcome = record_form(state, target, typed, handbook, clock);
    let again = null;
    if (outcome instanceof Refusal) {
      const screen = new Screen(state, handbook, clock, fresh, uses, outcome.attempt);
      again = shown(view(screen, outcome.address));
    }
    return {
      pages,
      home: shown(home([state], handbook, fresh)),
      outcome: dump(outcome),
      again,
      start: dump(start_data(typed, handbook)),
    };
  },
  handbook({ text }) {
    handbook = handbook_from(JSON.parse(text));
    return dump(handbook);
  },
  folds({ sessions, judged, hoses }) {
    return sessions.map((/** @type {any[]} */ events) => {
      // As on a phone: a page folds on from the page before.
      const made = events.map(made_event);
      const before = fold(made.slice(0, -1), judged ? handbook : null);
      const state = fold(made, judged ? handbook : null, before);
      if (!hoses) state.hose_runs = [];
      return dump(state);
    });
  },
  /** What the phone keeps of sessions for its lists, and what it reads out of that again. */
  lists({ sessions, judged, label }) {
    const kept = sessions.map((/** @type {any[]} */ sent) => {
      const events = sent.map(made_event);
      const state = fold(events, judged ? handbook : null);
      // As its store takes and gives it: without classes.
      return structuredClone(outline_of(state.sid, state, events.length));
    });
    return {
      lines: kept.map((/** @type {any} */ one) => [one.sid, one.begun, one.closed, one.events].map(dump)),
      order: newest_first(kept).map((/** @type {any} */ one) => one.sid),
      uses: dump(cylinder_uses(kept, label)),
      visits: dump(visits(kept, "")),
    };
  },
  order({ events }) {
    return in_order(events.map(made_event)).map((event) => event.eid);
  },
  /** What to do next in each session. */
  advices({ sessions, now }) {
    return sessions.map((/** @type {any[]} */ events) => {
      const clock = new Moment(now[0], now[1], now[2], now[3]);
      return dump(advise(fold(events.map(made_event), handbook), clock));
    });
  },
  /** Many calls of one function; an argument may name a part of the handbook. */
  calls({ file, name, calls }) {
    return calls.map((/** @type {any[]} */ args) => dump(called[file][name](...args.map(argument))));
  },
  /** A table at pressures or temperatures given as bits, so that nothing is lost on the way. */
  evaluate({ table, name, bits }) {
    const found = handbook?.tables.get(table);
    return bits.map((/** @type {string} */ one) => dump(of_tables[name](found, number_from(one))));
  },
  run(question) {
    return dump(run(item(book().procedures, question.procedure), conditions_for(question)));
  },
  turns(question) {
    const procedure = item(book().procedures, question.procedure);
    const conditions = conditions_for(question);
    let now = bare_hoses(procedure, conditions);
    return question.actions.map((/** @type {[string, string]} */ [valve, to]) => {
      const made = turn(procedure, conditions, now, new Action(valve, to));
      now = made.after;
      return dump([made, draw(procedure, conditions, now, made.flows, new Map([[valve, ""]]), "one")]);
    });
  },
  panels({ procedure, refrigerant }) {
    const usual = usual_conditions(item(book().tables, refrigerant), 101325.0);
    if (usual instanceof OutOfRange) throw new Error("out of range");
    const found = item(book().procedures, procedure);
    const runs = follow(found, usual);
    return found.steps.map((/** @type {any} */ step) => {
      if (!with_hoses(found, step)) return dump(null);
      const at = at_step(found, usual, step, runs, new Map());
      return dump(hoses_of_step(at, "size", new UnitChoice()));
    });
  },
};

/** @param {{ask: string}} question */
export function answer(question) {
  return questions[question.ask](question);
}

/** @param {any} sent its data as pairs, for their order */
function made_event(sent) {
  const { sid, dev, seq, eid, hlc, at, tz, mono, run, kind, data, schema } = sent;
  return new Event(sid, dev, seq, eid, hlc, at, tz, mono, run, kind, new Map(data), schema);
}

/** An argument of `calls`, as tests/support/phone_core.py writes it. @param {any} value @returns {any} */
function argument(value) {
  if (value === null || typeof value !== "object") return value;
  if (Array.isArray(value)) return value.map(argument);
  if ("bits" in value) return number_from(value.bits);
  if ("map" in value) return new Map(value.map.map((/** @type {any} */ pair) => pair.map(argument)));
  if ("moment" in value) return new Moment(...value.moment);
  if ("handbook" in value) return handbook?.[/** @type {keyof typeof handbook} */ (value.handbook)];
  throw new Error(`no argument is written ${JSON.stringify(value)}`);
}

// Answers the field pages from the phone's store. As src/lowside/web/field/pages.py does on the server.

import { PRACTICE, parse_path, path as path_of } from "../core/pages/addresses.js";
import { NOT_SAVED, NO_PAGE, NO_SESSION, NoPage, Page, missing, not_stored } from "../core/pages/page.js";
import {
  Refusal,
  held_against_visits,
  posted_to,
  record_form,
  record_start,
} from "../core/pages/recording.js";
import { Screen } from "../core/pages/screen.js";
import { fold } from "../core/session/fold.js";
import { home, view } from "../core/pages/view.js";
import { CLOSED_ON_HOME, is_abandoned } from "../core/session/listed.js";
import { handbook_from } from "./library.js";
import { new_ulid, now } from "./clock.js";
import { event_from } from "./event_json.js";
import { NotKept, keep } from "./keep.js";
import { events_of, outlines } from "./known.js";
import { asked, of_session, transact } from "./open_store.js";
import { made_small } from "./photos.js";
import { recover } from "./recover.js";
import { cylinder_uses, is_whole, newest_first, visits } from "./sessions.js";
import { fetch_session } from "./sync.js";

/** @typedef {import("../core/session/events.js").Event} Event */
/** @typedef {import("../core/handbook/handbook.js").Handbook} Handbook */
/** @typedef {import("../core/pages/screen.js").Attempt} Attempt */
/** @typedef {import("../core/session/state.js").State} State */
/** @typedef {import("./event_json.js").EventJson} EventJson */
/** @typedef {import("./made.js").Made} Made */

export class FieldPages {
  /** @param {Made} made */
  constructor(made) {
    this._made = made;
    /** @type {Handbook | null} */
    this._known = null;
    /** The session folded last. @type {{eids: string, state: State} | null} */
    this._folded = null;
  }

  /** Always answers, whatever happens. @param {Request} request @param {URL} url */
  async answer(request, url) {
    try {
      const ready = recover(this._made);
      const address = parse_path(url.pathname);
      // After a start each part takes a moment, so they run side by side: the session is read and
      // the handbook made while the store is recovered. A session read too early is dropped.
      const sid = address?.sid ?? "";
      const read = sid === "" ? null : Promise.allSettled([events_of(sid), outlines()]);
      void this._handbook;
      await ready;
      await read;
      if (request.method === "POST") return await this._posted(request, url.pathname);
      return await this._page(url.pathname);
    } catch (error) {
      if (error instanceof NotKept) return this._not_stored(error.message);
      return this._not_stored(`The entries on this phone could not be read or written: ${error}`);
    }
  }

  /** The answer for a page that only the server has. @param {string} path */
  needs_server(path) {
    const practice = path.startsWith(PRACTICE);
    const text = practice
      ? "Practice needs the server, because the practice unit runs there."
      : "This page needs the server, and it does not answer. Your sessions are on this device.";
    return this._html(503, missing(new NoPage(text), "No answer"));
  }

  get _handbook() {
    this._known ??= handbook_from(this._made.handbook());
    return this._known;
  }

  /** The session these events tell. A form finds it folded by the page that showed the form:
   * events never change, so their ids name a state.
   * @param {readonly Event[]} events */
  _state(events) {
    const eids = events.map((event) => event.eid).join(" ");
    if (this._folded === null || this._folded.eids !== eids) {
      this._folded = { eids, state: fold(events, this._handbook, this._folded?.state ?? null) };
    }
    return this._folded.state;
  }

  /** @param {string} path */
  async _page(path) {
    return path === "/" ? this._home() : this._session_page(path, null);
  }

  /** @param {Request} request @param {string} path */
  async _posted(request, path) {
    const [typed, photo] = await typed_form(request);
    if (path === "/start") return this._start(typed);
    const address = posted_to(path, typed);
    if (address instanceof NoPage) return this._no_page(address);
    await this._have(address.sid);
    /** @type {{ address: typeof address, sent: Map<string, string> } | null} */
    let part = { address, sent: typed };
    /** @type {any} */
    let outcome = null;
    const listed = await outlines();
    const folded = this._state.bind(this);
    while (part !== null) {
      const at = part.address;
      const sent = part.sent;
      /** @param {Event[]} events */
      const decide = (events) => {
        if (events.length === 0) return null;
        const state = folded(events);
        const seen = held_against_visits(state, at.about) ? visits(listed, at.sid) : [];
        return record_form(state, at, sent, this._handbook, now(), seen);
      };
      outcome = await keep(this._made, at.sid, folded, decide, photo);
      if (outcome === null) return this._no_page(NO_SESSION);
      if (outcome instanceof Refusal) {
        return this._session_page(path_of(outcome.address), outcome.attempt);
      }
      part = outcome.rest;
    }
    if (request.headers.get("hx-request") !== "true") return this._see_other(outcome.next_path);
    // The page's own script takes the next page at once. A redirect would be one more request
    // through the browser, and requests are most of a tap's cost.
    const next = await this._page(outcome.next_path);
    next.headers.set("HX-Push-Url", outcome.next_path);
    return next;
  }

  /** @param {Map<string, string>} typed */
  async _start(typed) {
    const record = record_start(typed, this._handbook);
    if (record === null) return this._home(422);
    /** @param {Event[]} events */
    const decide = (events) => (events.length === 0 ? record : null);
    await keep(this._made, typed.get("sid") ?? "", this._state.bind(this), decide);
    return this._see_other(record.next_path);
  }

  async _home(status = 200) {
    const { at } = now();
    /** @type {EventJson[][]} */
    const sessions = await transact(["sessions", "events"], "readonly", async (table) => {
      const listed = newest_first(await asked(table("sessions").getAll()));
      const closed = listed.filter((one) => one.closed).slice(0, CLOSED_ON_HOME);
      const open = listed.filter((one) => !one.closed && !is_abandoned(one.events, false, one.begun, at));
      const shown = [...open, ...closed];
      return Promise.all(
        shown.map((one) => asked(table("events").getAll(of_session(one.sid)))),
      );
    });
    const states = sessions.map((events) => fold(events.map(event_from)));
    return this._html(status, home(states, this._handbook, new_ulid(at)));
  }

  /** @param {string} path @param {Attempt | null} attempt */
  async _session_page(path, attempt) {
    const address = parse_path(path);
    if (address === null) return this._no_page(NO_PAGE);
    const [stored, listed] = await Promise.all([this._have(address.sid), outlines()]);
    if (stored.length === 0) return this._no_page(NO_SESSION);
    const state = this._state(stored.map(event_from));
    const label = state.cylinder?.label ?? null;
    const uses = label === null ? [] : cylinder_uses(listed, label);
    const moment = now();
    const fresh = new_ulid(moment.at);
    const seen = visits(listed, state.sid);
    const screen = new Screen(state, this._handbook, moment, fresh, uses, attempt, seen);
    const page = view(screen, address);
    if (page instanceof NoPage) return this._no_page(page);
    return this._html(attempt === null ? 200 : 422, page);
  }

  /** A session's events. The server is asked only for a session that this phone was never sent whole.
   * @param {string} sid @returns {Promise<readonly EventJson[]>} */
  async _have(sid) {
    const events = await events_of(sid);
    if (is_whole(events)) return events;
    await fetch_session(sid);
    return events_of(sid);
  }

  /** @param {NoPage} why */
  _no_page(why) {
    return this._html(404, missing(why));
  }

  /** @param {string} sentence */
  _not_stored(sentence) {
    return this._html(503, not_stored(NOT_SAVED, sentence));
  }

  /** @param {number} status @param {Page} page */
  _html(status, { template, context }) {
    return new Response(this._made.render(template, context), {
      status,
      headers: {
        ...this._made.headers,
        "Content-Type": "text/html; charset=utf-8",
        "Cache-Control": "no-store",
      },
    });
  }

  /** @param {string} path */
  _see_other(path) {
    const headers = { ...this._made.headers, Location: new URL(path, location.origin).href };
    return new Response(null, { status: 303, headers });
  }
}

/** Every text field of a posted form, and its picture made small.
 * @param {Request} request @returns {Promise<[Map<string, string>, Uint8Array | undefined]>} */
async function typed_form(request) {
  /** @type {Map<string, string>} */
  const typed = new Map();
  let photo;
  for (const [name, value] of await request.formData()) {
    if (typeof value === "string") typed.set(name, value);
    else photo = await made_small(value, typed);
  }
  return [typed, photo];
}

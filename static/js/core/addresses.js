// Twin of src/lowside/core/pages/addresses.py: the field pages' addresses, both ways.

export const HOME = "home";
export const CURRENT = "current";
export const STEP = "step";
export const FORM = "form";
export const TIMELINE = "timeline";
export const AMEND = "amend";
export const TICKET = "ticket";
export const HOSES = "hoses";
export const SESSION_PAGES = [STEP, FORM, AMEND, HOSES];
export const FORM_TARGETS = [FORM, AMEND];
export const PRACTICE = "/practice";

/** A field page: which one, of which session, about what (step, form or entry). */
export class Address {
  /** @param {string} page @param {string} [sid] @param {string} [about] */
  constructor(page, sid = "", about = "") {
    this.page = page;
    this.sid = sid;
    this.about = about;
  }
}

/** `/`, `/s/SID`, `/s/SID/step/baseline`, … @param {Address} address */
export function path(address) {
  if (address.page === HOME) {
    return "/";
  }
  const base = "/s/" + address.sid;
  if (address.page === CURRENT) {
    return base;
  }
  if (address.about === "") {
    return base + "/" + address.page;
  }
  return base + "/" + address.page + "/" + address.about;
}

/** The page at a path, or `null` when there is none. @param {string} text @returns {Address | null} */
export function parse_path(text) {
  if (text === "/") {
    return new Address(HOME);
  }
  const parts = text.split("/");
  if (parts.length < 3 || parts[0] !== "" || parts[1] !== "s" || parts[2] === "") {
    return null;
  }
  if (parts.length === 3) {
    return new Address(CURRENT, parts[2]);
  }
  if (parts.length === 4 && [TIMELINE, TICKET].includes(parts[3])) {
    return new Address(parts[3], parts[2]);
  }
  if (parts.length === 5 && SESSION_PAGES.includes(parts[3]) && parts[4] !== "") {
    return new Address(parts[3], parts[2], parts[4]);
  }
  return null;
}

/** A session's page as a practice session has it: `/practice/s/SID`. @param {string} session_path */
export function in_practice(session_path) {
  return PRACTICE + session_path;
}

export function home() {
  return "/";
}

/** The session's open step. @param {string} sid */
export function current(sid) {
  return path(new Address(CURRENT, sid));
}

/** @param {string} sid @param {string} step_id */
export function step(sid, step_id) {
  return path(new Address(STEP, sid, step_id));
}

/** All pictures of the hoses for a step. @param {string} sid @param {string} step_id */
export function hoses(sid, step_id) {
  return path(new Address(HOSES, sid, step_id));
}

/** A form outside the steps, and where it is posted. @param {string} sid @param {string} form_name */
export function form(sid, form_name) {
  return path(new Address(FORM, sid, form_name));
}

/** @param {string} sid */
export function timeline(sid) {
  return path(new Address(TIMELINE, sid));
}

/** @param {string} sid */
export function ticket(sid) {
  return path(new Address(TICKET, sid));
}

/** @param {string} sid @param {string} eid */
export function amend(sid, eid) {
  return path(new Address(AMEND, sid, eid));
}

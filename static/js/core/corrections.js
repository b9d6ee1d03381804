// Twin of src/lowside/core/session/corrections.py: strike-outs and amendments.

/** @typedef {import("./events.js").Event} Event */

/** Data of an `event.amended` event that replaces `target`'s data by `data`.
 * @param {string} target @param {Map<string, string>} data @returns {Map<string, string>} */
export function amend_data(target, data) {
  return new Map([["target", target], ...data]);
}

/** eid of each struck-out event -> eid of the strike-out, later strike-outs first.
 * @param {readonly Event[]} ordered @returns {Map<string, string>} */
export function voided_by(ordered) {
  /** @type {Map<string, string>} */
  const voided = new Map();
  for (const event of [...ordered].reverse()) {
    if (event.kind === "event.voided" && !voided.has(event.eid)) {
      voided.set(event.data.get("target") ?? "", event.eid);
    }
  }
  return voided;
}

/** eid -> the data that replaces it; the last standing amendment of each wins.
 * @param {readonly Event[]} ordered @param {Map<string, string>} voided
 * @returns {Map<string, Map<string, string>>} */
export function amendments(ordered, voided) {
  /** @type {Map<string, Map<string, string>>} */
  const found = new Map();
  for (const event of ordered) {
    if (event.kind === "event.amended" && !voided.has(event.eid)) {
      const target = event.data.get("target") ?? "";
      found.set(target, new Map([...event.data].filter(([k]) => k !== "target")));
    }
  }
  return found;
}

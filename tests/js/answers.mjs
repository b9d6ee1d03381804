// Puts questions of tests/twin.py to the JavaScript core and dumps the answers exactly.
import { Event, Moment, in_order } from "../../static/js/core/events.js";
import { fold } from "../../static/js/core/session.js";
import { handbook_from } from "../../static/js/library.js";

/** @type {import("../../static/js/core/handbook.js").Handbook | null} */
let handbook = null;

/** @type {Record<string, (question: any) => any>} */
const questions = {
  handbook({ text }) {
    handbook = handbook_from(JSON.parse(text));
    return dump(handbook);
  },
  folds({ sessions, judged }) {
    return sessions.map((/** @type {any[]} */ events) =>
      dump(fold(events.map(event_from), judged ? handbook : null)),
    );
  },
  order({ events }) {
    return in_order(events.map(event_from)).map((event) => event.eid);
  },
  /** Many calls of one function; an argument may name a part of the handbook. */
  async calls({ file, name, calls }) {
    const module = await import(`../../static/js/core/${file}.js`);
    return calls.map((/** @type {any[]} */ args) => dump(module[name](...args.map(argument))));
  },
  /** A table at pressures or temperatures given as bits, so that nothing is lost on the way. */
  async evaluate({ table, name, bits }) {
    const module = await import("../../static/js/core/saturation.js");
    const found = handbook?.tables.get(table);
    return bits.map((/** @type {string} */ one) =>
      dump(/** @type {any} */ (module)[name](found, number_from(one))),
    );
  },
};

/** @param {{ask: string}} question */
export function answer(question) {
  return questions[question.ask](question);
}

/** @param {any} data */
export function event_from(data) {
  return new Event({ ...data, data: new Map(data.data) });
}

const BYTES = new DataView(new ArrayBuffer(8));

/** @param {number} value */
function bits(value) {
  BYTES.setFloat64(0, value);
  return BYTES.getBigUint64(0).toString(16).padStart(16, "0");
}

/** @param {string} text */
function number_from(text) {
  BYTES.setBigUint64(0, BigInt("0x" + text));
  return BYTES.getFloat64(0);
}

/** An argument of `calls`, as tests/twin.py writes it. @param {any} value @returns {any} */
function argument(value) {
  if (value === null || typeof value !== "object") return value;
  if (Array.isArray(value)) return value.map(argument);
  if ("bits" in value) return number_from(value.bits);
  if ("map" in value) return new Map(value.map.map((/** @type {any} */ pair) => pair.map(argument)));
  if ("moment" in value) return new Moment(value.moment[0], value.moment[1], value.moment[2], value.moment[3]);
  if ("handbook" in value) return handbook?.[/** @type {keyof typeof handbook} */ (value.handbook)];
  throw new Error(`no argument is written ${JSON.stringify(value)}`);
}

/** The exact form of `dump` in tests/twin.py. @param {any} value @returns {any} */
export function dump(value) {
  if (value === null || typeof value === "boolean") return value;
  if (typeof value === "string") return "'" + value;
  if (typeof value === "number") return bits(value);
  if (Array.isArray(value)) return value.map(dump);
  if (value instanceof Map) return { map: [...value].map(([k, v]) => [dump(k), dump(v)]) };
  if (typeof value !== "object") throw new Error(`no exact form for ${String(value)}`);
  const named = Object.entries(value);
  if (value.constructor === Object) return { map: named.map(([k, v]) => [dump(k), dump(v)]) };
  return { [value.constructor.name]: named.map(([k, v]) => [k, dump(v)]) };
}

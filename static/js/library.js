// Twin of src/lowside/library.py: the handbook from what src/lowside/web/phone/handbook.py sends.

import { charts_from } from "./core/charts.js";
import { Handbook } from "./core/handbook.js";
import { cautions_from, procedure_from } from "./core/procedure.js";
import { psychrometric_table_from } from "./core/psychrometrics.js";
import { item } from "./core/python.js";
import { refrigerants_from } from "./core/refrigerants.js";
import { table_from } from "./core/saturation.js";

/** @typedef {import("./core/procedure.js").Procedure} Procedure */
/** @typedef {import("./core/refrigerants.js").Refrigerant} Refrigerant */
/** @typedef {import("./core/saturation.js").PropertyTable} PropertyTable */

/** A map that makes a value when it is first looked at: a session needs one refrigerant and one
 * procedure of many. A phone's first answer should not wait for the others.
 * @template T @extends {Map<string, T>} */
class MadeWhenAsked extends Map {
  /** @param {Map<string, any>} entries @param {(entry: any) => T} make */
  constructor(entries, make) {
    super(entries);
    this._make = make;
    this._made = new Set();
  }

  /** @param {string} key @returns {T | undefined} */
  get(key) {
    if (this.has(key) && !this._made.has(key)) {
      this._made.add(key);
      this.set(key, this._make(super.get(key)));
    }
    return super.get(key);
  }

  /** @returns {any} */
  *entries() {
    for (const key of this.keys()) yield /** @type {[string, T]} */ ([key, this.get(key)]);
  }

  /** @returns {any} */
  *values() {
    for (const [, value] of this.entries()) yield value;
  }

  /** @returns {any} */
  [Symbol.iterator]() {
    return this.entries();
  }
}

/** Everything the core judges by. @param {any} sent
 * @param {(part: any) => any} [read] unpacks a part that was packed on the way
 * @returns {Handbook} */
export function handbook_from(sent, read = (part) => part) {
  const { properties } = sent;
  /** @type {Map<string, any>} */
  const entries = new Map();
  for (const entry of properties.refrigerants) {
    entries.set(entry.refrigerant, entry);
  }
  /** @type {Map<string, PropertyTable>} */
  const tables = new MadeWhenAsked(entries, (entry) => table_from(read(entry)));
  /** @type {Map<string, any>} */
  const known = new Map();
  for (const entry of sent.refrigerants) known.set(entry.designation, entry);
  /** @type {[string, any][]} */
  const with_table = [...tables.keys()].map((name) => [name, item(known, name)]);
  /** @type {Map<string, Refrigerant>} */
  const refrigerants = new MadeWhenAsked(new Map(with_table), (entry) =>
    item(refrigerants_from({ refrigerants: [read(entry)] }), entry.designation),
  );
  const cautions = cautions_from(read({ cautions: sent.cautions }));
  /** @type {[string, any][]} */
  const steps = sent.procedures.map((/** @type {any} */ entry) => [entry.id, entry]);
  /** @type {Map<string, Procedure>} */
  const procedures = new MadeWhenAsked(new Map(steps), (entry) =>
    procedure_from(read(entry), cautions, entry.id),
  );
  return new Handbook(
    String(properties.version),
    refrigerants,
    tables,
    psychrometric_table_from(read(properties.psychrometrics)),
    charts_from(read(sent.charts)),
    procedures,
    cautions,
  );
}

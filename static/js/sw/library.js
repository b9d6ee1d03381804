// The handbook from what src/lowside/web/phone/handbook.py sends.

import { chart_from } from "../core/handbook/charts.js";
import { Handbook } from "../core/handbook/handbook.js";
import { cautions_of, procedure_of } from "../core/handbook/procedure_read.js";
import { psychrometric_table_from } from "../core/handbook/psychrometrics.js";
import { refrigerants_from } from "../core/handbook/refrigerants.js";
import { RULE_COLUMNS, table_from } from "../core/handbook/saturation.js";
import { unpacked } from "./unpack.js";

/** A map that makes a value when it is first looked at: a session needs one refrigerant and one
 * procedure of many. A phone's first answer should not wait for the others.
 * @extends {Map<string, any>} */
class MadeWhenAsked extends Map {
  /** @param {[string, any][]} entries @param {(entry: any) => any} make */
  constructor(entries, make) {
    super(entries);
    this._make = make;
    this._made = new Set();
  }

  /** @param {string} key @returns {any} */
  get(key) {
    if (this.has(key) && !this._made.has(key)) {
      this._made.add(key);
      this.set(key, this._make(super.get(key)));
    }
    return super.get(key);
  }

  /** @returns {any} */
  *entries() {
    for (const key of this.keys()) yield /** @type {[string, any]} */ ([key, this.get(key)]);
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

/** Everything the core judges by. @param {any} sent as JSON, its numbers packed or not */
export function handbook_from(sent) {
  const { properties } = sent;
  /** @type {[string, any][]} */
  const tables = properties.refrigerants.map((/** @type {any} */ one) => [one.refrigerant, one]);
  const known = new Map(rows(sent.refrigerants).map((one) => [one.get("designation"), one]));
  /** @type {[string, any][]} */
  const with_table = tables.map(([name]) => [name, known.get(name)]);
  /** @type {[string, any][]} */
  const procedures = sent.procedures.map((/** @type {any} */ one) => [one.id, one]);
  return new Handbook(
    String(properties.version),
    new MadeWhenAsked(with_table, (one) =>
      refrigerants_from(new Map([["refrigerants", [one]]])).get(one.get("designation")),
    ),
    new MadeWhenAsked(tables, (one) => table_from(unpacked(one), RULE_COLUMNS)),
    psychrometric_table_from(unpacked(properties.psychrometrics)),
    new MadeWhenAsked(Object.entries(sent.charts), (one) => chart_from(unpacked(one))),
    new MadeWhenAsked(procedures, (one) =>
      procedure_of(unpacked(with_steps(one, sent.steps))),
    ),
    cautions_of(rows(sent.cautions)),
  );
}

/** @param {any} columns name -> the values of all rows @returns {Map<string, any>[]} */
function rows(columns) {
  const all = [...unpacked(columns)];
  return all[0][1].map((/** @type {any} */ _, /** @type {number} */ place) =>
    new Map(all.map(([name, values]) => [name, values[place]])),
  );
}

/** @param {any} columns name -> the values of all rows @param {number} place */
function row(columns, place) {
  const names = Object.keys(columns);
  return Object.fromEntries(names.map((name) => [name, columns[name][place]]));
}

/** A procedure names its steps by their places: many steps are in all of them.
 * @param {any} procedure @param {any} columns of the steps */
function with_steps(procedure, columns) {
  /** @param {any} places a list of numbers, packed when it is long */
  const named = (places) =>
    unpacked(places).map((/** @type {number} */ place) => row(columns, place));
  return {
    ...procedure,
    steps: named(procedure.steps),
    off_steps: named(procedure.off_steps),
    walk_steps: named(procedure.walk_steps),
  };
}

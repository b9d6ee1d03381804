// Twin of src/lowside/library.py: the handbook from what src/lowside/web/phone_handbook.py sends.

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

/** Everything the core judges by. @param {any} data @returns {Handbook} */
export function handbook_from(data) {
  const properties = data.properties;
  /** @type {Map<string, PropertyTable>} */
  const tables = new Map();
  for (const entry of properties.refrigerants) {
    tables.set(entry.refrigerant, table_from(entry));
  }
  const known = refrigerants_from(data);
  /** @type {Map<string, Refrigerant>} */
  const refrigerants = new Map();
  for (const name of tables.keys()) {
    refrigerants.set(name, item(known, name));
  }
  const cautions = cautions_from(data);
  /** @type {Map<string, Procedure>} */
  const procedures = new Map();
  for (const entry of data.procedures) {
    procedures.set(entry.id, procedure_from(entry, cautions, entry.id));
  }
  return new Handbook(
    String(properties.version),
    refrigerants,
    tables,
    psychrometric_table_from(properties.psychrometrics),
    charts_from(data.charts),
    procedures,
    cautions,
  );
}

// Twin of src/lowside/core/handbook/handbook.py: every table and text the core judges by, as one value.

/** @typedef {import("./charts.js").Charts} Charts */
/** @typedef {import("./procedure.js").Caution} Caution */
/** @typedef {import("./procedure.js").Procedure} Procedure */
/** @typedef {import("./psychrometrics.js").PsychrometricTable} PsychrometricTable */
/** @typedef {import("./refrigerants.js").Refrigerant} Refrigerant */
/** @typedef {import("./saturation.js").PropertyTable} PropertyTable */

/** `refrigerants` and `tables` have the same keys: designations as `R-410A`, in list order. */
export class Handbook {
  /** @param {string} version @param {Map<string, Refrigerant>} refrigerants
   * @param {Map<string, PropertyTable>} tables @param {PsychrometricTable} psychrometrics
   * @param {Charts} charts @param {Map<string, Procedure>} procedures
   * @param {Map<string, Caution>} cautions */
  constructor(version, refrigerants, tables, psychrometrics, charts, procedures, cautions) {
    this.version = version;
    this.refrigerants = refrigerants;
    this.tables = tables;
    this.psychrometrics = psychrometrics;
    this.charts = charts;
    this.procedures = procedures;
    this.cautions = cautions;
  }
}

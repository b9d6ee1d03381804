// Twin of src/lowside/core/handbook/refrigerants.py: label, class and handling of each refrigerant.

export const FLAMMABLE_CLASSES = ["A2L", "A2", "A3", "B2L", "B2", "B3"];

/** One substance of a refrigerant and its share by mass [%]. */
export class Component {
  /** @param {string} designation @param {number} mass_percent */
  constructor(designation, mass_percent) {
    this.designation = designation;
    this.mass_percent = mass_percent;
  }
}

/** Where a fact is from. */
export class Source {
  /** @param {string} fact @param {string} basis @param {string} text */
  constructor(fact, basis, text) {
    this.fact = fact;
    this.basis = basis;
    this.text = text;
  }
}

/** One refrigerant as the trade knows it. */
export class Refrigerant {
  /** @param {{designation: string, composition: string, components: Component[],
   *   safety_class: string, gwp: number | null, gwp_basis: string, glide_k: number,
   *   liquid_only: boolean, note: string, sources: Source[]}} fields */
  constructor(fields) {
    this.designation = fields.designation;
    this.composition = fields.composition;
    this.components = fields.components;
    this.safety_class = fields.safety_class;
    this.gwp = fields.gwp;
    this.gwp_basis = fields.gwp_basis;
    this.glide_k = fields.glide_k;
    this.liquid_only = fields.liquid_only;
    this.note = fields.note;
    this.sources = fields.sources;
  }
}

/** By designation (`R-410A`), in the file's order. @param {any} data
 * @returns {Map<string, Refrigerant>} */
export function refrigerants_from(data) {
  /** @type {Map<string, Refrigerant>} */
  const found = new Map();
  for (const entry of data.refrigerants) {
    const refrigerant = _refrigerant_from(entry);
    found.set(refrigerant.designation, refrigerant);
  }
  return found;
}

/** Whether its safety group is one that burns. @param {Refrigerant} refrigerant */
export function flammable(refrigerant) {
  return FLAMMABLE_CLASSES.includes(refrigerant.safety_class);
}

/** @param {any} entry */
function _refrigerant_from(entry) {
  const gwp = entry.gwp;
  return new Refrigerant({
    designation: String(entry.designation),
    composition: String(entry.composition),
    components: entry.components.map(
      (/** @type {any} */ part) =>
        new Component(String(part.designation), Number(part.mass_percent)),
    ),
    safety_class: String(entry.safety_class),
    gwp: gwp === null ? null : Number(gwp),
    gwp_basis: String(entry.gwp_basis),
    glide_k: Number(entry.glide_k),
    liquid_only: Boolean(entry.liquid_only),
    note: String(entry.note),
    sources: entry.sources.map(
      (/** @type {any} */ source) =>
        new Source(String(source.fact), String(source.basis), String(source.text)),
    ),
  });
}

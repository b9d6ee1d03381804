// Twin of src/lowside/core/judging/findings.py: one thing the readings say, as a code and facts.

import { item, last } from "./python.js";
import { SENTENCES } from "./sentences.js";
import { label } from "./unit_choice.js";

/** @typedef {import("./unit_choice.js").UnitChoice} UnitChoice */

export const STOP = "stop";
export const REFUSE = "refuse";
export const WARN = "warn";
export const SHOWS = "shows";

/** A value a sentence mentions: a quantity in SI, or with quantity `text` what to print. */
export class Fact {
  /** @param {string} name @param {string} quantity @param {number} [value] @param {string} [text] */
  constructor(name, quantity, value = 0.0, text = "") {
    this.name = name;
    this.quantity = quantity;
    this.value = value;
    this.text = text;
  }
}

/** `code` is a key of `SENTENCES`; `level` is one of STOP, REFUSE, WARN, SHOWS. */
export class Finding {
  /** @param {string} code @param {string} level @param {Fact[]} [facts] @param {Fact[]} [signs] */
  constructor(code, level, facts = [], signs = []) {
    this.code = code;
    this.level = level;
    this.facts = facts;
    this.signs = signs;
  }
}

/** A value that cannot be had, and why. */
export class Unknown {
  /** @param {Finding} reason */
  constructor(reason) {
    this.reason = reason;
  }
}

/** The finding in words, every quantity in the units of `choice`.
 * @param {Finding} finding @param {UnitChoice} choice */
export function sentence(finding, choice) {
  let text = item(SENTENCES, finding.code);
  for (const fact of finding.facts) {
    const shown = fact.quantity === "text" ? fact.text : label(fact.quantity, fact.value, choice);
    text = text.replaceAll("{" + fact.name + "}", () => shown);
  }
  if (finding.signs.length > 0) {
    text = text.replaceAll("{signs}", () => signs_text(finding.signs, choice));
  }
  return text;
}

/** `superheat high (31.0 °F), subcooling low (1.5 °F)`.
 * @param {Fact[]} signs @param {UnitChoice} choice */
export function signs_text(signs, choice) {
  return signs
    .map((sign) => `${sign.name} ${sign.text} (${label(sign.quantity, sign.value, choice)})`)
    .join(", ");
}

/** The finding that these readings or facts are needed and were not given.
 * @param {string[]} fields */
export function missing(fields) {
  return new Finding("missing", WARN, [new Fact("what", "text", 0.0, missing_text(fields))]);
}

/** These readings or facts by the words of `FIELD_WORDS`, as a list in a sentence.
 * @param {string[]} fields */
export function missing_text(fields) {
  const names = fields.map((field) => item(FIELD_WORDS, field));
  if (names.length === 1) {
    return names[0];
  }
  return names.slice(0, -1).join(", ") + " and " + last(names);
}

/** @type {Map<string, string>} */
export const FIELD_WORDS = new Map([
  ["suction_pressure", "suction pressure"],
  ["suction_line", "suction line temperature"],
  ["liquid_pressure", "liquid pressure"],
  ["liquid_line", "liquid line temperature"],
  ["outdoor_dry_bulb", "outdoor air temperature"],
  ["return_dry_bulb", "return air dry bulb"],
  ["return_wet_bulb", "return air wet bulb"],
  ["return_humidity", "return air relative humidity"],
  ["wet_bulb_or_humidity", "return air wet bulb or relative humidity"],
  ["supply_dry_bulb", "supply air temperature"],
  ["compressor_amps", "compressor current"],
  ["maker_subcooling", "the maker’s subcooling"],
  ["maker_superheat", "the maker’s superheat"],
  ["nameplate_charge", "the nameplate charge"],
  ["line_length", "the line set length"],
  ["line_included", "the length the nameplate charge covers"],
  ["line_adder", "the maker’s charge per length"],
]);

// Twin of src/lowside/core/handbook/forms.py: every form, its fields and limits, and the one parser.

import { BadNumber } from "./arithmetic.js";
import { len, strip } from "./python.js";
import * as system from "./system.js";
import { label, unit_for } from "./unit_choice.js";
import * as units from "./units.js";

/** @typedef {import("./unit_choice.js").UnitChoice} UnitChoice */

export const NUMBER = "number";
export const CHOICE = "choice";
export const TEXT = "text";
export const REFRIGERANT = "refrigerant";

/** @typedef {[string, string][]} Choices */

/** @type {Choices} */
export const YES_NO = [
  ["yes", "Yes"],
  ["no", "No"],
];

/** One input. `lowest`/`highest` [SI] catch slips of the thumb, not physics. */
export class Field {
  /** @param {{name: string, label: string, kind?: string, quantity?: string, required?: boolean,
   *   choices?: Choices, hint?: string, lowest?: number, highest?: number, suggestion?: string,
   *   longest?: number}} fields */
  constructor(fields) {
    this.name = fields.name;
    this.label = fields.label;
    this.kind = fields.kind ?? TEXT;
    this.quantity = fields.quantity ?? "";
    this.required = fields.required ?? false;
    this.choices = fields.choices ?? [];
    this.hint = fields.hint ?? "";
    this.lowest = fields.lowest ?? -1.0e300;
    this.highest = fields.highest ?? 1.0e300;
    this.suggestion = fields.suggestion ?? "";
    this.longest = fields.longest ?? 200;
  }
}

/** One thing that can be recorded: `kind` is the kind of the event it becomes. */
export class Form {
  /** @param {string} name @param {string} kind @param {string} button @param {Field[]} [fields] */
  constructor(name, kind, button, fields = []) {
    this.name = name;
    this.kind = kind;
    this.button = button;
    this.fields = fields;
  }
}

/** What was understood of a form: SI numbers and texts by field name, and problems by field. */
export class Fields {
  /** @param {Map<string, number>} numbers @param {Map<string, string>} texts
   * @param {Map<string, string>} problems */
  constructor(numbers, texts, problems) {
    this.numbers = numbers;
    this.texts = texts;
    this.problems = problems;
  }
}

/** @param {string} name @param {string} text @param {string} [hint] */
function _pressure(name, text, hint = "") {
  return new Field({
    name,
    label: text,
    kind: NUMBER,
    quantity: "gauge_pressure",
    hint,
    lowest: -1.0e5,
    highest: 1.0e7,
  });
}

/** @param {string} name @param {string} text @param {string} [hint] */
function _temperature(name, text, hint = "") {
  return new Field({
    name,
    label: text,
    kind: NUMBER,
    quantity: "temperature",
    hint,
    lowest: 223.15,
    highest: 423.15,
  });
}

/** @param {string} name @param {string} text @param {string} [hint] @param {boolean} [required] */
function _mass(name, text, hint = "", required = false) {
  return new Field({
    name,
    label: text,
    kind: NUMBER,
    quantity: "mass",
    required,
    hint,
    lowest: 0.0,
    highest: 200.0,
  });
}

/** @param {string} name @param {string} text @param {string} [hint] @param {boolean} [required] */
function _text(name, text, hint = "", required = false) {
  return new Field({ name, label: text, kind: TEXT, required, hint, longest: 120 });
}

export const READING_FIELDS = [
  _pressure("suction_pressure", "Suction pressure", "Low-side gauge"),
  _temperature("suction_line", "Suction line temperature", "Clamp on the big, cold pipe"),
  _pressure("liquid_pressure", "Liquid pressure", "High-side gauge"),
  _temperature("liquid_line", "Liquid line temperature", "Clamp on the small, warm pipe"),
  _temperature("outdoor_dry_bulb", "Outdoor air", "Entering the condenser, in shade"),
  _temperature("return_dry_bulb", "Return air, dry bulb"),
  _temperature("return_wet_bulb", "Return air, wet bulb", "Or give humidity below"),
  new Field({
    name: "return_humidity",
    label: "Return air, relative humidity",
    kind: NUMBER,
    quantity: "relative_humidity",
    lowest: 0.0,
    highest: 1.0,
  }),
  _temperature("supply_dry_bulb", "Supply air, dry bulb"),
  new Field({
    name: "compressor_amps",
    label: "Compressor current",
    kind: NUMBER,
    quantity: "current",
    lowest: 0.0,
    highest: 500.0,
  }),
];

/** @type {Map<string, Form>} */
export const FORMS = new Map(
  [
    new Form(
      "job",
      "job.set",
      "Save the job",
      [
        _text("site", "Site", "Where you are, as the office knows it", true),
        _text("unit_label", "Unit", "Tag or place, like “AC-2 roof east”", true),
        _text("technician", "Technician", "Your name", true),
        new Field({
          name: "elevation",
          label: "Elevation of the site",
          kind: NUMBER,
          quantity: "length",
          required: true,
          hint: "Gauges read against the local air. Sea level is 0.",
          lowest: -500.0,
          highest: 4500.0,
          suggestion: "0",
        }),
      ],
    ),
    new Form(
      "unit",
      "unit.set",
      "Save the unit",
      [
        new Field({
          name: "refrigerant",
          label: "Refrigerant on the unit’s nameplate",
          kind: REFRIGERANT,
          required: true,
        }),
        new Field({
          name: "metering",
          label: "Metering device",
          kind: CHOICE,
          required: true,
          choices: [
            [system.TXV, "TXV"],
            [system.EEV, "EEV"],
            [system.FIXED, "Fixed orifice (piston, capillary)"],
          ],
        }),
        new Field({
          name: "capacity",
          label: "Nominal cooling capacity",
          kind: NUMBER,
          quantity: "capacity",
          lowest: 500.0,
          highest: 500000.0,
        }),
        _mass("nameplate_charge", "Nameplate charge"),
        new Field({
          name: "line_length",
          label: "Line set length, one way",
          kind: NUMBER,
          quantity: "length",
          lowest: 0.0,
          highest: 300.0,
        }),
        new Field({
          name: "line_included",
          label: "Length the nameplate charge covers",
          kind: NUMBER,
          quantity: "length",
          lowest: 0.0,
          highest: 300.0,
        }),
        new Field({
          name: "line_adder",
          label: "Maker’s charge per length beyond that",
          kind: NUMBER,
          quantity: "line_adder",
          lowest: 0.0,
          highest: 1.0,
        }),
        _pressure("high_side_limit", "Highest high-side pressure on the nameplate"),
      ],
    ),
    new Form(
      "target",
      "target.set",
      "Save the target",
      [
        new Field({
          name: "method",
          label: "How this unit’s charge is judged",
          kind: CHOICE,
          required: true,
          choices: [
            [system.BY_SUBCOOLING, "Maker’s subcooling (TXV, EEV)"],
            [system.BY_SUPERHEAT, "Maker’s superheat"],
            [system.BY_CHART, "Target-superheat chart (fixed orifice)"],
            [system.BY_WEIGHT, "Weigh-in by nameplate and line set"],
          ],
        }),
        new Field({
          name: "maker_subcooling",
          label: "Maker’s subcooling",
          kind: NUMBER,
          quantity: "temperature_difference",
          hint: "On the nameplate or in the service papers",
          lowest: 0.5,
          highest: 30.0,
        }),
        new Field({
          name: "maker_superheat",
          label: "Maker’s superheat",
          kind: NUMBER,
          quantity: "temperature_difference",
          lowest: 0.5,
          highest: 30.0,
        }),
        new Field({
          name: "maker_tolerance",
          label: "Maker’s tolerance, plus or minus",
          kind: NUMBER,
          quantity: "temperature_difference",
          hint: "Leave empty to use the published procedure’s",
          lowest: 0.1,
          highest: 10.0,
        }),
      ],
    ),
    new Form(
      "preconditions",
      "checks.answered",
      "Save these checks",
      [
        new Field({
          name: "qualified",
          label: "I hold the licence this work needs here",
          kind: CHOICE,
          required: true,
          choices: YES_NO,
        }),
        new Field({
          name: "protected",
          label: "Gloves and eye protection on",
          kind: CHOICE,
          required: true,
          choices: YES_NO,
        }),
        new Field({
          name: "airflow",
          label: "Filter, blower and indoor coil clean, registers open",
          kind: CHOICE,
          required: true,
          choices: YES_NO,
        }),
        new Field({
          name: "outdoor_coil",
          label: "Outdoor coil clean and clear, fan turning",
          kind: CHOICE,
          required: true,
          choices: YES_NO,
        }),
        new Field({
          name: "leak",
          label: "Leak search",
          kind: CHOICE,
          required: true,
          choices: [
            ["none_found", "Searched, none found"],
            ["repaired", "Found and repaired"],
            ["leaking", "Leaking now"],
            ["not_searched", "Not searched"],
          ],
        }),
        new Field({
          name: "steady",
          label: "Cooling steadily for 15 minutes",
          kind: CHOICE,
          required: true,
          choices: YES_NO,
        }),
        new Field({
          name: "same_refrigerant",
          label: "Nothing suggests another refrigerant is inside",
          kind: CHOICE,
          required: true,
          choices: YES_NO,
        }),
      ],
    ),
    new Form(
      "cylinder",
      "cylinder.set",
      "Save the cylinder",
      [
        _text("cylinder_label", "Cylinder number", "As stamped or tagged", true),
        new Field({
          name: "cylinder_refrigerant",
          label: "Refrigerant on the cylinder’s label",
          kind: REFRIGERANT,
          required: true,
        }),
        _mass("cylinder_tare", "Tare weight", "TW stamped on the collar", true),
        new Field({
          name: "withdrawal",
          label: "How liquid comes out",
          kind: CHOICE,
          required: true,
          choices: [["invert", "Turned upside down"], ["dip_tube", "Upright, it has a dip tube"]],
        }),
        _pressure("cylinder_pressure", "Cylinder pressure at rest", "If you have it"),
        _temperature("cylinder_temperature", "Cylinder temperature", "After hours at rest"),
        new Field({
          name: "hose_length",
          label: "Length of each hose",
          kind: NUMBER,
          quantity: "hose_length",
          hint: "Left empty: 60 in (5 ft, 1.52 m)",
          lowest: 0.15,
          highest: 20.0,
        }),
        new Field({
          name: "hose_bore",
          label: "Bore of the hoses",
          kind: NUMBER,
          quantity: "bore",
          hint: "The hole inside. Left empty: 3/16 in (0.188 in, 4.8 mm)",
          lowest: 0.001,
          highest: 0.02,
        }),
      ],
    ),
    new Form(
      "start_weight",
      "weight.start",
      "Save the start weight",
      [_mass("gross", "Cylinder on the scale", "Bare cylinder, valve shut", true)],
    ),
    new Form(
      "tare",
      "scale.set",
      "Save the scale",
      [
        new Field({
          name: "scale_mode",
          label: "What the scale shows from now on",
          kind: CHOICE,
          required: true,
          choices: [
            ["gross", "Weight of cylinder and hose"],
            ["zeroed", "Zeroed: weight taken out"],
          ],
        }),
        _mass("scale_reading", "Scale reads now", "", true),
        new Field({
          name: "scale_resolution",
          label: "Smallest step of the scale",
          kind: NUMBER,
          quantity: "mass",
          required: true,
          hint: "Look how the last digit jumps",
          lowest: 0.0001,
          highest: 0.5,
        }),
      ],
    ),
    new Form("reading", "reading.taken", "Save the reading", READING_FIELDS),
    new Form("final_reading", "reading.final", "Save the final reading", READING_FIELDS),
    new Form(
      "decide",
      "decision.made",
      "Save the decision",
      [
        new Field({
          name: "decision",
          label: "Your decision",
          kind: CHOICE,
          required: true,
          choices: [["add", "Add charge"], ["leave", "Do not add"]],
        }),
        new Field({
          name: "reason",
          label: "Why",
          kind: TEXT,
          hint: "Needed when you go against the readings",
        }),
      ],
    ),
    new Form(
      "shot_open",
      "shot.opened",
      "Start the shot",
      [_mass("scale_before", "Scale before the shot")],
    ),
    new Form(
      "shot_close",
      "shot.closed",
      "Valve shut: end the shot",
      [_mass("scale_after", "Scale after the shot", "Leave empty if the scale is dead")],
    ),
    new Form("system_stopped", "system.stopped", "The unit has stopped"),
    new Form("system_started", "system.started", "It is running again"),
    new Form(
      "note",
      "note.added",
      "Save the note",
      [
        new Field({ name: "text", label: "Note", kind: TEXT, required: true, longest: 2000 }),
      ],
    ),
    new Form(
      "end_weight",
      "weight.end",
      "Save the end weight",
      [_mass("gross", "Cylinder on the scale", "Bare cylinder, valve shut", true)],
    ),
    new Form(
      "reconcile",
      "weights.explained",
      "Save",
      [
        new Field({
          name: "explanation",
          label: "What explains the difference",
          kind: TEXT,
          hint: "Needed when the weights do not agree",
          longest: 1000,
        }),
      ],
    ),
    new Form(
      "record",
      "session.closed",
      "Sign and close the session",
      [
        _text("signed_by", "Signed by", "", true),
        new Field({
          name: "caps_checked",
          label: "Caps on, ports checked for leaks",
          kind: CHOICE,
          required: true,
          choices: YES_NO,
        }),
      ],
    ),
    new Form("done", "step.done", "Done"),
    new Form(
      "units",
      "units.set",
      "Use these units",
      [
        new Field({
          name: "pressure",
          label: "Pressure",
          kind: CHOICE,
          required: true,
          choices: [["psig", "psig"], ["kPa", "kPa gauge"], ["bar", "bar gauge"]],
        }),
        new Field({
          name: "temperature",
          label: "Temperature",
          kind: CHOICE,
          required: true,
          choices: [["°F", "°F"], ["°C", "°C"]],
        }),
        new Field({
          name: "mass",
          label: "Weight",
          kind: CHOICE,
          required: true,
          choices: [["lb+oz", "lb + oz"], ["lb", "lb"], ["kg", "kg"], ["g", "g"]],
        }),
        new Field({
          name: "length",
          label: "Length",
          kind: CHOICE,
          required: true,
          choices: [["ft", "ft"], ["m", "m"]],
        }),
      ],
    ),
    new Form(
      "void",
      "event.voided",
      "Strike it out",
      [
        new Field({ name: "target", label: "Entry", kind: TEXT, required: true, longest: 26 }),
        new Field({
          name: "reason",
          label: "Why",
          kind: TEXT,
          hint: "For whoever reads the record",
          longest: 500,
        }),
      ],
    ),
  ].map((form) => [form.name, form]),
);

/** @type {Map<string, Form>} */
export const FORM_OF_KIND = new Map([...FORMS.values()].map((form) => [form.kind, form]));

/** Understand what was typed.
 * @param {Form} form @param {Map<string, string>} typed @param {UnitChoice} choice */
export function read_fields(form, typed, choice) {
  /** @type {Map<string, number>} */
  const numbers = new Map();
  /** @type {Map<string, string>} */
  const texts = new Map();
  /** @type {Map<string, string>} */
  const problems = new Map();
  for (const field of form.fields) {
    const text = strip(typed.get(field.name) ?? "");
    const ounces = strip(typed.get(field.name + "_oz") ?? "");
    if (text === "" && ounces === "") {
      if (field.required) {
        problems.set(field.name, _missing(field));
      }
      continue;
    }
    if (field.kind === NUMBER) {
      const unit = typed.get(field.name + "_unit") ?? "";
      const number = units.parse(field.quantity, text, unit, ounces);
      if (number instanceof BadNumber) {
        problems.set(field.name, number.reason);
      } else if (number < field.lowest || number > field.highest) {
        problems.set(field.name, _implausible(field, choice));
      } else {
        numbers.set(field.name, number);
      }
    } else if (field.kind === CHOICE && !field.choices.some(([code]) => code === text)) {
      problems.set(field.name, "Choose one of the answers.");
    } else if (len(text) > field.longest) {
      problems.set(
        field.name,
        `Too long: ${len(text)} characters. Shorten it to ${field.longest}.`,
      );
    } else {
      texts.set(field.name, text);
    }
  }
  return new Fields(numbers, texts, problems);
}

/** Every name an event of this form may carry in its data. @param {Form} form @returns {string[]} */
export function typed_names(form) {
  const names = [];
  for (const field of form.fields) {
    names.push(field.name);
    if (field.kind === NUMBER) {
      names.push(field.name + "_unit");
    }
    if (field.quantity === "mass") {
      names.push(field.name + "_oz");
    }
  }
  return names;
}

/** @param {Field} field */
function _missing(field) {
  if (field.kind === CHOICE || field.kind === REFRIGERANT) {
    return "Choose one.";
  }
  if (field.kind === NUMBER) {
    return "Needed. Type the number the instrument shows.";
  }
  return "Needed. Type a few words.";
}

/** @param {Field} field @param {UnitChoice} choice */
function _implausible(field, choice) {
  const low = label(field.quantity, field.lowest, choice);
  const high = label(field.quantity, field.highest, choice);
  const unit = unit_for(field.quantity, choice);
  return `Out of the possible range, ${low} to ${high}. Check the number and its unit (${unit}).`;
}

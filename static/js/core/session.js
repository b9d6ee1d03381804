// Twin of src/lowside/core/session/fold.py: events in, state out.

import { assess } from "./charge.js";
import { amendments, voided_by } from "./corrections.js";
import { elapsed, in_order, moment_of } from "./events.js";
import { Fields, FORM_OF_KIND, read_fields } from "./forms.js";
import { atmosphere_pressure } from "./psychrometrics.js";
import { item, last, same_items } from "./python.js";
import { OutOfRange } from "./saturation.js";
import {
  STANDS,
  VOIDED,
  Cylinder,
  Entry,
  Job,
  ScaleSetting,
  Shot,
  State,
  Taken,
  Weight,
  sum_of_shots,
  taken_out,
} from "./state.js";
import * as system from "./system.js";
import { Reading, System } from "./system.js";
import { UnitChoice } from "./unit_choice.js";

/** @typedef {import("./events.js").Event} Event */
/** @typedef {import("./events.js").Moment} Moment */
/** @typedef {import("./handbook.js").Handbook} Handbook */
/** @typedef {Map<string, string>} Data */

export const SINGLE_VALUED = [
  "job.set",
  "unit.set",
  "target.set",
  "checks.answered",
  "cylinder.set",
  "weight.start",
  "weight.end",
  "scale.set",
  "decision.made",
  "session.closed",
];

export const NO_READING = new Reading();

/** Turn a session's events into its state.
 * @param {readonly Event[]} events @param {Handbook | null} [handbook] @returns {State} */
export function fold(events, handbook = null) {
  const ordered = in_order(events);
  const folding = new _Folding(handbook);
  const voided = voided_by(ordered);
  const amended = amendments(ordered, voided);
  for (const event of ordered) {
    if (event.kind === "event.amended") {
      folding.list_entry(event, event.data, voided, false, new Map());
      continue;
    }
    const data = amended.get(event.eid) ?? event.data;
    const fields = _understand(event.kind, data, folding.units);
    folding.list_entry(event, data, voided, amended.has(event.eid), fields.problems);
    if (!voided.has(event.eid)) {
      folding.apply(event, data, fields);
    }
  }
  return folding.state(ordered.length > 0 ? ordered[0].sid : "");
}

/** A reading in SI from the numbers of a reading form; gauges count from `atmosphere_pa`.
 * @param {Map<string, number>} numbers @param {number} atmosphere_pa */
export function reading_of(numbers, atmosphere_pa) {
  const suction = numbers.get("suction_pressure");
  const liquid = numbers.get("liquid_pressure");
  return new Reading({
    suction_pressure_pa: suction === undefined ? null : suction + atmosphere_pa,
    suction_line_k: numbers.get("suction_line"),
    liquid_pressure_pa: liquid === undefined ? null : liquid + atmosphere_pa,
    liquid_line_k: numbers.get("liquid_line"),
    outdoor_dry_bulb_k: numbers.get("outdoor_dry_bulb"),
    return_dry_bulb_k: numbers.get("return_dry_bulb"),
    return_wet_bulb_k: numbers.get("return_wet_bulb"),
    return_humidity: numbers.get("return_humidity"),
    supply_dry_bulb_k: numbers.get("supply_dry_bulb"),
    compressor_a: numbers.get("compressor_amps"),
  });
}

/** @param {string} kind @param {Data} data @param {UnitChoice} choice */
function _understand(kind, data, choice) {
  const form = FORM_OF_KIND.get(kind);
  if (form === undefined) {
    return new Fields(new Map(), new Map(), new Map());
  }
  return read_fields(form, data, choice);
}

/** The state under construction; one method for each kind of event. */
class _Folding {
  /** @param {Handbook | null} handbook */
  constructor(handbook) {
    this.handbook = handbook;
    this.units = new UnitChoice();
    this.procedure = "";
    this.practice = false;
    /** @type {Moment | null} */
    this.started = null;
    /** @type {Job | null} */
    this.job = null;
    /** @type {Fields | null} */
    this.unit = null;
    /** @type {Fields | null} */
    this.target = null;
    /** @type {Map<string, string>} */
    this.checks = new Map();
    /** @type {Cylinder | null} */
    this.cylinder = null;
    /** @type {Weight | null} */
    this.start_weight = null;
    /** @type {Weight | null} */
    this.end_weight = null;
    /** @type {ScaleSetting | null} */
    this.scale = null;
    /** @type {[Taken, Map<string, number>][]} */
    this.readings = [];
    /** @type {Shot[]} */
    this.shots = [];
    /** @type {number | null} */
    this.last_scale_kg = null;
    /** @type {number | null} */
    this.shot_before_kg = null;
    this.decision = "";
    this.decision_reason = "";
    this.explanation = "";
    this.running = true;
    /** @type {Moment | null} */
    this.stopped_at = null;
    /** @type {Map<string, string>} */
    this.done = new Map();
    /** @type {[Moment, string][]} */
    this.notes = [];
    this.signed_by = "";
    /** @type {Moment | null} */
    this.closed = null;
    /** @type {Entry[]} */
    this.entries = [];
    /** @type {string[]} */
    this.flags = [];
    /** @type {Map<string, [string, Data]>} */
    this.writers = new Map();
  }

  /** @param {Event} event @param {Data} data @param {Map<string, string>} voided
   * @param {boolean} amended @param {Map<string, string>} problems */
  list_entry(event, data, voided, amended, problems) {
    const status = voided.has(event.eid) ? VOIDED : STANDS;
    this.entries.push(
      new Entry(
        event.eid,
        event.kind,
        moment_of(event),
        event.dev,
        data,
        status,
        amended,
        problems,
      ),
    );
    if (problems.size > 0 && status === STANDS) {
      this.flags.push(
        `An entry (${event.kind}) could not be read: ${[...problems.values()].join(", ")}`,
      );
    }
  }

  /** @param {Event} event @param {Data} data @param {Fields} fields */
  apply(event, data, fields) {
    this._note_conflict(event, data);
    const apply_kind = _APPLY.get(event.kind);
    if (apply_kind !== undefined) {
      apply_kind.call(this, event, data, fields);
    }
    const step = data.get("step") ?? "";
    if (step !== "" && fields.problems.size === 0) {
      this.done.set(step, event.eid);
    }
  }

  /** @param {Event} event @param {Data} data @param {Fields} _fields */
  start(event, data, _fields) {
    this.started = moment_of(event);
    this.procedure = data.get("procedure") ?? "";
    this.practice = (data.get("practice") ?? "") === "yes";
  }

  /** @param {Event} _event @param {Data} _data @param {Fields} fields */
  set_units(_event, _data, fields) {
    const texts = fields.texts;
    if (fields.problems.size === 0) {
      this.units = new UnitChoice(
        item(texts, "pressure"),
        item(texts, "temperature"),
        item(texts, "mass"),
        item(texts, "length"),
      );
    }
  }

  /** @param {Event} _event @param {Data} _data @param {Fields} fields */
  set_job(_event, _data, fields) {
    const texts = fields.texts;
    if (fields.problems.size === 0) {
      this.job = new Job(
        item(texts, "site"),
        item(texts, "unit_label"),
        item(texts, "technician"),
        item(fields.numbers, "elevation"),
      );
    }
  }

  /** @param {Event} _event @param {Data} _data @param {Fields} fields */
  set_unit(_event, _data, fields) {
    this.unit = fields;
  }

  /** @param {Event} _event @param {Data} _data @param {Fields} fields */
  set_target(_event, _data, fields) {
    this.target = fields;
  }

  /** @param {Event} _event @param {Data} _data @param {Fields} fields */
  answer_checks(_event, _data, fields) {
    this.checks = fields.texts;
  }

  /** @param {Event} _event @param {Data} _data @param {Fields} fields */
  set_cylinder(_event, _data, fields) {
    const texts = fields.texts;
    if (fields.problems.size === 0) {
      this.cylinder = new Cylinder(
        item(texts, "cylinder_label"),
        item(texts, "cylinder_refrigerant"),
        item(fields.numbers, "cylinder_tare"),
        item(texts, "withdrawal"),
        fields.numbers.get("cylinder_pressure") ?? null,
        fields.numbers.get("cylinder_temperature") ?? null,
        fields.numbers.get("hose_length") ?? null,
        fields.numbers.get("hose_bore") ?? null,
      );
    }
  }

  /** @param {Event} event @param {Data} _data @param {Fields} fields */
  weigh_start(event, _data, fields) {
    if (fields.problems.size === 0) {
      this.start_weight = new Weight(event.eid, moment_of(event), item(fields.numbers, "gross"));
    }
  }

  /** @param {Event} event @param {Data} _data @param {Fields} fields */
  weigh_end(event, _data, fields) {
    if (fields.problems.size === 0) {
      this.end_weight = new Weight(event.eid, moment_of(event), item(fields.numbers, "gross"));
    }
  }

  /** @param {Event} _event @param {Data} _data @param {Fields} fields */
  set_scale(_event, _data, fields) {
    if (fields.problems.size === 0) {
      this.scale = new ScaleSetting(
        item(fields.texts, "scale_mode"),
        item(fields.numbers, "scale_reading"),
        item(fields.numbers, "scale_resolution"),
      );
      this.last_scale_kg = item(fields.numbers, "scale_reading");
    }
  }

  /** @param {Event} event @param {Data} _data @param {Fields} _fields */
  stop(event, _data, _fields) {
    this.running = false;
    this.stopped_at = moment_of(event);
  }

  /** @param {Event} _event @param {Data} _data @param {Fields} _fields */
  restart(_event, _data, _fields) {
    this.running = true;
    this.stopped_at = null;
  }

  /** @param {Event} _event @param {Data} _data @param {Fields} fields */
  decide(_event, _data, fields) {
    this.decision = fields.texts.get("decision") ?? "";
    this.decision_reason = fields.texts.get("reason") ?? "";
  }

  /** @param {Event} _event @param {Data} _data @param {Fields} fields */
  explain(_event, _data, fields) {
    this.explanation = fields.texts.get("explanation") ?? "";
  }

  /** @param {Event} event @param {Data} _data @param {Fields} fields */
  add_note(event, _data, fields) {
    if (fields.problems.size === 0) {
      this.notes.push([moment_of(event), item(fields.texts, "text")]);
    }
  }

  /** @param {Event} event @param {Data} _data @param {Fields} fields */
  close(event, _data, fields) {
    if (fields.problems.size === 0) {
      this.signed_by = item(fields.texts, "signed_by");
      this.closed = moment_of(event);
    }
  }

  /** @param {string} sid */
  state(sid) {
    const unit = this._system();
    return new State({
      sid,
      units: this.units,
      procedure: this.procedure,
      started: this.started,
      job: this.job,
      system: unit,
      unit_numbers: this.unit !== null ? this.unit.numbers : new Map(),
      unit_texts: this.unit !== null ? this.unit.texts : new Map(),
      checks: this.checks,
      cylinder: this.cylinder,
      start_weight: this.start_weight,
      end_weight: this.end_weight,
      scale: this.scale,
      readings: this.readings.map(([taken, numbers]) => this._judged(taken, numbers, unit)),
      shots: this.shots,
      last_scale_kg: this.last_scale_kg,
      shot_before_kg: this.shot_before_kg,
      decision: this.decision,
      decision_reason: this.decision_reason,
      explanation: this.explanation,
      running: this.running,
      stopped_at: this.stopped_at,
      done: this.done,
      notes: this.notes,
      signed_by: this.signed_by,
      closed: this.closed,
      practice: this.practice,
      entries: this.entries,
      flags: this.flags,
    });
  }

  /** @param {Event} event @param {Data} data */
  _note_conflict(event, data) {
    if (!SINGLE_VALUED.includes(event.kind)) {
      return;
    }
    const earlier = this.writers.get(event.kind);
    if (earlier !== undefined && earlier[0] !== event.dev && !same_items(earlier[1], data)) {
      this.flags.push(
        `Two phones wrote different entries for “${event.kind}”. The later one counts; ` +
          "both are on the timeline.",
      );
    }
    this.writers.set(event.kind, [event.dev, data]);
  }

  /** @param {Event} event @param {Data} _data @param {Fields} fields */
  open_shot(event, _data, fields) {
    if (this.shots.length > 0 && last(this.shots).closed === null) {
      this.flags.push("A shot was started while another was open.");
      this._finish_shot(last(this.shots), moment_of(event), "", null);
    }
    const before = fields.numbers.get("scale_before");
    this.shot_before_kg = before !== undefined ? before : this.last_scale_kg;
    this.shots.push(new Shot(event.eid, moment_of(event), null, "", null, false, null));
  }

  /** @param {Event} event @param {Data} _data @param {Fields} fields */
  close_shot(event, _data, fields) {
    if (this.shots.length === 0 || last(this.shots).closed !== null) {
      this.flags.push("A shot was ended that was never started.");
      return;
    }
    this._finish_shot(
      last(this.shots),
      moment_of(event),
      event.eid,
      fields.numbers.get("scale_after") ?? null,
    );
  }

  /** @param {Shot} shot @param {Moment} closed @param {string} close_eid
   * @param {number | null} after */
  _finish_shot(shot, closed, close_eid, after) {
    const time = elapsed(shot.opened, closed);
    /** @type {number | null} */
    let amount = null;
    if (after !== null && this.shot_before_kg !== null && this.scale !== null) {
      amount = taken_out(this.scale.mode, this.shot_before_kg, after);
    }
    if (after !== null) {
      this.last_scale_kg = after;
    } else if (close_eid !== "") {
      this.last_scale_kg = null;
    }
    this.shots[this.shots.length - 1] = new Shot(
      shot.eid,
      shot.opened,
      closed,
      close_eid,
      time.seconds,
      time.doubtful,
      amount,
    );
  }

  /** @param {Event} event @param {Data} _data @param {Fields} fields */
  take_reading(event, _data, fields) {
    const moment = moment_of(event);
    /** @type {Moment[]} */
    const closed = [];
    for (const s of this.shots) {
      if (s.closed !== null) closed.push(s.closed);
    }
    const taken = new Taken({
      eid: event.eid,
      moment,
      reading: NO_READING,
      final: event.kind === "reading.final",
      shots_before: closed.length,
      added_kg: sum_of_shots(this.shots),
      since_shot_s: closed.length > 0 ? elapsed(last(closed), moment).seconds : null,
      running: this.running,
      assessment: null,
    });
    this.readings.push([taken, fields.numbers]);
  }

  /** Judge by the unit as finally known, so an amended unit re-judges every reading.
   * @param {Taken} taken @param {Map<string, number>} numbers @param {System | null} unit */
  _judged(taken, numbers, unit) {
    if (unit === null) {
      return taken;
    }
    const reading = reading_of(numbers, unit.atmosphere_pa);
    return new Taken({
      ...taken,
      reading,
      assessment: this.handbook !== null ? assess(unit, reading, this.handbook) : null,
    });
  }

  _atmosphere_pa() {
    if (this.job === null) {
      return null;
    }
    const pressure = atmosphere_pressure(this.job.elevation_m);
    return pressure instanceof OutOfRange ? null : pressure;
  }

  _system() {
    if (this.unit === null || this.target === null) {
      return null;
    }
    const facts = this.unit;
    const atmosphere = this._atmosphere_pa();
    if (atmosphere === null) {
      return null;
    }
    if (!facts.texts.has("refrigerant") || !this.target.texts.has("method")) {
      return null;
    }
    return new System({
      refrigerant: item(facts.texts, "refrigerant"),
      metering: facts.texts.get("metering") ?? system.METERING_UNKNOWN,
      method: item(this.target.texts, "method"),
      atmosphere_pa: atmosphere,
      capacity_w: facts.numbers.get("capacity"),
      maker_subcooling_k: this.target.numbers.get("maker_subcooling"),
      maker_superheat_k: this.target.numbers.get("maker_superheat"),
      maker_tolerance_k: this.target.numbers.get("maker_tolerance"),
      nameplate_charge_kg: facts.numbers.get("nameplate_charge"),
      line_length_m: facts.numbers.get("line_length"),
      line_included_m: facts.numbers.get("line_included"),
      line_adder_kg_per_m: facts.numbers.get("line_adder"),
      high_side_limit_pa: facts.numbers.get("high_side_limit"),
    });
  }
}

/** @type {Map<string, (this: _Folding, event: Event, data: Data, fields: Fields) => void>} */
const _APPLY = new Map([
  ["session.started", _Folding.prototype.start],
  ["units.set", _Folding.prototype.set_units],
  ["job.set", _Folding.prototype.set_job],
  ["unit.set", _Folding.prototype.set_unit],
  ["target.set", _Folding.prototype.set_target],
  ["checks.answered", _Folding.prototype.answer_checks],
  ["cylinder.set", _Folding.prototype.set_cylinder],
  ["weight.start", _Folding.prototype.weigh_start],
  ["weight.end", _Folding.prototype.weigh_end],
  ["scale.set", _Folding.prototype.set_scale],
  ["reading.taken", _Folding.prototype.take_reading],
  ["reading.final", _Folding.prototype.take_reading],
  ["shot.opened", _Folding.prototype.open_shot],
  ["shot.closed", _Folding.prototype.close_shot],
  ["system.stopped", _Folding.prototype.stop],
  ["system.started", _Folding.prototype.restart],
  ["decision.made", _Folding.prototype.decide],
  ["weights.explained", _Folding.prototype.explain],
  ["note.added", _Folding.prototype.add_note],
  ["session.closed", _Folding.prototype.close],
]);

// Twin of src/lowside/core/session/cylinder.py: what is in it, and whether the weights agree.

import { LIQUID_GAUGE_PA, SLACK_K, thermometer_error } from "./conditions.js";
import { Fact, Finding, REFUSE, SHOWS, STOP, WARN } from "./findings.js";
import { STEPS_ALLOWED } from "./ledger.js";
import { OutOfRange, bubble_pressure, dew_pressure } from "./saturation.js";
import { added_kg, latest_reading, taken_out, unweighed_shots } from "./state.js";
import { FAHRENHEIT_OFFSET } from "./units.js";

/** @typedef {import("./handbook.js").Handbook} Handbook */
/** @typedef {import("./refrigerants.js").Refrigerant} Refrigerant */
/** @typedef {import("./saturation.js").PropertyTable} PropertyTable */
/** @typedef {import("./state.js").State} State */

export const HOTTEST_K = ((125.0 + FAHRENHEIT_OFFSET) * 5.0) / 9.0;

export const HOSES_KG = 0.06;

export const ROUNDING_KG = 1.0e-6;

export const INVERT = "invert";
export const DIP_TUBE = "dip_tube";
/** @type {Map<string, string>} */
export const HOW_LIQUID_COMES_OUT = new Map([
  [INVERT, "Turn the cylinder upside down, secured against falling."],
  [DIP_TUBE, "Leave the cylinder upright: its dip tube draws liquid."],
]);

/** Two ways to the same weight that differ by more than they may [kg]. */
export class Disagreement {
  /** @param {string} first @param {string} second @param {number} difference_kg
   * @param {number} allowed_kg */
  constructor(first, second, difference_kg, allowed_kg) {
    this.first = first;
    this.second = second;
    this.difference_kg = difference_kg;
    this.allowed_kg = allowed_kg;
  }
}

/** The three ways of knowing what left the cylinder [kg]; `null` where one is missing. */
export class Reconciliation {
  /** @param {{by_weights_kg: number | null, by_shots_kg: number | null,
   *   by_scale_kg: number | null, lines: [string, number][], allowed_kg: number,
   *   unweighed: number, disagreements: Disagreement[], findings: Finding[],
   *   disagrees: boolean}} fields */
  constructor(fields) {
    this.by_weights_kg = fields.by_weights_kg;
    this.by_shots_kg = fields.by_shots_kg;
    this.by_scale_kg = fields.by_scale_kg;
    this.lines = fields.lines;
    this.allowed_kg = fields.allowed_kg;
    this.unweighed = fields.unweighed;
    this.disagreements = fields.disagreements;
    this.findings = fields.findings;
    this.disagrees = fields.disagrees;
  }
}

/** Refrigerant inside [kg]: gross minus the tare stamped on the collar.
 * @param {number} gross_kg @param {number} tare_kg */
export function net_kg(gross_kg, tare_kg) {
  return gross_kg - tare_kg;
}

/** Whether `left_kg` [kg] covers an estimate of `low_kg` to `high_kg`; `null` when it does.
 * @param {number} left_kg @param {number} low_kg @param {number} high_kg
 * @returns {Finding | null} */
export function enough(left_kg, low_kg, high_kg) {
  const net = new Fact("net", "mass", left_kg);
  if (left_kg <= ROUNDING_KG) {
    return new Finding("cylinder_empty", REFUSE, [net]);
  }
  if (left_kg < low_kg) {
    return new Finding("not_enough", WARN, [net, new Fact("needed", "mass", low_kg)]);
  }
  if (left_kg < high_kg) {
    return new Finding("barely_enough", WARN, [net, new Fact("needed", "mass", high_kg)]);
  }
  return null;
}

/** What is known of the cylinder: heat, contents by pressure, the high side above it, and how its
 * refrigerant must leave it. @param {State} state @param {Handbook} handbook
 * @returns {Finding[]} */
export function contents_findings(state, handbook) {
  const cylinder = state.cylinder;
  if (cylinder === null) {
    return [];
  }
  /** @type {Finding[]} */
  const found = [];
  const temperature = cylinder.temperature_k;
  if (temperature !== null && temperature > HOTTEST_K + SLACK_K) {
    const facts = [
      new Fact("temperature", "temperature", temperature),
      new Fact("limit", "temperature", HOTTEST_K),
    ];
    found.push(new Finding("cylinder_hot", STOP, facts));
  }
  const table = handbook.tables.get(cylinder.refrigerant);
  const gauge = cylinder.pressure_pa;
  if (table !== undefined && state.system !== null) {
    const atmosphere = state.system.atmosphere_pa;
    if (gauge !== null && temperature !== null) {
      found.push(resting_pressure(table, gauge, temperature, atmosphere));
    } else if (gauge !== null || temperature !== null) {
      found.push(new Finding("contents_half", WARN));
    }
    const latest = latest_reading(state);
    if (gauge !== null && latest !== null) {
      const liquid = latest.reading.liquid_pressure_pa;
      const above = high_side_above(gauge + atmosphere, liquid, atmosphere);
      if (above !== null) {
        found.push(above);
      }
    }
  }
  const refrigerant = handbook.refrigerants.get(cylinder.refrigerant);
  if (refrigerant !== undefined) {
    found.push(withdrawal(refrigerant, cylinder.withdrawal));
  }
  return found;
}

/** A resting cylinder's pressure against saturation at its temperature.
 * @param {PropertyTable} table @param {number} gauge_pa @param {number} temperature_k
 * @param {number} atmosphere_pa */
export function resting_pressure(table, gauge_pa, temperature_k, atmosphere_pa) {
  const error = thermometer_error(temperature_k);
  const lowest = dew_pressure(table, temperature_k - error);
  const highest = bubble_pressure(table, temperature_k + error);
  if (lowest instanceof OutOfRange || highest instanceof OutOfRange) {
    return new Finding("contents_out_of_table", WARN, [
      new Fact("temperature", "temperature", temperature_k),
      new Fact("refrigerant", "text", 0.0, table.refrigerant),
    ]);
  }
  const lowest_gauge = lowest - LIQUID_GAUGE_PA - atmosphere_pa;
  const highest_gauge = highest + LIQUID_GAUGE_PA - atmosphere_pa;
  let code = "contents_agree";
  if (gauge_pa > highest_gauge) {
    code = "contents_high";
  } else if (gauge_pa < lowest_gauge) {
    code = "contents_low";
  }
  return new Finding(code, code === "contents_agree" ? SHOWS : REFUSE, [
    new Fact("pressure", "gauge_pressure", gauge_pa),
    new Fact("refrigerant", "text", 0.0, table.refrigerant),
    new Fact("temperature", "temperature", temperature_k),
    new Fact("lowest", "gauge_pressure", lowest_gauge),
    new Fact("highest", "gauge_pressure", highest_gauge),
  ]);
}

/** The running unit's high side stands above the cylinder, so it cannot be fed there.
 * @param {number} cylinder_pa @param {number | null} liquid_pa @param {number} atmosphere_pa
 * @returns {Finding | null} */
export function high_side_above(cylinder_pa, liquid_pa, atmosphere_pa) {
  if (liquid_pa === null || liquid_pa <= cylinder_pa) {
    return null;
  }
  return new Finding("high_side_above_cylinder", WARN, [
    new Fact("liquid", "gauge_pressure", liquid_pa - atmosphere_pa),
    new Fact("cylinder", "gauge_pressure", cylinder_pa - atmosphere_pa),
  ]);
}

/** How the refrigerant must leave this cylinder; `how` is INVERT or DIP_TUBE.
 * @param {Refrigerant} refrigerant @param {string} how */
export function withdrawal(refrigerant, how) {
  return new Finding(refrigerant.liquid_only ? "liquid_only" : "liquid_preferred", SHOWS, [
    new Fact("refrigerant", "text", 0.0, refrigerant.designation),
    new Fact("how", "text", 0.0, HOW_LIQUID_COMES_OUT.get(how) ?? ""),
  ]);
}

/** Start minus end against the sum of shots against the scale's running total.
 * @param {State} state @returns {Reconciliation} */
export function reconcile_session(state) {
  const taken = _taken(state);
  const shots = added_kg(state);
  const unweighed = unweighed_shots(state);
  const scale = _scale_total(state);
  const step = state.scale !== null ? state.scale.resolution_kg : 0.0;
  const weighed = state.shots.filter((shot) => shot.amount_kg !== null).length;
  const shot_steps = step * weighed;
  /** @type {Disagreement[]} */
  const disagreements = [];
  if (taken !== null && state.scale !== null) {
    _compare(
      disagreements,
      ["Start minus end", taken],
      ["the sum of shots", shots],
      STEPS_ALLOWED * step + shot_steps,
      unweighed > 0 ? null : HOSES_KG,
    );
  }
  if (taken !== null && scale !== null) {
    _compare(
      disagreements,
      ["Start minus end", taken],
      ["the scale’s running total", scale],
      (STEPS_ALLOWED + 1.0) * step,
      HOSES_KG,
    );
  }
  if (scale !== null) {
    _compare(
      disagreements,
      ["The scale’s running total", scale],
      ["the sum of shots", shots],
      step + shot_steps,
      unweighed > 0 ? null : 0.0,
    );
  }
  return new Reconciliation({
    by_weights_kg: taken,
    by_shots_kg: unweighed === 0 ? shots : null,
    by_scale_kg: scale,
    lines: _weight_lines(state, taken, shots, scale),
    allowed_kg: STEPS_ALLOWED * step + shot_steps + HOSES_KG,
    unweighed,
    disagreements,
    findings: _weight_findings(state, disagreements),
    disagrees: disagreements.length > 0,
  });
}

/** @param {State} state @returns {number | null} */
function _taken(state) {
  if (state.start_weight === null || state.end_weight === null) {
    return null;
  }
  return state.start_weight.kg - state.end_weight.kg;
}

/** @param {State} state @returns {number | null} */
function _scale_total(state) {
  if (state.scale === null || state.last_scale_kg === null) {
    return null;
  }
  return taken_out(state.scale.mode, state.scale.reading_kg, state.last_scale_kg);
}

/** `more_kg`: by how much the first may also be larger; `null`: by any amount.
 * @param {Disagreement[]} found @param {[string, number]} first @param {[string, number]} second
 * @param {number} allowed_kg @param {number | null} more_kg */
function _compare(found, first, second, allowed_kg, more_kg) {
  const difference = first[1] - second[1];
  if (difference < -allowed_kg - ROUNDING_KG) {
    found.push(new Disagreement(first[0], second[0], difference, allowed_kg));
  } else if (more_kg !== null && difference > allowed_kg + more_kg + ROUNDING_KG) {
    found.push(new Disagreement(first[0], second[0], difference, allowed_kg + more_kg));
  }
}

/** @param {State} state @param {Disagreement[]} disagreements */
function _weight_findings(state, disagreements) {
  const found = disagreements.map(
    (each) =>
      new Finding("weights_disagree", WARN, [
        new Fact("first", "text", 0.0, each.first),
        new Fact("second", "text", 0.0, each.second),
        new Fact("difference", "mass", Math.abs(each.difference_kg)),
        new Fact("allowed", "mass", each.allowed_kg),
      ]),
  );
  if (state.start_weight === null) {
    found.push(new Finding("no_start_weight", WARN));
  }
  if (state.end_weight === null) {
    found.push(new Finding("no_end_weight", WARN));
  }
  if (state.scale === null) {
    found.push(new Finding("no_scale_step", WARN));
  }
  const unweighed = unweighed_shots(state);
  if (unweighed === 1) {
    found.push(new Finding("one_unweighed_shot", WARN));
  } else if (unweighed > 1) {
    found.push(
      new Finding("unweighed_shots", WARN, [new Fact("count", "text", 0.0, String(unweighed))]),
    );
  }
  if (state.scale !== null && state.last_scale_kg === null) {
    found.push(new Finding("scale_lost", WARN));
  }
  if (found.length === 0) {
    found.push(new Finding("weights_agree", SHOWS));
  }
  return found;
}

/** @param {State} state @param {number | null} taken @param {number} shots
 * @param {number | null} scale */
function _weight_lines(state, taken, shots, scale) {
  /** @type {[string, number][]} */
  const lines = [];
  if (state.start_weight !== null) {
    lines.push(["Start weight", state.start_weight.kg]);
  }
  if (state.end_weight !== null) {
    lines.push(["End weight", state.end_weight.kg]);
  }
  if (taken !== null) {
    lines.push(["Start minus end", taken]);
  }
  if (state.shots.length > 0) {
    lines.push(["Sum of shots", shots]);
  }
  if (scale !== null) {
    lines.push(["Scale’s running total", scale]);
  }
  if (taken !== null && state.shots.length > 0) {
    lines.push(["Difference to the shots", taken - shots]);
  }
  return lines;
}

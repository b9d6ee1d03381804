// Twin of src/lowside/core/hoses/contents.py: what each hose holds.

import { linear } from "./arithmetic.js";
import { HOSE, INVERTED } from "./procedure.js";
import {
  OutOfRange,
  bubble_pressure,
  dew_pressure,
  liquid_density,
  vapour_density,
} from "./saturation.js";

/** @typedef {import("./procedure.js").Procedure} Procedure */
/** @typedef {import("./saturation.js").PropertyTable} PropertyTable */

export const INVERT = "invert";
export const DIP_TUBE = "dip_tube";

export const HOSE_LENGTH_M = 1.524;
export const HOSE_BORE_M = 0.0047625;
export const BODY_VOLUME_M3 = 4.0e-6;

export const USUAL_SUCTION_K = 278.15;
export const USUAL_LIQUID_K = 315.15;
export const USUAL_CYLINDER_K = 300.15;

export const QUARTER_CIRCLE = 0.7853981633974483;

/** Densities [kg/m3] of saturated liquid and vapour at rising pressures [Pa absolute]. */
export class Fluid {
  /** @param {readonly number[]} pressures @param {readonly number[]} liquid
   * @param {readonly number[]} vapour */
  constructor(pressures, liquid, vapour) {
    this.pressures = pressures;
    this.liquid = liquid;
    this.vapour = vapour;
  }
}

/** What the hoses are joined to [Pa absolute], and how big they are. */
export class Conditions {
  /** @param {number} suction_pa @param {number} liquid_pa @param {number} cylinder_pa
   * @param {number} atmosphere_pa @param {Fluid} fluid @param {string} [withdrawal]
   * @param {number} [hose_length_m] @param {number} [hose_bore_m] */
  constructor(
    suction_pa,
    liquid_pa,
    cylinder_pa,
    atmosphere_pa,
    fluid,
    withdrawal = INVERT,
    hose_length_m = HOSE_LENGTH_M,
    hose_bore_m = HOSE_BORE_M,
  ) {
    this.suction_pa = suction_pa;
    this.liquid_pa = liquid_pa;
    this.cylinder_pa = cylinder_pa;
    this.atmosphere_pa = atmosphere_pa;
    this.fluid = fluid;
    this.withdrawal = withdrawal;
    this.hose_length_m = hose_length_m;
    this.hose_bore_m = hose_bore_m;
  }
}

/** What one hose or chamber holds; `air` [Pa m3] is pressure times volume. */
export class Contents {
  /** @param {number} air @param {number} vapour_kg @param {number} liquid_kg
   * @param {number} pressure_pa */
  constructor(air, vapour_kg, liquid_kg, pressure_pa) {
    this.air = air;
    this.vapour_kg = vapour_kg;
    this.liquid_kg = liquid_kg;
    this.pressure_pa = pressure_pa;
  }
}

/** The network at one moment. */
export class Hoses {
  /** @param {Map<string, string>} settings @param {Map<string, Contents>} contents
   * @param {Map<string, number>} received_kg */
  constructor(settings, contents, received_kg) {
    this.settings = settings;
    this.contents = contents;
    this.received_kg = received_kg;
  }
}

export const AIR = "air";
export const AIR_AND_VAPOUR = "vapour and air";
export const VAPOUR = "vapour";
export const LIQUID = "liquid";
export const EMPTY = "empty";

export const TRACE_KG = 1.0e-9;

/** Conditions of a unit in mild weather. @param {PropertyTable} table
 * @param {number} atmosphere_pa @param {string} [withdrawal] @param {number} [hose_length_m]
 * @param {number} [hose_bore_m] @returns {Conditions | OutOfRange} */
export function usual_conditions(
  table,
  atmosphere_pa,
  withdrawal = INVERT,
  hose_length_m = HOSE_LENGTH_M,
  hose_bore_m = HOSE_BORE_M,
) {
  const suction = dew_pressure(table, USUAL_SUCTION_K);
  const liquid = bubble_pressure(table, USUAL_LIQUID_K);
  const cylinder = bubble_pressure(table, USUAL_CYLINDER_K);
  if (suction instanceof OutOfRange) {
    return suction;
  }
  if (liquid instanceof OutOfRange) {
    return liquid;
  }
  if (cylinder instanceof OutOfRange) {
    return cylinder;
  }
  return conditions_from(
    table,
    suction,
    liquid,
    cylinder,
    atmosphere_pa,
    withdrawal,
    hose_length_m,
    hose_bore_m,
  );
}

/** Conditions with the densities the table has at these pressures [Pa absolute].
 * @param {PropertyTable} table @param {number} suction_pa @param {number} liquid_pa
 * @param {number} cylinder_pa @param {number} atmosphere_pa @param {string} [withdrawal]
 * @param {number} [hose_length_m] @param {number} [hose_bore_m]
 * @returns {Conditions | OutOfRange} */
export function conditions_from(
  table,
  suction_pa,
  liquid_pa,
  cylinder_pa,
  atmosphere_pa,
  withdrawal = INVERT,
  hose_length_m = HOSE_LENGTH_M,
  hose_bore_m = HOSE_BORE_M,
) {
  /** @type {number[]} */
  const pressures = [];
  /** @type {number[]} */
  const liquid = [];
  /** @type {number[]} */
  const vapour = [];
  for (const pressure of [suction_pa, cylinder_pa, liquid_pa].sort((a, b) => a - b)) {
    const heavy = liquid_density(table, pressure);
    const light = vapour_density(table, pressure);
    if (heavy instanceof OutOfRange) {
      return heavy;
    }
    if (light instanceof OutOfRange) {
      return light;
    }
    if (pressures.length === 0 || pressure > pressures[pressures.length - 1]) {
      pressures.push(pressure);
      liquid.push(heavy);
      vapour.push(light);
    }
  }
  return new Conditions(
    suction_pa,
    liquid_pa,
    cylinder_pa,
    atmosphere_pa,
    new Fluid(pressures, liquid, vapour),
    withdrawal,
    hose_length_m,
    hose_bore_m,
  );
}

/** Vapour density [kg/m3]. @param {Fluid} fluid @param {number} pressure_pa */
export function vapour_at(fluid, pressure_pa) {
  if (pressure_pa <= fluid.pressures[0]) {
    return (fluid.vapour[0] * pressure_pa) / fluid.pressures[0];
  }
  if (pressure_pa >= fluid.pressures[fluid.pressures.length - 1]) {
    return fluid.vapour[fluid.vapour.length - 1];
  }
  return linear(fluid.pressures, fluid.vapour, pressure_pa);
}

/** Liquid density [kg/m3]. @param {Fluid} fluid @param {number} pressure_pa */
export function liquid_at(fluid, pressure_pa) {
  if (pressure_pa <= fluid.pressures[0]) {
    return fluid.liquid[0];
  }
  if (pressure_pa >= fluid.pressures[fluid.pressures.length - 1]) {
    return fluid.liquid[fluid.liquid.length - 1];
  }
  return linear(fluid.pressures, fluid.liquid, pressure_pa);
}

/** Inner volume [m3] of each hose and chamber.
 * @param {Procedure} procedure @param {Conditions} conditions @returns {Map<string, number>} */
export function volumes_of(procedure, conditions) {
  const bore = conditions.hose_bore_m;
  const hose = QUARTER_CIRCLE * bore * bore * conditions.hose_length_m;
  return new Map(
    procedure.volumes.map((volume) => [volume.id, volume.kind === HOSE ? hose : BODY_VOLUME_M3]),
  );
}

/** Hoses on nothing yet, full of air. @param {Procedure} procedure @param {Conditions} conditions */
export function bare(procedure, conditions) {
  const sizes = volumes_of(procedure, conditions);
  const air = conditions.atmosphere_pa;
  return new Hoses(
    new Map(procedure.valves.map((valve) => [valve.id, valve.start])),
    new Map([...sizes].map(([name, size]) => [name, new Contents(air * size, 0.0, 0.0, air)])),
    new Map(),
  );
}

/** Whether liquid stands at the cylinder's valve.
 * @param {Conditions} conditions @param {Map<string, string>} settings */
export function gives_liquid(conditions, settings) {
  const inverted = (settings.get("cylinder_position") ?? INVERTED) === INVERTED;
  return inverted !== (conditions.withdrawal === DIP_TUBE);
}

/** Contents in one of five words. @param {Contents} contents */
export function word_for(contents) {
  if (contents.liquid_kg > TRACE_KG) {
    return LIQUID;
  }
  if (contents.air > 0.0) {
    return contents.vapour_kg > TRACE_KG ? AIR_AND_VAPOUR : AIR;
  }
  return contents.vapour_kg > TRACE_KG ? VAPOUR : EMPTY;
}

/** Refrigerant in all hoses and chambers [kg]. @param {Hoses} hoses */
export function held_kg(hoses) {
  let total = 0.0;
  for (const contents of hoses.contents.values()) {
    total = total + contents.vapour_kg + contents.liquid_kg;
  }
  return total;
}

// Twin of src/lowside/core/handbook/system.py: the unit being charged and what is read off it, in SI.

export const TXV = "txv";
export const EEV = "eev";
export const FIXED = "fixed";
export const METERING_UNKNOWN = "unknown";
export const METERING = [TXV, EEV, FIXED, METERING_UNKNOWN];

export const BY_SUBCOOLING = "subcooling";
export const BY_SUPERHEAT = "superheat";
export const BY_CHART = "chart";
export const BY_WEIGHT = "weigh_in";
export const METHODS = [BY_SUBCOOLING, BY_SUPERHEAT, BY_CHART, BY_WEIGHT];

/** What was asked once about the unit and the site. */
export class System {
  /** @param {{refrigerant: string, metering: string, method: string, atmosphere_pa: number,
   *   capacity_w?: number | null, maker_subcooling_k?: number | null,
   *   maker_superheat_k?: number | null, maker_tolerance_k?: number | null,
   *   nameplate_charge_kg?: number | null, line_length_m?: number | null,
   *   line_included_m?: number | null, line_adder_kg_per_m?: number | null,
   *   high_side_limit_pa?: number | null}} fields */
  constructor(fields) {
    this.refrigerant = fields.refrigerant;
    this.metering = fields.metering;
    this.method = fields.method;
    this.atmosphere_pa = fields.atmosphere_pa;
    this.capacity_w = fields.capacity_w ?? null;
    this.maker_subcooling_k = fields.maker_subcooling_k ?? null;
    this.maker_superheat_k = fields.maker_superheat_k ?? null;
    this.maker_tolerance_k = fields.maker_tolerance_k ?? null;
    this.nameplate_charge_kg = fields.nameplate_charge_kg ?? null;
    this.line_length_m = fields.line_length_m ?? null;
    this.line_included_m = fields.line_included_m ?? null;
    this.line_adder_kg_per_m = fields.line_adder_kg_per_m ?? null;
    this.high_side_limit_pa = fields.high_side_limit_pa ?? null;
  }
}

/** One set of instrument readings [absolute Pa, K, A]; any may be missing. */
export class Reading {
  /** @param {{suction_pressure_pa?: number | null, suction_line_k?: number | null,
   *   liquid_pressure_pa?: number | null, liquid_line_k?: number | null,
   *   outdoor_dry_bulb_k?: number | null, return_dry_bulb_k?: number | null,
   *   return_wet_bulb_k?: number | null, return_humidity?: number | null,
   *   supply_dry_bulb_k?: number | null, compressor_a?: number | null}} [fields] */
  constructor(fields = {}) {
    this.suction_pressure_pa = fields.suction_pressure_pa ?? null;
    this.suction_line_k = fields.suction_line_k ?? null;
    this.liquid_pressure_pa = fields.liquid_pressure_pa ?? null;
    this.liquid_line_k = fields.liquid_line_k ?? null;
    this.outdoor_dry_bulb_k = fields.outdoor_dry_bulb_k ?? null;
    this.return_dry_bulb_k = fields.return_dry_bulb_k ?? null;
    this.return_wet_bulb_k = fields.return_wet_bulb_k ?? null;
    this.return_humidity = fields.return_humidity ?? null;
    this.supply_dry_bulb_k = fields.supply_dry_bulb_k ?? null;
    this.compressor_a = fields.compressor_a ?? null;
  }
}

// Twin of src/lowside/core/hoses/flow.py: moves contents until nothing moves any more.

import {
  beside,
  boundaries_of,
  doors,
  fluid_at,
  groups,
  links,
  path,
  pressure_at,
  reach,
  way_through,
} from "./hose_network.js";
import { AIR, Contents, Hoses, LIQUID, VAPOUR, liquid_at, vapour_at, volumes_of } from "./hoses.js";
import { BOUNDARIES, OUTSIDE } from "./procedure.js";
import { item, last } from "./python.js";

/** @typedef {import("./hose_network.js").Door} Door */
/** @typedef {import("./hose_network.js").Link} Link */
/** @typedef {import("./hoses.js").Conditions} Conditions */
/** @typedef {import("./procedure.js").Procedure} Procedure */
/** @typedef {[number, string, string]} OnWay pressure, fluid and source */

export const FLUSHES = 1.0;

const _HALVINGS = 60;
const _SAME = 1.0e-9;

/** Something that went from one place to another. */
export class Flow {
  /** @param {string} start @param {string} end @param {string} phase @param {number} kg
   * @param {number} air @param {boolean} [steady] */
  constructor(start, end, phase, kg, air, steady = false) {
    this.start = start;
    this.end = end;
    this.phase = phase;
    this.kg = kg;
    this.air = air;
    this.steady = steady;
  }
}

/** The network after everything has evened out, and what moved. */
export class Settled {
  /** @param {Hoses} hoses @param {Flow[]} flows */
  constructor(hoses, flows) {
    this.hoses = hoses;
    this.flows = flows;
  }
}

/** Let everything move that can, as the valves stand.
 * @param {Procedure} procedure @param {Conditions} conditions @param {Hoses} hoses */
export function settle(procedure, conditions, hoses) {
  const books = new _Books(procedure, conditions, hoses);
  const ways = links(procedure, hoses.settings);
  for (const group of groups(procedure, ways)) {
    const joined = doors(group, ways);
    const boundaries = boundaries_of(joined);
    if (boundaries.length === 0) {
      books.even_out(group);
    } else if (boundaries.length === 1) {
      books.fill_from_one(group, joined, ways);
    } else {
      books.blow_through(group, joined, boundaries, ways);
    }
  }
  for (const way of ways) {
    if (BOUNDARIES.includes(way.a) && way.b === OUTSIDE) {
      books.blow_off(way.a);
    }
  }
  return new Settled(
    new Hoses(hoses.settings, new Map(books.contents), new Map(books.received)),
    books.flows,
  );
}

/** Contents under change; every change is booked as a flow. */
class _Books {
  /** @param {Procedure} procedure @param {Conditions} conditions @param {Hoses} hoses */
  constructor(procedure, conditions, hoses) {
    this.conditions = conditions;
    this.settings = hoses.settings;
    this.sizes = volumes_of(procedure, conditions);
    /** @type {Map<string, Contents>} */
    this.contents = new Map(hoses.contents);
    /** @type {Map<string, number>} */
    this.received = new Map(hoses.received_kg);
    /** @type {Flow[]} */
    this.flows = [];
  }

  /** @param {Flow} flow */
  book(flow) {
    if (BOUNDARIES.includes(flow.start)) {
      this.received.set(flow.start, (this.received.get(flow.start) ?? 0.0) - flow.kg);
    }
    if (BOUNDARIES.includes(flow.end)) {
      this.received.set(flow.end, (this.received.get(flow.end) ?? 0.0) + flow.kg);
    }
    this.flows.push(flow);
  }

  /** @param {string} boundary */
  blow_off(boundary) {
    const phase = fluid_at(this.conditions, this.settings, boundary);
    const pressure = pressure_at(this.conditions, boundary);
    let size = 0.0;
    for (const one of this.sizes.values()) {
      size = one > size ? one : size;
    }
    this.book(new Flow(boundary, OUTSIDE, phase, size * this.density(phase, pressure), 0.0, true));
  }

  /** @param {string} phase @param {number} pressure */
  density(phase, pressure) {
    if (phase === LIQUID) {
      return liquid_at(this.conditions.fluid, pressure);
    }
    return vapour_at(this.conditions.fluid, pressure);
  }

  /** @param {readonly string[]} group */
  even_out(group) {
    const parts = group.map((name) => item(this.contents, name));
    let highest = parts[0].pressure_pa;
    let lowest = parts[0].pressure_pa;
    for (const part of parts) {
      highest = part.pressure_pa > highest ? part.pressure_pa : highest;
      lowest = part.pressure_pa < lowest ? part.pressure_pa : lowest;
    }
    const wet = parts.filter((part) => part.liquid_kg > 0.0);
    if (
      highest - lowest <= _SAME * highest &&
      (wet.length === 0 || lowest >= this.conditions.cylinder_pa)
    ) {
      return;
    }
    let air = 0.0;
    let mass = 0.0;
    let size = 0.0;
    for (const name of group) {
      const part = item(this.contents, name);
      air = air + part.air;
      mass = mass + part.vapour_kg + part.liquid_kg;
      size = size + item(this.sizes, name);
    }
    const [liquid, pressure] = this.shut_in(air, mass, size, highest);
    const before = new Map(this.contents);
    for (const name of group) {
      const share = item(this.sizes, name) / size;
      this.contents.set(
        name,
        new Contents(air * share, (mass - liquid) * share, liquid * share, pressure),
      );
    }
    this._book_evening(group, before);
  }

  /** @param {readonly string[]} group @param {Map<string, Contents>} before */
  _book_evening(group, before) {
    const gains = group.map((name) => _mass(item(this.contents, name)) - _mass(item(before, name)));
    let most = 0;
    for (let i = 0; i < gains.length; i += 1) {
      most = gains[i] > gains[most] ? i : most;
    }
    for (let i = 0; i < group.length; i += 1) {
      if (gains[i] < 0.0) {
        const phase = item(before, group[i]).liquid_kg > 0.0 ? LIQUID : VAPOUR;
        this.book(new Flow(group[i], group[most], phase, -gains[i], 0.0));
      }
    }
  }

  /** @param {number} air @param {number} mass @param {number} size @param {number} highest
   * @returns {[number, number]} */
  shut_in(air, mass, size, highest) {
    if (mass <= 0.0) {
      return [0.0, air / size];
    }
    const warm = this.conditions.cylinder_pa;
    const fluid = this.conditions.fluid;
    const room = size - air / warm;
    if (room > 0.0 && mass <= vapour_at(fluid, warm) * room) {
      let low = 0.0;
      let high = warm;
      for (let i = 0; i < _HALVINGS; i += 1) {
        const middle = (low + high) / 2.0;
        if (air / middle + mass / vapour_at(fluid, middle) > size) {
          low = middle;
        } else {
          high = middle;
        }
      }
      return [0.0, high];
    }
    const heavy = liquid_at(fluid, warm);
    const light = vapour_at(fluid, warm);
    const left = size - mass / heavy;
    if (room <= 0.0 && left > 0.0) {
      return [mass, air / left];
    }
    const liquid = (mass - light * room) / (1.0 - light / heavy);
    if (liquid >= heavy * room) {
      return [mass, highest > warm ? highest : warm];
    }
    return [liquid, warm];
  }

  /** @param {readonly string[]} group @param {readonly Door[]} joined
   * @param {readonly Link[]} ways */
  fill_from_one(group, joined, ways) {
    const boundary = joined[0].boundary;
    const pressure = pressure_at(this.conditions, boundary);
    const fluid = fluid_at(this.conditions, this.settings, boundary);
    /** @type {string[]} */
    const swept = [];
    for (const name of group) {
      if (this.drains(name, pressure)) {
        swept.push(...path(name, joined[0].entry, ways).slice(1));
      }
    }
    for (const name of group) {
      this.fill(name, pressure, fluid, boundary, boundary, swept.includes(name));
    }
  }

  /** @param {string} name @param {number} pressure */
  drains(name, pressure) {
    const contents = item(this.contents, name);
    const boils = contents.liquid_kg > 0.0 && pressure < this.conditions.cylinder_pa;
    return boils || contents.pressure_pa > pressure * (1.0 + _SAME);
  }

  /** @param {string} name @param {number} pressure @param {string} fluid @param {string} source
   * @param {string} sink @param {boolean} swept */
  fill(name, pressure, fluid, source, sink, swept) {
    const old = item(this.contents, name);
    const size = item(this.sizes, name);
    let made;
    if (fluid === AIR) {
      made = new Contents(pressure * size, 0.0, 0.0, pressure);
    } else {
      let air = old.air;
      if (swept) {
        air = 0.0;
      } else if (old.pressure_pa > pressure) {
        air = old.air * (pressure / old.pressure_pa);
      }
      let room = size - air / pressure;
      room = room > 0.0 ? room : 0.0;
      let liquid = 0.0;
      if (fluid === LIQUID) {
        liquid = room * this.density(LIQUID, pressure);
      } else if (pressure >= this.conditions.cylinder_pa) {
        const full = room * this.density(LIQUID, pressure);
        liquid = old.liquid_kg < full ? old.liquid_kg : full;
      }
      let rest = room - liquid / this.density(LIQUID, pressure);
      rest = fluid !== LIQUID && rest > 0.0 ? rest : 0.0;
      made = new Contents(air, rest * this.density(VAPOUR, pressure), liquid, pressure);
    }
    this.replace(name, made, fluid, source, sink);
  }

  /** @param {string} name @param {Contents} made @param {string} fluid @param {string} source
   * @param {string} sink */
  replace(name, made, fluid, source, sink) {
    const old = item(this.contents, name);
    const gain = _mass(made) - _mass(old);
    const lost_air = fluid !== AIR && old.air > made.air ? old.air - made.air : 0.0;
    this.contents.set(name, made);
    if (gain > 0.0) {
      this.book(new Flow(source, name, fluid, gain, 0.0));
    }
    const phase = old.liquid_kg > 0.0 ? LIQUID : VAPOUR;
    if (gain < 0.0 || lost_air > 0.0) {
      this.book(new Flow(name, sink, phase, gain < 0.0 ? -gain : 0.0, lost_air));
    }
  }

  /** @param {readonly string[]} group @param {readonly Door[]} joined
   * @param {readonly string[]} boundaries @param {readonly Link[]} ways */
  blow_through(group, joined, boundaries, ways) {
    const ranked = this.by_pressure(boundaries);
    const sink = ranked[0];
    /** @type {Map<string, OnWay>} */
    const on_way = new Map();
    /** @type {[string, number][]} */
    const puffs = [];
    for (const source of ranked.slice(1)) {
      /** @type {string[]} */
      const swept = [];
      for (const entry of joined) {
        for (const leaving of joined) {
          if (entry.boundary === source && leaving.boundary === sink) {
            swept.push(...way_through(entry, leaving, ways));
          }
        }
      }
      let size = 0.0;
      for (const name of group) {
        if (swept.includes(name)) {
          size = size + item(this.sizes, name);
          on_way.set(name, this.state_on_way(name, source, sink, joined, ways));
        }
      }
      puffs.push([source, size]);
    }
    this.push_out(group, on_way, sink);
    for (const name of group) {
      if (!on_way.has(name)) {
        const [pressure, fluid, source] = this.beside_way(name, last(ranked), on_way, ways);
        this.fill(name, pressure, fluid, source, sink, false);
      }
    }
    for (const [source, size] of puffs) {
      const phase = fluid_at(this.conditions, this.settings, source);
      const pressure = pressure_at(this.conditions, source);
      const puff = FLUSHES * size;
      const kg = sink === OUTSIDE ? puff * this.density(phase, pressure) : 0.0;
      const air = phase === AIR ? puff * pressure : 0.0;
      this.book(new Flow(source, sink, phase, kg, air, true));
    }
    this._book_between(ranked);
  }

  /** @param {readonly string[]} ranked */
  _book_between(ranked) {
    for (let i = 1; i < ranked.length; i += 1) {
      for (const higher of ranked.slice(i + 1)) {
        const phase = fluid_at(this.conditions, this.settings, higher);
        this.book(new Flow(higher, ranked[i], phase, 0.0, 0.0, true));
      }
    }
  }

  /** @param {readonly string[]} boundaries @returns {string[]} */
  by_pressure(boundaries) {
    /** @type {string[]} */
    let ranked = [];
    for (const boundary of boundaries) {
      let at = 0;
      for (const other of ranked) {
        if (pressure_at(this.conditions, other) <= pressure_at(this.conditions, boundary)) {
          at = at + 1;
        }
      }
      ranked = [...ranked.slice(0, at), boundary, ...ranked.slice(at)];
    }
    return ranked;
  }

  /** @param {string} name @param {string} source @param {string} sink
   * @param {readonly Door[]} joined @param {readonly Link[]} ways @returns {OnWay} */
  state_on_way(name, source, sink, joined, ways) {
    const fluid = fluid_at(this.conditions, this.settings, source);
    const wide = ways.filter((way) => !way.throttle);
    for (const door of joined) {
      if (door.boundary !== sink || !beside(door.entry, wide).includes(sink)) {
        continue;
      }
      if (reach(door.entry, wide).includes(name)) {
        return [pressure_at(this.conditions, sink), fluid, source];
      }
    }
    return [pressure_at(this.conditions, source), fluid, source];
  }

  /** @param {readonly string[]} group @param {Map<string, OnWay>} on_way @param {string} sink */
  push_out(group, on_way, sink) {
    for (const name of group) {
      if (!on_way.has(name)) {
        continue;
      }
      const old = item(this.contents, name);
      const [pressure, fluid, source] = item(on_way, name);
      const phase = old.liquid_kg > 0.0 ? LIQUID : VAPOUR;
      this.book(new Flow(name, sink, phase, _mass(old), old.air));
      if (fluid === AIR) {
        const air = pressure * item(this.sizes, name);
        this.contents.set(name, new Contents(air, 0.0, 0.0, pressure));
        continue;
      }
      const kg = item(this.sizes, name) * this.density(fluid, pressure);
      this.book(new Flow(source, name, fluid, kg, 0.0));
      if (fluid === LIQUID) {
        this.contents.set(name, new Contents(0.0, 0.0, kg, pressure));
      } else {
        this.contents.set(name, new Contents(0.0, kg, 0.0, pressure));
      }
    }
  }

  /** @param {string} name @param {string} highest @param {Map<string, OnWay>} on_way
   * @param {readonly Link[]} ways @returns {OnWay} */
  beside_way(name, highest, on_way, ways) {
    for (const member of reach(name, ways)) {
      if (on_way.has(member)) {
        return item(on_way, member);
      }
    }
    const pressure = pressure_at(this.conditions, highest);
    return [pressure, fluid_at(this.conditions, this.settings, highest), highest];
  }
}

/** @param {Contents} contents */
function _mass(contents) {
  return contents.vapour_kg + contents.liquid_kg;
}

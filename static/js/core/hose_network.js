// Twin of src/lowside/core/hoses/network.py: which hoses are open to one another and to what.

import { AIR, LIQUID, VAPOUR, gives_liquid } from "./hoses.js";
import {
  BOUNDARIES,
  CYLINDER,
  HANDWHEEL,
  LIQUID_LINE,
  LOOSE,
  NUT,
  OPEN,
  OUTSIDE,
  SUCTION,
  TIGHT,
} from "./procedure.js";
import { item } from "./python.js";

/** @typedef {import("./hoses.js").Conditions} Conditions */
/** @typedef {import("./procedure.js").Procedure} Procedure */
/** @typedef {import("./procedure.js").Valve} Valve */

/** An open way between two places. */
export class Link {
  /** @param {string} a @param {string} b @param {string} valve @param {boolean} throttle */
  constructor(a, b, valve, throttle) {
    this.a = a;
    this.b = b;
    this.valve = valve;
    this.throttle = throttle;
  }
}

/** Where a group of hoses is joined to something. */
export class Door {
  /** @param {string} boundary @param {string} entry @param {string} valve */
  constructor(boundary, entry, valve) {
    this.boundary = boundary;
    this.entry = entry;
    this.valve = valve;
  }
}

/** Pressure [Pa absolute] of what the hoses are joined to.
 * @param {Conditions} conditions @param {string} boundary */
export function pressure_at(conditions, boundary) {
  if (boundary === SUCTION) {
    return conditions.suction_pa;
  }
  if (boundary === LIQUID_LINE) {
    return conditions.liquid_pa;
  }
  if (boundary === CYLINDER) {
    return conditions.cylinder_pa;
  }
  return conditions.atmosphere_pa;
}

/** What comes out of it. @param {Conditions} conditions @param {Map<string, string>} settings
 * @param {string} boundary */
export function fluid_at(conditions, settings, boundary) {
  if (boundary === OUTSIDE) {
    return AIR;
  }
  if (boundary === LIQUID_LINE) {
    return LIQUID;
  }
  if (boundary === CYLINDER) {
    return gives_liquid(conditions, settings) ? LIQUID : VAPOUR;
  }
  return VAPOUR;
}

/** Every open way as the valves stand.
 * @param {Procedure} procedure @param {Map<string, string>} settings @returns {Link[]} */
export function links(procedure, settings) {
  /** @type {Link[]} */
  const found = [];
  for (const valve of procedure.valves) {
    if (valve.kind === HANDWHEEL && item(settings, valve.id) === OPEN) {
      found.push(new Link(valve.a, valve.b, valve.id, true));
    } else if (valve.kind === NUT) {
      found.push(..._nut_links(valve, settings));
    }
  }
  return found;
}

/** @param {Valve} nut @param {Map<string, string>} settings @returns {Link[]} */
function _nut_links(nut, settings) {
  const tight = item(settings, nut.id) === TIGHT;
  const a_open = _all_open(nut.a_gates, settings) && (tight || !nut.self_closing);
  const b_open = nut.b !== "" && _all_open(nut.b_gates, settings) && (tight || !nut.core);
  if (tight) {
    return a_open && b_open ? [new Link(nut.a, nut.b, nut.id, false)] : [];
  }
  /** @type {Link[]} */
  const found = [];
  if (a_open && b_open && item(settings, nut.id) === LOOSE) {
    found.push(new Link(nut.a, nut.b, nut.id, false));
  }
  if (a_open) {
    found.push(new Link(nut.a, OUTSIDE, nut.id, true));
  }
  if (b_open) {
    found.push(new Link(nut.b, OUTSIDE, nut.id, true));
  }
  return found;
}

/** @param {readonly string[]} gates @param {Map<string, string>} settings */
function _all_open(gates, settings) {
  return gates.every((gate) => item(settings, gate) === OPEN);
}

/** Hoses and chambers open to one another, in the procedure's order.
 * @param {Procedure} procedure @param {readonly Link[]} ways @returns {string[][]} */
export function groups(procedure, ways) {
  const names = procedure.volumes.map((volume) => volume.id);
  /** @type {string[]} */
  const placed = [];
  /** @type {string[][]} */
  const found = [];
  for (const name of names) {
    if (placed.includes(name)) {
      continue;
    }
    const group = [name];
    for (const member of group) {
      for (const other of beside(member, ways)) {
        if (!BOUNDARIES.includes(other) && !group.includes(other)) {
          group.push(other);
        }
      }
    }
    placed.push(...group);
    found.push(names.filter((n) => group.includes(n)));
  }
  return found;
}

/** Everything a group is joined to, in the order of `BOUNDARIES`.
 * @param {readonly string[]} group @param {readonly Link[]} ways @returns {Door[]} */
export function doors(group, ways) {
  /** @type {Door[]} */
  const found = [];
  for (const boundary of BOUNDARIES) {
    for (const name of group) {
      for (const way of ways) {
        if ((way.a === name && way.b === boundary) || (way.b === name && way.a === boundary)) {
          found.push(new Door(boundary, name, way.valve));
        }
      }
    }
  }
  return found;
}

/** The boundaries of these doors, each once. @param {readonly Door[]} joined */
export function boundaries_of(joined) {
  return BOUNDARIES.filter((b) => joined.some((door) => door.boundary === b));
}

/** Hoses a stream blows through between two doors.
 * @param {Door} entry @param {Door} leaving @param {readonly Link[]} ways @returns {string[]} */
export function way_through(entry, leaving, ways) {
  if (entry.valve === leaving.valve) {
    return [];
  }
  const open_ways = ways.filter((w) => w.valve !== entry.valve && w.valve !== leaving.valve);
  return path(entry.entry, leaving.entry, open_ways);
}

/** What a hose is joined to directly. @param {string} name @param {readonly Link[]} ways */
export function beside(name, ways) {
  return ways
    .filter((way) => name === way.a || name === way.b)
    .map((way) => (way.a === name ? way.b : way.a));
}

/** Hoses and chambers from `start` to `end`, both included; none when there is no way.
 * @param {string} start @param {string} end @param {readonly Link[]} ways @returns {string[]} */
export function path(start, end, ways) {
  /** @type {Map<string, string>} */
  const came_from = new Map([[start, ""]]);
  const queue = [start];
  for (const name of queue) {
    for (const other of beside(name, ways)) {
      if (!BOUNDARIES.includes(other) && !came_from.has(other)) {
        came_from.set(other, name);
        queue.push(other);
      }
    }
  }
  if (!came_from.has(end)) {
    return [];
  }
  let steps = [end];
  while (item(came_from, steps[0]) !== "") {
    steps = [item(came_from, steps[0]), ...steps];
  }
  return steps;
}

/** Hoses and chambers reachable from one, nearest first.
 * @param {string} start @param {readonly Link[]} ways */
export function reach(start, ways) {
  const found = [start];
  for (const name of found) {
    for (const other of beside(name, ways)) {
      if (!BOUNDARIES.includes(other) && !found.includes(other)) {
        found.push(other);
      }
    }
  }
  return found;
}

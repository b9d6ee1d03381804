// Twin of src/lowside/core/hoses/hazards.py: what is wrong with a turn and with a step's end.

import {
  boundaries_of,
  doors,
  fluid_at,
  groups,
  links,
  path,
  pressure_at,
  way_through,
} from "./hose_network.js";
import { LIQUID, TRACE_KG, gives_liquid, liquid_at, volumes_of, word_for } from "./hoses.js";
import {
  BOUNDARIES,
  CLOSED,
  CYLINDER,
  GATE,
  HOSE,
  INVERTED,
  LIQUID_LINE,
  NUT,
  OFF,
  OUTSIDE,
  SUCTION,
} from "./procedure.js";
import { equal, item } from "./python.js";

/** @typedef {import("./hose_network.js").Door} Door */
/** @typedef {import("./hose_network.js").Link} Link */
/** @typedef {import("./hoses.js").Conditions} Conditions */
/** @typedef {import("./hoses.js").Contents} Contents */
/** @typedef {import("./hoses.js").Hoses} Hoses */
/** @typedef {import("./procedure.js").Procedure} Procedure */

export const AIR_IN = "air_in";
export const LIQUID_OUT = "liquid_out";
export const VAPOUR_OUT = "vapour_out";
export const HIGH_TO_CYLINDER = "high_to_cylinder";
export const HIGH_TO_SUCTION = "high_to_suction";
export const UNIT_TO_CYLINDER = "unit_to_cylinder";
export const LIQUID_HELD_OPEN = "liquid_held_open";
export const CYLINDER_HELD_OPEN = "cylinder_held_open";
export const VAPOUR_FED = "vapour_fed";
export const LIQUID_LOCKED = "liquid_locked";
export const OFF_WITH_LIQUID = "off_with_liquid";
export const LEFT_BLOWING = "left_blowing";
export const CYLINDER_LEFT_OPEN = "cylinder_left_open";
export const HOSE_LEFT_ON = "hose_left_on";

export const FULL = 0.8;

/** Something that hurts people, the unit or the air, and what to do instead. */
export class Hazard {
  /** @param {string} code @param {string} sentence @param {string} cure */
  constructor(code, sentence, cure) {
    this.code = code;
    this.sentence = sentence;
    this.cure = cure;
  }
}

/** @type {Map<string, [string, string]>} */
export const TEXTS = new Map([
  [
    AIR_IN,
    [
      "Air is carried along into the {where}.",
      "Stop. Blow the air out at a loose nut with vapour first.",
    ],
  ],
  [
    LIQUID_OUT,
    [
      "Liquid sprays out at the {where}.",
      "Stop. Shut its valves and bleed the liquid into the suction first.",
    ],
  ],
  [
    VAPOUR_OUT,
    [
      "Vapour blows out freely at the {where}.",
      "Stop. Shut the valve behind it, or put the nut on.",
    ],
  ],
  [
    HIGH_TO_CYLINDER,
    [
      "The high side is open to the cylinder: its pressure would fill and overfill it.",
      "Shut the high handwheel before the cylinder valve is opened.",
    ],
  ],
  [
    HIGH_TO_SUCTION,
    [
      "The high side is open to the suction: liquid floods the compressor.",
      "Shut the valve on the red hose before both handwheels are open.",
    ],
  ],
  [
    UNIT_TO_CYLINDER,
    [
      "The unit’s pressure is above the cylinder’s: refrigerant runs into the cylinder.",
      "Shut the low handwheel. Let the cylinder warm up to the air, never with a flame.",
    ],
  ],
  [
    LIQUID_HELD_OPEN,
    [
      "Liquid from the cylinder runs into the suction, and not as a shot.",
      "Shut the low handwheel. Open it for shots only.",
    ],
  ],
  [
    CYLINDER_HELD_OPEN,
    [
      "The cylinder feeds the unit, and nobody counts it.",
      "Shut the low handwheel or the cylinder valve.",
    ],
  ],
  [
    VAPOUR_FED,
    [
      "The cylinder gives vapour: the shot is slow, and a blend changes its make-up.",
      "Shut the valve and turn the cylinder so that liquid comes out.",
    ],
  ],
  [
    LIQUID_LOCKED,
    [
      "The {where} is full of liquid and shut at both ends: it bursts when it warms up.",
      "Open a way into the suction for it at once.",
    ],
  ],
  [
    OFF_WITH_LIQUID,
    [
      "The {where} is off its port with liquid inside.",
      "Bleed it across the manifold into the suction before anyone opens it.",
    ],
  ],
  [
    LEFT_BLOWING,
    [
      "The {where} still leaks refrigerant.",
      "Tighten it before going on.",
    ],
  ],
  [
    CYLINDER_LEFT_OPEN,
    [
      "The cylinder is not shut and upright.",
      "Shut its valve and stand it upright.",
    ],
  ],
  [
    HOSE_LEFT_ON,
    [
      "The {where} is still on.",
      "Bleed the hose into the suction, shut it and take it off.",
    ],
  ],
]);

/** What goes wrong the moment the valves stand as in `settings`.
 * @param {Procedure} procedure @param {Conditions} conditions @param {Hoses} before
 * @param {Map<string, string>} settings @param {boolean} in_shot @returns {Hazard[]} */
export function hazards_of_turn(procedure, conditions, before, settings, in_shot) {
  /** @type {Hazard[]} */
  const found = [];
  const ways = links(procedure, settings);
  for (const group of groups(procedure, ways)) {
    const joined = doors(group, ways);
    const names = boundaries_of(joined);
    found.push(..._joined_wrongly(conditions, settings, names, in_shot));
    if (names.includes(OUTSIDE)) {
      found.push(..._blown_out(procedure, conditions, before, settings, group, names, ways));
    }
    const where = _air_goes_to(conditions, before, group, joined, ways);
    if (where !== "") {
      found.push(hazard(AIR_IN, _boundary_title(where)));
    }
  }
  for (const way of ways) {
    if (BOUNDARIES.includes(way.a) && way.b === OUTSIDE) {
      const liquid = fluid_at(conditions, settings, way.a) === LIQUID;
      found.push(hazard(liquid ? LIQUID_OUT : VAPOUR_OUT, title(procedure, way.valve)));
    }
  }
  return _once(found);
}

/** What is wrong with leaving the valves so when a step is done.
 * @param {Procedure} procedure @param {Conditions} conditions @param {Hoses} hoses
 * @param {boolean} last @returns {Hazard[]} */
export function hazards_at_rest(procedure, conditions, hoses, last) {
  /** @type {Hazard[]} */
  const found = [];
  const ways = links(procedure, hoses.settings);
  const sizes = volumes_of(procedure, conditions);
  for (const group of groups(procedure, ways)) {
    const joined = doors(group, ways);
    const names = boundaries_of(joined);
    if (names.length === 0 && _brim_full(conditions, hoses.contents, sizes, group)) {
      found.push(hazard(LIQUID_LOCKED, _hose_title(procedure, group)));
    }
    if (
      names.includes(OUTSIDE) &&
      (names.includes(SUCTION) || names.includes(LIQUID_LINE) || names.includes(CYLINDER))
    ) {
      found.push(hazard(LEFT_BLOWING, _leak_title(procedure, group, ways)));
    }
  }
  found.push(..._off_with_liquid(procedure, hoses));
  if (last) {
    found.push(..._left_behind(procedure, hoses));
  }
  return _once(found);
}

/** The hazard with its sentence. @param {string} code @param {string} [where] */
export function hazard(code, where = "") {
  const [sentence, cure] = item(TEXTS, code);
  return new Hazard(code, sentence.split("{where}").join(where), cure);
}

/** What the valve is called. @param {Procedure} procedure @param {string} valve_id */
export function title(procedure, valve_id) {
  for (const valve of procedure.valves) {
    if (valve.id === valve_id) {
      return valve.title;
    }
  }
  return valve_id;
}

/** @param {Conditions} conditions @param {Map<string, string>} settings
 * @param {readonly string[]} names @param {boolean} in_shot @returns {Hazard[]} */
function _joined_wrongly(conditions, settings, names, in_shot) {
  /** @type {Hazard[]} */
  const found = [];
  const liquid = gives_liquid(conditions, settings);
  if (names.includes(LIQUID_LINE) && names.includes(CYLINDER)) {
    found.push(hazard(HIGH_TO_CYLINDER));
  }
  if (names.includes(LIQUID_LINE) && names.includes(SUCTION)) {
    found.push(hazard(HIGH_TO_SUCTION));
  }
  if (names.includes(SUCTION) && names.includes(CYLINDER)) {
    if (conditions.cylinder_pa <= conditions.suction_pa) {
      found.push(hazard(UNIT_TO_CYLINDER));
    } else if (in_shot && !liquid) {
      found.push(hazard(VAPOUR_FED));
    } else if (!in_shot) {
      found.push(hazard(liquid ? LIQUID_HELD_OPEN : CYLINDER_HELD_OPEN));
    }
  }
  return found;
}

/** @param {Procedure} procedure @param {Conditions} conditions @param {Hoses} before
 * @param {Map<string, string>} settings @param {readonly string[]} group
 * @param {readonly string[]} names @param {readonly Link[]} ways @returns {Hazard[]} */
function _blown_out(procedure, conditions, before, settings, group, names, ways) {
  let liquid = false;
  for (const name of group) {
    liquid = liquid || item(before.contents, name).liquid_kg > TRACE_KG;
  }
  let fed = false;
  for (const name of names) {
    liquid = liquid || fluid_at(conditions, settings, name) === LIQUID;
    fed = fed || name !== OUTSIDE;
  }
  if (liquid) {
    return [hazard(LIQUID_OUT, _leak_title(procedure, group, ways))];
  }
  for (const way of ways) {
    const off = item(settings, way.valve) === OFF;
    if (way.b === OUTSIDE && group.includes(way.a) && off && fed) {
      return [hazard(VAPOUR_OUT, title(procedure, way.valve))];
    }
  }
  return [];
}

/** Unit or cylinder into which air is pushed; empty when none.
 * @param {Conditions} conditions @param {Hoses} before @param {readonly string[]} group
 * @param {readonly Door[]} joined @param {readonly Link[]} ways */
function _air_goes_to(conditions, before, group, joined, ways) {
  let sink = "";
  for (const door of joined) {
    if (
      sink === "" ||
      pressure_at(conditions, door.boundary) < pressure_at(conditions, sink)
    ) {
      sink = door.boundary;
    }
  }
  if (sink === "" || sink === OUTSIDE) {
    return "";
  }
  const pressure = pressure_at(conditions, sink);
  for (const entry of joined) {
    for (const leaving of joined) {
      if (leaving.boundary !== sink || entry.boundary === sink) {
        continue;
      }
      if (entry.boundary === OUTSIDE || _any_air(before, way_through(entry, leaving, ways))) {
        return sink;
      }
    }
  }
  const leavings = joined.filter((door) => door.boundary === sink).map((door) => door.entry);
  for (const name of group) {
    const contents = item(before.contents, name);
    const higher = contents.pressure_pa > pressure * (1.0 + 1.0e-9);
    const boils = contents.liquid_kg > 0.0 && pressure < conditions.cylinder_pa;
    if ((higher || boils) && _any_air(before, path(name, leavings[0], ways))) {
      return sink;
    }
  }
  return "";
}

/** @param {Hoses} before @param {readonly string[]} names */
function _any_air(before, names) {
  return names.some((name) => item(before.contents, name).air > 0.0);
}

/** @param {Conditions} conditions @param {Map<string, Contents>} contents
 * @param {Map<string, number>} sizes @param {readonly string[]} group */
function _brim_full(conditions, contents, sizes, group) {
  let filled = 0.0;
  let room = 0.0;
  for (const name of group) {
    const one = item(contents, name);
    filled = filled + one.liquid_kg / liquid_at(conditions.fluid, one.pressure_pa);
    room = room + item(sizes, name);
  }
  return filled > FULL * room;
}

/** @param {Procedure} procedure @param {Hoses} hoses @returns {Hazard[]} */
function _off_with_liquid(procedure, hoses) {
  /** @type {Hazard[]} */
  const found = [];
  for (const volume of procedure.volumes) {
    const ports = procedure.valves.filter((v) => v.a === volume.id && BOUNDARIES.includes(v.b));
    const off = ports.filter((valve) => item(hoses.settings, valve.id) === OFF);
    const wet = word_for(item(hoses.contents, volume.id)) === LIQUID;
    if (ports.length > 0 && off.length === ports.length && wet) {
      found.push(hazard(OFF_WITH_LIQUID, volume.title));
    }
  }
  return found;
}

/** @param {Procedure} procedure @param {Hoses} hoses @returns {Hazard[]} */
function _left_behind(procedure, hoses) {
  /** @type {Hazard[]} */
  const found = [];
  for (const valve of procedure.valves) {
    const now = item(hoses.settings, valve.id);
    if (valve.kind === NUT && BOUNDARIES.includes(valve.b) && now !== OFF) {
      found.push(hazard(HOSE_LEFT_ON, valve.title));
    }
    if (valve.kind === GATE && valve.id === "cylinder_valve" && now !== CLOSED) {
      found.push(hazard(CYLINDER_LEFT_OPEN));
    }
    if (valve.id === "cylinder_position" && now === INVERTED) {
      found.push(hazard(CYLINDER_LEFT_OPEN));
    }
  }
  for (const volume of procedure.volumes) {
    if (word_for(item(hoses.contents, volume.id)) === LIQUID) {
      found.push(hazard(OFF_WITH_LIQUID, volume.title));
    }
  }
  return found;
}

/** @param {Procedure} procedure @param {readonly string[]} group @param {readonly Link[]} ways */
function _leak_title(procedure, group, ways) {
  for (const way of ways) {
    if (way.b === OUTSIDE && group.includes(way.a)) {
      return title(procedure, way.valve);
    }
  }
  return "";
}

/** The first hose of the group, or its first chamber.
 * @param {Procedure} procedure @param {readonly string[]} group */
function _hose_title(procedure, group) {
  for (const volume of procedure.volumes) {
    if (group.includes(volume.id) && volume.kind === HOSE) {
      return volume.title;
    }
  }
  for (const volume of procedure.volumes) {
    if (group.includes(volume.id)) {
      return volume.title;
    }
  }
  return "";
}

/** @param {string} boundary */
function _boundary_title(boundary) {
  return boundary === CYLINDER ? "cylinder" : "unit";
}

/** @param {readonly Hazard[]} found @returns {Hazard[]} */
function _once(found) {
  /** @type {Hazard[]} */
  const kept = [];
  for (const one of found) {
    if (!kept.some((other) => equal(other, one))) {
      kept.push(one);
    }
  }
  return kept;
}

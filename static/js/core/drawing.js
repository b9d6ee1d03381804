// Twin of src/lowside/core/hoses/drawing.py: the hoses as a picture.

import * as parts from "./drawing_parts.js";
import { DOWN, RIGHT, UP } from "./drawing_parts.js";
import { links } from "./hose_network.js";
import {
  AIR,
  AIR_AND_VAPOUR,
  EMPTY,
  LIQUID,
  TRACE_KG,
  VAPOUR,
  gives_liquid,
  word_for,
} from "./hoses.js";
import {
  BOUNDARIES,
  CYLINDER,
  INVERTED,
  LIQUID_LINE,
  LOOSE,
  OFF,
  OPEN,
  OUTSIDE,
  SUCTION,
  TIGHT,
} from "./procedure.js";
import { item } from "./python.js";

/** @typedef {import("./drawing_parts.js").Mark} Mark */
/** @typedef {import("./drawing_parts.js").Point} Point */
/** @typedef {import("./hose_flow.js").Flow} Flow */
/** @typedef {import("./hose_network.js").Link} Link */
/** @typedef {import("./hoses.js").Conditions} Conditions */
/** @typedef {import("./hoses.js").Contents} Contents */
/** @typedef {import("./hoses.js").Hoses} Hoses */
/** @typedef {import("./procedure.js").Procedure} Procedure */

export const WIDTH = 360;
export const HEIGHT = 500;

export const SUCTION_X = 92;
export const LIQUID_X = 268;
export const MIDDLE_X = 180;
export const PORT_Y = 58;
export const END_VALVE_Y = 96;
export const BODY_TOP = 198;
export const BODY_BOTTOM = 240;
export const BODY_Y = 219;
export const YELLOW_END_Y = 318;
export const CYLINDER_X = 84;
export const CYLINDER_TOP = 372;
export const CYLINDER_BOTTOM = 448;
export const SCALE_Y = 478;

/** @type {Map<string, string>} */
export const PLACES = new Map([
  [SUCTION, "suction pressure"],
  [LIQUID_LINE, "liquid pressure"],
  [CYLINDER, "cylinder pressure"],
  [OUTSIDE, "no pressure"],
]);

/** @type {Map<string, string>} */
export const STAND_WORDS = new Map([
  ["open", "open"],
  ["closed", "shut"],
  [TIGHT, "tight"],
  [LOOSE, "loose"],
  [OFF, "off"],
  ["upright", "upright"],
  [INVERTED, "upside down"],
]);

/** The picture of one moment.
 * @param {Procedure} procedure @param {Conditions} conditions @param {Hoses} hoses
 * @param {readonly Flow[]} [flows] @param {readonly string[]} [turned] @param {string} [caption]
 * @returns {Record<string, any>} */
export function draw(procedure, conditions, hoses, flows = [], turned = [], caption = "") {
  const picture = new _Picture(procedure, conditions, hoses, flows, turned);
  picture.unit();
  if (picture.has("red")) {
    picture.hose("red", LIQUID_X, "red_nut", LIQUID_LINE);
  }
  picture.hose("blue", SUCTION_X, "blue_nut", SUCTION);
  picture.cylinder();
  picture.yellow();
  picture.body();
  const lines = in_words(procedure, conditions, hoses, flows);
  return {
    caption,
    width: String(WIDTH),
    height: String(HEIGHT),
    marks: picture.marks,
    lines,
    text: lines.join(" "),
  };
}

/** The picture as sentences.
 * @param {Procedure} procedure @param {Conditions} conditions @param {Hoses} hoses
 * @param {readonly Flow[]} flows @returns {string[]} */
export function in_words(procedure, conditions, hoses, flows) {
  /** @type {string[]} */
  const lines = [];
  for (const volume of procedure.volumes) {
    const contents = item(hoses.contents, volume.id);
    lines.push(
      _capital(volume.title) +
        ": " +
        word_for(contents) +
        ", " +
        level_word(conditions, contents) +
        ".",
    );
  }
  for (const valve of procedure.valves) {
    const stands = item(STAND_WORDS, item(hoses.settings, valve.id));
    lines.push(_capital(valve.title) + ": " + stands + ".");
  }
  const names = new Map(procedure.volumes.map((volume) => [volume.id, volume.title]));
  names.set(SUCTION, "unit’s suction");
  names.set(LIQUID_LINE, "unit’s liquid line");
  names.set(CYLINDER, "cylinder");
  names.set(OUTSIDE, "open air");
  for (const flow of flows) {
    if (moves(flow)) {
      const stuff = flow.kg > TRACE_KG || flow.steady ? flow.phase : AIR;
      const sentence =
        _capital(stuff) + " flows from " + item(names, flow.start) + " to " + item(names, flow.end);
      if (!lines.includes(sentence + ".")) {
        lines.push(sentence + ".");
      }
    }
  }
  return lines;
}

/** Pressure in words. @param {Conditions} conditions @param {Contents} contents */
export function level_word(conditions, contents) {
  let near = "between pressures";
  /** @type {[string, number][]} */
  const known = [
    [OUTSIDE, conditions.atmosphere_pa],
    [SUCTION, conditions.suction_pa],
    [CYLINDER, conditions.cylinder_pa],
    [LIQUID_LINE, conditions.liquid_pa],
  ];
  for (const [place, pressure] of known) {
    if (Math.abs(contents.pressure_pa - pressure) <= 1.0e-6 * pressure) {
      near = item(PLACES, place);
    }
  }
  return near;
}

/** Whether a flow is worth showing. @param {Flow} flow */
export function moves(flow) {
  return flow.steady || flow.kg > TRACE_KG || flow.air > 0.0;
}

/** @param {string} words */
function _capital(words) {
  return words.slice(0, 1).toUpperCase() + words.slice(1);
}

/** @type {Map<string, string[]>} */
export const CONTENTS_LINES = new Map([
  [AIR, ["air"]],
  [AIR_AND_VAPOUR, ["vapour", "and air"]],
  [VAPOUR, ["vapour"]],
  [LIQUID, ["liquid"]],
  [EMPTY, ["empty"]],
]);

/** The marks so far, and where everything stands. */
class _Picture {
  /** @param {Procedure} procedure @param {Conditions} conditions @param {Hoses} hoses
   * @param {readonly Flow[]} flows @param {readonly string[]} turned */
  constructor(procedure, conditions, hoses, flows, turned) {
    this.conditions = conditions;
    this.hoses = hoses;
    this.settings = hoses.settings;
    this.turned = turned;
    /** @type {Mark[]} */
    this.marks = [];
    this.valves = new Map(procedure.valves.map((valve) => [valve.id, valve]));
    this.volumes = procedure.volumes.map((volume) => volume.id);
    this.ways = links(procedure, hoses.settings);
    this.leaks = this.ways.filter((way) => way.b === OUTSIDE);
    this.flows = flows.filter((flow) => moves(flow));
  }

  /** @param {string} name */
  has(name) {
    return this.volumes.includes(name) || this.valves.has(name);
  }

  /** @param {string} name */
  word(name) {
    return word_for(item(this.hoses.contents, name));
  }

  /** @param {readonly Mark[]} marks */
  add(marks) {
    this.marks.push(...marks);
  }

  unit() {
    this.marks.push(parts.box("unit", [24, 6], 312, 34));
    this.marks.push(parts.text("name", [MIDDLE_X, 28], "unit", "middle"));
    this.marks.push(parts.text("small", [SUCTION_X, 28], "suction", "middle"));
    this.marks.push(parts.text("small", [LIQUID_X, 28], "liquid line", "middle"));
    this.line("port", [SUCTION_X, 40], [SUCTION_X, 54]);
    this.line("port", [LIQUID_X, 40], [LIQUID_X, 54]);
  }

  /** @param {string} kind @param {Point} start @param {Point} end */
  line(kind, start, end) {
    this.marks.push(parts.path(kind, parts.polyline([start, end])));
  }

  /** @param {string} name @param {number} x @param {string} nut_id @param {string} boundary */
  hose(name, x, nut_id, boundary) {
    let stands = item(this.settings, nut_id);
    const elsewhere = this.settings.get(name + "_on_suction") ?? OFF;
    const at_port = item(this.valves, nut_id).b_gates.filter((gate) => this.has(gate));
    const joint = at_port.length > 0 ? PORT_Y + 24 : PORT_Y;
    const top = joint + parts.nut_reach(stands) + 3;
    /** @type {Point[]} */
    let points = [
      [x, top],
      [x, BODY_TOP],
    ];
    if (elsewhere !== OFF) {
      stands = elsewhere;
      boundary = SUCTION;
      nut_id = name + "_on_suction";
      const corner = PORT_Y + 22;
      points = [
        [SUCTION_X, PORT_Y + 3],
        [SUCTION_X, corner],
        [x, corner],
        [x, BODY_TOP],
      ];
    }
    this.add(parts.tube(name, points, this.word(name)));
    /** @type {Point} */
    const at = [elsewhere !== OFF ? SUCTION_X : x, joint];
    const turned = this.turned.includes(nut_id) || this.turned.includes(name + "_on_suction");
    this.add(parts.nut(at, DOWN, stands, turned));
    const side = x < MIDDLE_X ? -1 : 1;
    const anchor = side < 0 ? "end" : "start";
    const gates = item(this.valves, nut_id).a_gates;
    if (stands !== TIGHT) {
      const y = gates.length > 0 ? top + 3 : top + 12;
      this.marks.push(parts.text("stand", [x + side * 26, y], item(STAND_WORDS, stands), anchor));
    }
    this.leak(nut_id, [at[0], joint + parts.nut_reach(stands)]);
    for (const gate of gates) {
      this.valve(gate, [x, END_VALVE_Y], true, 12, [x + side * 24, END_VALVE_Y + 7]);
    }
    for (const gate of at_port) {
      this.valve(gate, [x, PORT_Y + 7], true, 12, [x + side * 24, PORT_Y + 9]);
    }
    this.contents_words(name, [x + side * 16, 146], anchor);
    const heading = this.heading(name, boundary);
    if (heading !== 0) {
      this.marks.push(parts.arrow([x, 128], heading > 0 ? DOWN : UP));
    }
    const body_nut = name + "_body_nut";
    if (this.valves.has(body_nut)) {
      this.body_nut(body_nut, [x, BODY_TOP - 5], UP, [x + side * 30, BODY_TOP - 8], anchor);
    }
  }

  yellow() {
    const inverted = item(this.settings, "cylinder_position") === INVERTED;
    const y = inverted ? CYLINDER_BOTTOM + 14 : CYLINDER_TOP - 14;
    const top = this.has("charge") ? 286 : BODY_BOTTOM + 2;
    const stands = item(this.settings, "yellow_nut");
    const end_x = CYLINDER_X + 24 + parts.nut_reach(stands);
    /** @type {Point[]} */
    let points = [
      [MIDDLE_X, top],
      [MIDDLE_X, y],
      [end_x + 3, y],
    ];
    const on_suction = (this.settings.get("yellow_on_suction") ?? OFF) !== OFF;
    if (on_suction) {
      points = [
        [MIDDLE_X, top],
        [MIDDLE_X, 310],
        [18, 310],
        [18, PORT_Y + 6],
        [SUCTION_X, PORT_Y + 6],
        [SUCTION_X, PORT_Y + 3],
      ];
    }
    this.add(parts.tube("yellow", points, this.word("yellow")));
    if (on_suction) {
      const ringed = this.turned.includes("yellow_on_suction");
      this.add(parts.nut([SUCTION_X, PORT_Y], DOWN, TIGHT, ringed));
    } else {
      const turned =
        this.turned.includes("yellow_nut") || this.turned.includes("yellow_on_suction");
      this.add(parts.nut([CYLINDER_X + 24, y], RIGHT, stands, turned));
      if (stands !== TIGHT) {
        const word = item(STAND_WORDS, stands);
        this.marks.push(parts.text("stand", [end_x + 2, y - 28], word, "middle"));
      }
      this.leak("yellow_nut", [CYLINDER_X + 24 + parts.nut_reach(stands), y], true);
    }
    if (this.has("yellow_end")) {
      this.valve("yellow_end", [MIDDLE_X, YELLOW_END_Y], true, 12, [202, YELLOW_END_Y + 5]);
    }
    this.contents_words("yellow", [198, this.has("yellow_end") ? 348 : 322], "start");
    const heading = this.heading("yellow", on_suction ? SUCTION : CYLINDER);
    if (heading !== 0) {
      if (on_suction) {
        this.marks.push(parts.arrow([18, 190], heading > 0 ? DOWN : UP));
      } else {
        this.marks.push(parts.arrow([MIDDLE_X, 298], heading > 0 ? UP : DOWN));
      }
    }
    if (this.has("charge")) {
      this.line("port", [MIDDLE_X, BODY_BOTTOM], [MIDDLE_X, 284]);
      this.valve("charge", [MIDDLE_X, 260], true, 12, [202, 282], "charge ");
    }
    if (this.has("yellow_body_nut")) {
      this.body_nut("yellow_body_nut", [MIDDLE_X, top + 3], DOWN, [150, top + 26], "end");
    }
  }

  body() {
    const red = this.has("red");
    const right = red ? 322 : 214;
    this.marks.push(parts.box("body", [38, BODY_TOP], right - 38, BODY_BOTTOM - BODY_TOP));
    this.chamber("blue", 52, 122, "blue");
    this.chamber("body", 154, 206, "middle");
    if (red) {
      this.chamber("red", 238, 308, "red");
      this.valve("high", [222, BODY_Y], false, 15, [240, BODY_BOTTOM + 17], "high ", "middle");
    }
    this.valve("low", [138, BODY_Y], false, 15, [120, BODY_BOTTOM + 17], "low ", "middle");
    if (this.has("vacuum")) {
      this.line("port", [MIDDLE_X, BODY_TOP], [MIDDLE_X, 140]);
      this.valve("vacuum", [MIDDLE_X, 172], true, 11, [MIDDLE_X, 122], "vacuum ", "middle");
      const cap = item(this.settings, "vacuum_cap");
      this.add(parts.nut([MIDDLE_X, 146], UP, cap, this.turned.includes("vacuum_cap")));
      if (cap !== TIGHT) {
        const words = "cap " + item(STAND_WORDS, cap);
        this.marks.push(parts.text("stand", [MIDDLE_X, 106], words, "middle"));
      }
      this.leak("vacuum_cap", [MIDDLE_X, 140]);
    }
  }

  /** @param {string} colour @param {number} left @param {number} right @param {string} name */
  chamber(colour, left, right, name) {
    /** @type {Point[]} */
    const points = [
      [left, BODY_Y],
      [right, BODY_Y],
    ];
    this.add(parts.tube(colour, points, this.word(name)));
  }

  cylinder() {
    const inverted = item(this.settings, "cylinder_position") === INVERTED;
    const x = CYLINDER_X;
    const height = CYLINDER_BOTTOM - CYLINDER_TOP;
    this.marks.push(parts.box("cylinder", [x - 32, CYLINDER_TOP], 64, height));
    const level = CYLINDER_TOP + 34;
    let marks = "";
    for (let row = level; row < CYLINDER_BOTTOM - 2; row += 7) {
      marks = marks + "M" + String(x - 26) + " " + String(row) + "h52";
    }
    this.marks.push(parts.path("filling filling-pool", marks));
    const stand = item(STAND_WORDS, item(this.settings, "cylinder_position"));
    const turned = this.turned.includes("cylinder_position");
    const kind = turned ? "turn-word" : "stand";
    const phase = gives_liquid(this.conditions, this.settings) ? LIQUID : VAPOUR;
    if (inverted) {
      this.marks.push(parts.text("name", [x, CYLINDER_TOP - 28], "cylinder", "middle"));
      this.marks.push(parts.text(kind, [x, CYLINDER_TOP - 11], stand, "middle"));
      this.marks.push(parts.text("small", [198, 440], phase + " at its valve"));
    } else {
      this.marks.push(parts.text("name", [x + 44, CYLINDER_TOP + 26], "cylinder"));
      this.marks.push(parts.text(kind, [x + 44, CYLINDER_TOP + 44], stand));
      this.marks.push(parts.text("small", [x + 44, CYLINDER_TOP + 62], phase + " at its valve"));
    }
    if (turned) {
      this.marks.push(parts.box("turn-ring", [x - 38, CYLINDER_TOP - 6], 76, height + 12));
    }
    const y = inverted ? CYLINDER_BOTTOM + 14 : CYLINDER_TOP - 14;
    this.line("port", [x, y], [x + 20, y]);
    this.valve("cylinder_valve", [x, y], false, 12, [x - 18, y + 5], "", "end");
    this.marks.push(parts.box("scale", [x - 66, SCALE_Y], 132, 12));
    this.marks.push(parts.text("small", [x + 74, SCALE_Y + 11], "scale", "start"));
    let legs = "M" + String(x - 62) + " " + String(SCALE_Y) + "V" + String(CYLINDER_BOTTOM);
    legs = legs + "M" + String(x + 62) + " " + String(SCALE_Y) + "V" + String(CYLINDER_BOTTOM);
    legs = legs + "M" + String(x - 62) + " " + String(CYLINDER_BOTTOM) + "h30";
    legs = legs + "M" + String(x + 32) + " " + String(CYLINDER_BOTTOM) + "h30";
    this.marks.push(parts.path("stand-legs", legs));
  }

  /** @param {string} name @param {Point} at @param {boolean} upright @param {number} radius
   * @param {Point} label @param {string} [title] @param {string} [anchor] */
  valve(name, at, upright, radius, label, title = "", anchor = "") {
    const is_open = item(this.settings, name) === OPEN;
    const turned = this.turned.includes(name);
    this.add(parts.valve(at, upright, is_open, radius, turned));
    if (anchor === "") {
      anchor = label[0] > at[0] ? "start" : "end";
    }
    const words = title + item(STAND_WORDS, item(this.settings, name));
    this.marks.push(parts.text(turned ? "turn-word" : "stand", label, words, anchor));
  }

  /** @param {string} name @param {Point} at @param {Point} along @param {Point} label
   * @param {string} anchor */
  body_nut(name, at, along, label, anchor) {
    const stands = item(this.settings, name);
    this.add(parts.nut(at, along, stands, this.turned.includes(name)));
    if (stands !== TIGHT) {
      this.marks.push(parts.text("stand", label, item(STAND_WORDS, stands), anchor));
    }
    this.leak(name, [at[0], at[1] + along[1] * parts.nut_reach(stands)]);
  }

  /** @param {string} nut_id @param {Point} at @param {boolean} [level] */
  leak(nut_id, at, level = false) {
    for (const way of this.leaks) {
      const escaping = this.flows.some((f) => f.end === OUTSIDE && f.start === way.a);
      if (way.valve === nut_id && escaping) {
        this.marks.push(parts.puff(at, level));
        return;
      }
    }
  }

  /** @param {string} name @param {Point} at @param {string} anchor */
  contents_words(name, at, anchor) {
    this.marks.push(parts.text("name", at, name, anchor));
    let y = at[1] + 16;
    for (const line of item(CONTENTS_LINES, this.word(name))) {
      this.marks.push(parts.text("inside", [at[0], y], line, anchor));
      y = y + 15;
    }
  }

  /** 1: flows towards the manifold, -1: away from it, 0: does not flow.
   * @param {string} name @param {string} boundary */
  heading(name, boundary) {
    for (const flow of this.flows) {
      if (flow.end === OUTSIDE && name === flow.start) {
        for (const way of this.leaks) {
          if (way.a === name && BOUNDARIES.includes(item(this.valves, way.valve).b)) {
            return -1;
          }
        }
        return 1;
      }
    }
    const joined = this.ways.some((way) => way.a === name && way.b === boundary);
    for (const flow of this.flows) {
      if (joined && flow.end === boundary && flow.start !== boundary) {
        return -1;
      }
      if (joined && flow.start === boundary) {
        return 1;
      }
      if (flow.start === name && flow.end !== boundary) {
        return 1;
      }
      if (flow.end === name && flow.start !== boundary) {
        return -1;
      }
    }
    return 0;
  }
}

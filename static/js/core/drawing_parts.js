// Twin of src/lowside/core/hoses/drawing_parts.py: the marks a hose drawing is made of.

import { AIR_AND_VAPOUR, LIQUID, VAPOUR } from "./hoses.js";
import { LOOSE, TIGHT } from "./procedure.js";
import { floor_div } from "./python.js";

/** @typedef {[number, number]} Point */
/** @typedef {Record<string, any>} Mark */

/** @type {Point} */
export const DOWN = [0, 1];
/** @type {Point} */
export const UP = [0, -1];
/** @type {Point} */
export const LEFT = [-1, 0];
/** @type {Point} */
export const RIGHT = [1, 0];

/** A drawn line. @param {string} kind @param {string} d @returns {Mark} */
export function path(kind, d) {
  return { shape: "path", kind, d };
}

/** @param {string} kind @param {Point} at @param {number} radius @returns {Mark} */
export function circle(kind, at, radius) {
  return { shape: "circle", kind, x: String(at[0]), y: String(at[1]), r: String(radius) };
}

/** A word in the picture. @param {string} kind @param {Point} at @param {string} words
 * @param {string} [anchor] @returns {Mark} */
export function text(kind, at, words, anchor = "start") {
  return { shape: "text", kind, x: String(at[0]), y: String(at[1]), anchor, words };
}

/** @param {string} kind @param {Point} at @param {number} width @param {number} height */
export function box(kind, at, width, height) {
  return path(
    kind,
    "M" + _xy(at) + "h" + String(width) + "v" + String(height) + "h" + String(-width) + "z",
  );
}

/** A hose along points and what is in it.
 * @param {string} colour @param {readonly Point[]} points @param {string} contents */
export function tube(colour, points, contents) {
  const line = polyline(points);
  const found = [path("tube tube-" + colour, line), path("tube-inside", line)];
  let marks = "";
  for (let i = 1; i < points.length; i += 1) {
    marks = marks + filling(points[i - 1], points[i], contents);
  }
  if (marks !== "") {
    found.push(path("filling filling-" + filling_name(contents), marks));
  }
  return found;
}

/** Path data through points. @param {readonly Point[]} points */
export function polyline(points) {
  let d = "M" + _xy(points[0]);
  for (const point of points.slice(1)) {
    d = d + "L" + _xy(point);
  }
  return d;
}

/** Class of the hatching. @param {string} contents */
export function filling_name(contents) {
  if (contents === LIQUID) {
    return "liquid";
  }
  if (contents === VAPOUR) {
    return "vapour";
  }
  return contents === AIR_AND_VAPOUR ? "mixed" : "none";
}

/** Hatching along one straight piece.
 * @param {Point} start @param {Point} end @param {string} contents */
export function filling(start, end, contents) {
  const name = filling_name(contents);
  if (name === "none") {
    return "";
  }
  const gap = name === "liquid" ? 5 : 9;
  const length = Math.abs(end[0] - start[0]) + Math.abs(end[1] - start[1]);
  const step = _direction(start, end);
  let marks = "";
  let along = gap;
  let count = 0;
  while (along < length) {
    const x = start[0] + step[0] * along;
    const y = start[1] + step[1] * along;
    if (name === "liquid") {
      marks = marks + "M" + _xy([x - 4, y + 3]) + "L" + _xy([x + 4, y - 3]);
    } else if (name === "mixed" && count % 2 === 1) {
      marks = marks + "M" + _xy([x - 4 * step[1], y - 4 * step[0]]);
      marks = marks + "L" + _xy([x + 4 * step[1], y + 4 * step[0]]);
    } else {
      const side = count % 2 === 0 ? 2 : -2;
      marks = marks + "M" + _xy([x + side * step[1], y + side * step[0]]) + "h0";
    }
    along = along + gap;
    count = count + 1;
  }
  return marks;
}

/** A valve: its bar is in line when open.
 * @param {Point} at @param {boolean} upright @param {boolean} is_open @param {number} radius
 * @param {boolean} turned @returns {Mark[]} */
export function valve(at, upright, is_open, radius, turned) {
  /** @type {Mark[]} */
  const found = [];
  if (turned) {
    found.push(circle("turn-ring", at, radius + 6));
  }
  found.push(circle(is_open ? "valve valve-open" : "valve valve-shut", at, radius));
  const reach = radius - 3;
  /** @type {Point[]} */
  let line;
  if (upright === is_open) {
    line = [
      [at[0], at[1] - reach],
      [at[0], at[1] + reach],
    ];
  } else {
    line = [
      [at[0] - reach, at[1]],
      [at[0] + reach, at[1]],
    ];
  }
  found.push(path("valve-bar", polyline(line)));
  return found;
}

/** A nut on a hose that leaves its joint in direction `along`.
 * @param {Point} at @param {Point} along @param {string} stands @param {boolean} turned
 * @returns {Mark[]} */
export function nut(at, along, stands, turned) {
  /** @type {Mark[]} */
  const found = [];
  const reach = nut_reach(stands);
  /** @type {Point} */
  const middle = [at[0] + along[0] * reach, at[1] + along[1] * reach];
  if (turned) {
    found.push(circle("turn-ring", middle, 15));
  }
  const [wide, deep] = along[0] === 0 ? [20, 8] : [8, 20];
  found.push(
    box(
      stands === TIGHT ? "nut nut-tight" : "nut",
      [middle[0] - floor_div(wide, 2), middle[1] - floor_div(deep, 2)],
      wide,
      deep,
    ),
  );
  return found;
}

/** How far from its joint a nut is drawn. @param {string} stands */
export function nut_reach(stands) {
  if (stands === TIGHT) {
    return 0;
  }
  return stands === LOOSE ? 7 : 20;
}

/** Something hissing out to both sides of a joint. @param {Point} at @param {boolean} level */
export function puff(at, level) {
  const [x, y] = at;
  let marks = "";
  for (const side of [-1, 1]) {
    for (const spread of [-4, 0, 4]) {
      let near = [spread, side * 13];
      let far = [2 * spread, side * 24];
      if (!level) {
        near = [near[1], near[0]];
        far = [far[1], far[0]];
      }
      marks = marks + "M" + _xy([x + near[0], y + near[1]]);
      marks = marks + "L" + _xy([x + far[0], y + far[1]]);
    }
  }
  return path("puff", marks);
}

/** A head that points the way something flows. @param {Point} at @param {Point} along */
export function arrow(at, along) {
  const [x, y] = at;
  const [dx, dy] = along;
  /** @type {Point} */
  const tip = [x + 11 * dx, y + 11 * dy];
  /** @type {Point} */
  const left = [x - 7 * dx - 9 * dy, y - 7 * dy + 9 * dx];
  /** @type {Point} */
  const right = [x - 7 * dx + 9 * dy, y - 7 * dy - 9 * dx];
  return path("flow", "M" + _xy(tip) + "L" + _xy(left) + "L" + _xy(right) + "z");
}

/** @param {Point} start @param {Point} end @returns {Point} */
function _direction(start, end) {
  if (end[0] !== start[0]) {
    return end[0] > start[0] ? RIGHT : LEFT;
  }
  return end[1] > start[1] ? DOWN : UP;
}

/** @param {Point} point */
function _xy(point) {
  return String(point[0]) + " " + String(point[1]);
}

// Puts questions of tests/translate/test_hoses_twin.py to the hose model in JavaScript.
import { draw } from "../core/hoses/drawing.js";
import { run, turn } from "../core/hoses/run.js";
import { bare, conditions_from, usual_conditions } from "../core/hoses/contents.js";
import { hoses_of_step } from "../core/pages/hoses.js";
import { Action } from "../core/handbook/procedure.js";
import { item } from "../core/python.js";
import { OutOfRange } from "../core/handbook/saturation.js";
import { handbook_from } from "../sw/library.js";
import { dump } from "./exact.mjs";

/** @type {import("../core/handbook/handbook.js").Handbook | null} */
let handbook = null;

function book() {
  if (handbook === null) throw new Error("no handbook yet");
  return handbook;
}

/** @param {any} question */
function conditions_for(question) {
  const table = item(book().tables, question.refrigerant);
  const [suction, liquid, cylinder] = question.pressures;
  const made = conditions_from(table, suction, liquid, cylinder, 101325.0, question.withdrawal);
  if (made instanceof OutOfRange) throw new Error("out of range");
  return made;
}

/** @type {Record<string, (question: any) => any>} */
const questions = {
  handbook({ text }) {
    handbook = handbook_from(JSON.parse(text));
    return null;
  },
  run(question) {
    return dump(run(item(book().procedures, question.procedure), conditions_for(question)));
  },
  turns(question) {
    const procedure = item(book().procedures, question.procedure);
    const conditions = conditions_for(question);
    let now = bare(procedure, conditions);
    return question.actions.map((/** @type {[string, string]} */ [valve, to]) => {
      const made = turn(procedure, conditions, now, new Action(valve, to));
      now = made.after;
      return dump([made, draw(procedure, conditions, now, made.flows, [valve], "one")]);
    });
  },
  panels({ procedure, refrigerant }) {
    const usual = usual_conditions(item(book().tables, refrigerant), 101325.0);
    if (usual instanceof OutOfRange) throw new Error("out of range");
    const found = item(book().procedures, procedure);
    return found.steps.map((/** @type {any} */ step) => dump(hoses_of_step(found, usual, step, "size")));
  },
};

/** @param {{ask: string}} question */
export function answer(question) {
  return questions[question.ask](question);
}

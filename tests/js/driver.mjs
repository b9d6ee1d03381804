// Answers the tests' questions: one JSON request a line in, one JSON answer a line out.
import { createInterface } from "node:readline";
import { pathToFileURL } from "node:url";

/** @type {Map<string, any>} */
const modules = new Map();

/** A value of JSON with the Maps that the core has. @param {any} value @returns {any} */
function with_maps(value) {
  if (Array.isArray(value)) return value.map(with_maps);
  if (typeof value !== "object" || value === null) return value;
  return new Map(Object.entries(value).map(([name, item]) => [name, with_maps(item)]));
}

/** @type {Record<string, (request: any) => any>} */
const operations = {
  async load({ name, path }) {
    modules.set(name, await import(pathToFileURL(path).href));
    return null;
  },
  render({ module, name, context }) {
    return modules.get(module).render(name, with_maps(context));
  },
  // A module's own `answer` speaks for the core; see answers.mjs.
  ask({ module, question }) {
    return modules.get(module).answer(question);
  },
};

for await (const line of createInterface({ input: process.stdin })) {
  let reply;
  try {
    const request = JSON.parse(line);
    reply = { ok: (await operations[request.op](request)) ?? null };
  } catch (error) {
    reply = { error: String(error), stack: error instanceof Error ? error.stack : "" };
  }
  process.stdout.write(JSON.stringify(reply) + "\n");
}

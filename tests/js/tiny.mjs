// Runs functions of a core as small as a test; see tests/support/tiny_core.py.
import { pathToFileURL } from "node:url";
import { dump, number_from } from "./exact.mjs";

/** A value as tests/support/tiny_core.py sends it. @param {any} value @returns {any} */
function received(value) {
  if (value === null || typeof value !== "object") return value;
  if (Array.isArray(value)) return value.map(received);
  if ("bits" in value) return number_from(value.bits);
  return new Map(value.map.map(received));
}

/** What one function gives for each list of arguments, or that it threw.
 * @param {{path: string, name: string, batch: any[][]}} question */
export async function answer({ path, name, batch }) {
  const module = await import(pathToFileURL(path).href);
  return batch.map((args) => {
    let given;
    try {
      given = module[name](...args.map(received));
    } catch (error) {
      return { raised: String(error) };
    }
    return { given: dump(given) };
  });
}

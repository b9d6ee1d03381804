// The parts that src/lowside/web/phone/offline.py adds to the worker's modules.

/**
 * @typedef {object} Made
 * @property {(template: string, context: any) => string} render the compiled field templates
 * @property {() => any} handbook for `handbook_from` in ../library.js, its numbers packed
 * @property {Record<string, string>} headers of every answer, as the server's own pages have them
 * @property {string[]} precached
 * @property {string} precached_sha256 of the hashes of all of them
 * @property {string} version changes with any byte of the worker
 */

export {};

// The state of this phone and the server, as the worker tells it to the pages: types only.

/**
 * @typedef {object} LinkState
 * @property {number} unsent
 * @property {string} refused why the server did not take one of them, or ""
 * @property {Map<string, string>} tickets sid -> ticket number of each session with unsent entries
 * @property {string} outcome of the last round of sync: "", "ok", "sign in", "no answer", "trouble"
 * @property {string} text more about it
 * @property {string} stopped why the worker stopped writing, or ""
 * @property {number} photos still on this phone
 * @property {string} no_photo why the server did not take one of them, or ""
 * @property {string} version
 */

export {};

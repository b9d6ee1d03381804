// What compiled templates call. Each function does what Jinja2 with StrictUndefined does, so
// that a page is the same bytes from the server and from the phone.

/** A name or key that is not there. Passing it on is allowed, as in Jinja2; using it throws. */
class Missing {
  /** @param {string} name */
  constructor(name) {
    this.name = name;
  }
}

class TemplateError extends Error {}

/** @param {unknown} value @returns {any} */
function used(value) {
  if (value instanceof Missing) throw new TemplateError(`'${value.name}' is undefined`);
  return value;
}

/** Of a Map only: the core makes every mapping one.
 * @param {any} owner @param {string} name @returns {any} */
function get(owner, name) {
  return used(owner) instanceof Map && owner.has(name) ? owner.get(name) : new Missing(name);
}

/** Python's truth: empty texts, lists and mappings are false. @param {any} value */
function truthy(value) {
  used(value);
  if (Array.isArray(value)) return value.length > 0;
  if (value instanceof Map) return value.size > 0;
  return Boolean(value);
}

/** @param {any} a @param {() => any} b */
function or(a, b) {
  return truthy(a) ? a : b();
}

/** @param {any} a @param {() => any} b */
function and(a, b) {
  return truthy(a) ? b() : a;
}

/** One side is always a literal text, so only texts can be equal. @param {any} a @param {any} b */
function equal(a, b) {
  return used(a) === used(b);
}

/** @param {any} value @returns {any[]} */
function each(value) {
  if (!Array.isArray(used(value))) throw new TemplateError("a template looped over what is no list");
  return value;
}

/** `~`: the values as Python writes them, side by side. @param {any[]} values */
function joined(...values) {
  return values.map(written).join("");
}

/** @param {any} value @returns {string} */
function written(value) {
  if (used(value) === null) return "None";
  if (value === true) return "True";
  if (value === false) return "False";
  return plain(value);
}

/** @param {any} value @returns {string} */
function plain(value) {
  used(value);
  if (typeof value === "string") return value;
  if (Number.isSafeInteger(value)) return String(value);
  throw new TemplateError(`a template printed ${value}; only text and whole numbers are printed`);
}

/** markupsafe's escapes, in its order. @param {any} value */
function escaped(value) {
  return plain(value)
    .replaceAll("&", "&amp;")
    .replaceAll(">", "&gt;")
    .replaceAll("<", "&lt;")
    .replaceAll("'", "&#39;")
    .replaceAll('"', "&#34;");
}

// Values in a form that keeps every bit of a double; its other half is tests/support/phone_core.py.
const BYTES = new DataView(new ArrayBuffer(8));

/** @param {number} value */
function bits(value) {
  BYTES.setFloat64(0, value);
  return BYTES.getBigUint64(0).toString(16).padStart(16, "0");
}

/** A double from its bits. @param {string} text */
export function number_from(text) {
  BYTES.setBigUint64(0, BigInt("0x" + text));
  return BYTES.getFloat64(0);
}

/** The exact form of `dump` in tests/support/phone_core.py. @param {any} value @returns {any} */
export function dump(value) {
  if (value === null || typeof value === "boolean") return value;
  if (typeof value === "string") return "'" + value;
  if (typeof value === "number") return bits(value);
  if (Array.isArray(value)) return value.map(dump);
  if (value instanceof Map) return { map: [...value].map(([k, v]) => [dump(k), dump(v)]) };
  if (typeof value !== "object") throw new Error(`no exact form for ${String(value)}`);
  if (value.constructor === Object) {
    return { map: Object.entries(value).map(([k, v]) => [dump(k), dump(v)]) };
  }
  return { [value.constructor.name]: Object.values(value).map(dump) };
}

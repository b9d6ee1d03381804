// Answers for tests/web/phone/test_offline_bundle.py: what the phone reads out of packed numbers.
import { unpacked } from "../sw/unpack.js";

/** @param {any} question */
export function answer({ text, same }) {
  if (same !== undefined) {
    const [whole, short] = same;
    return exact(unpacked(JSON.parse(whole))) === exact(unpacked(JSON.parse(short)));
  }
  return unpacked(JSON.parse(text)).get("lists").map((/** @type {number[]} */ list) => list.map(hex));
}

/** Python's `float.hex()`. @param {number} x */
function hex(x) {
  const bytes = new DataView(new ArrayBuffer(8));
  bytes.setFloat64(0, x);
  const bits = bytes.getBigUint64(0);
  const sign = bits >> 63n === 1n ? "-" : "";
  const exponent = Number((bits >> 52n) & 0x7ffn);
  const fraction = (bits & 0xfffffffffffffn).toString(16).padStart(13, "0");
  if (exponent === 0 && fraction === "0000000000000") return `${sign}0x0.0p+0`;
  const lead = exponent === 0 ? 0 : 1;
  const power = (exponent === 0 ? 1 : exponent) - 1023;
  return `${sign}0x${lead}.${fraction}p${power < 0 ? "" : "+"}${power}`;
}

/** The value as text in which two numbers are the same only when all their bits are.
 * @param {any} value */
function exact(value) {
  return JSON.stringify(value, (_, item) => {
    if (item instanceof Map) return Object.fromEntries(item);
    return typeof item === "number" ? hex(item) : item;
  });
}

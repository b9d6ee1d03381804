// Reads what src/lowside/web/phone/packed_numbers.py writes: the same doubles, to the last bit.
// Objects become Maps, because the core has Maps in place of Python's dicts.

/** A value of JSON for the core, with every packed list of numbers as a list again.
 * @param {any} value @returns {any} */
export function unpacked(value) {
  if (Array.isArray(value)) return value.map(unpacked);
  if (typeof value !== "object" || value === null) return value;
  if (typeof value["~"] === "string") return numbers(value["~"]);
  return new Map(Object.entries(value).map(([name, item]) => [name, unpacked(item)]));
}

/** @param {string} text */
function numbers(text) {
  const [decimals, first, differences, holes] = text.split(";");
  const scale = Number("1e" + decimals);
  let list = [];
  let digits = "";
  for (const sign of differences) {
    const letter = sign.charCodeAt(0) - 91;
    if (sign === ",") {
      list.push(Number(digits));
      digits = "";
    } else if (sign < ":") digits += sign;
    else list.push(letter - (letter > 0 ? 1 : 0));
  }
  for (const start of first.split(",").map(Number).reverse()) {
    let sum = start;
    const longer = [sum];
    for (const difference of list) {
      sum += difference;
      longer.push(sum);
    }
    list = longer;
  }
  return [...Array(+(holes || 0)).fill(null), ...list.map((whole) => whole / scale)];
}

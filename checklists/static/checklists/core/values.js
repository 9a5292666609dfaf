// JSON values as the core holds them: objects are Maps (they keep the order of their names, whatever the names are),
// whole numbers too large for a double are BigInts, everything else is as JSON.parse gives it.

// A value with every plain object in it made into a Map.
export function asJson(value) {
  if (Array.isArray(value)) return value.map(asJson);
  if (value instanceof Map) return new Map([...value].map(([name, inner]) => [name, asJson(inner)]));
  if (typeof value === "object" && value !== null) return new Map(Object.entries(value).map(([name, inner]) => [name, asJson(inner)]));
  return value;
}

// A value with every Map in it made into a plain object: for JSON.stringify.
export function asPlain(value) {
  if (Array.isArray(value)) return value.map(asPlain);
  if (value instanceof Map) return Object.fromEntries([...value].map(([name, inner]) => [name, asPlain(inner)]));
  return value;
}

export const isObject = (value) => value instanceof Map;

// A number of either kind; true and false are none.
export const isNumeric = (value) => typeof value === "number" || typeof value === "bigint";

// Whether two values are equal: numbers by value, and 1 is not true.
export function equal(a, b) {
  if (isNumeric(a) && isNumeric(b)) return a == b; // a BigInt and a double compare exactly
  if (a instanceof Map) {
    return b instanceof Map && a.size === b.size && [...a].every(([name, value]) => b.has(name) && equal(value, b.get(name)));
  }
  if (Array.isArray(a)) return Array.isArray(b) && a.length === b.length && a.every((value, i) => equal(value, b[i]));
  return a === b;
}

// Whether a word is among those of an array, a Set or a Map.
export const among = (known, word) => (Array.isArray(known) ? known.includes(word) : known.has(word));

// JSON as the server writes it: no space, names in the order of their Map, every digit of a whole number.
//
// A text is UTF-8 as it stands. What UTF-8 or 64 bits cannot hold (half of a character, a number of many digits) makes the
// server write the whole value again with everything beyond ASCII escaped; so does this.

import { hasLoneSurrogate } from "./texts.js";

const [LEAST, MOST] = [-(2n ** 63n), 2n ** 64n - 1n];

/**
 * @param {unknown} value null, booleans, whole numbers, texts; arrays, Maps and plain objects of these
 * @returns {string}
 */
export function written(value) {
  const how = { unusual: false };
  const text = put(value, how);
  return how.unusual ? text.replace(/[^ -~]/g, escaped) : text;
}

const escaped = (unit) => `\\u${unit.charCodeAt(0).toString(16).padStart(4, "0")}`;

function put(value, how) {
  if (value === null || typeof value === "boolean") return String(value);
  if (typeof value === "string") {
    how.unusual ||= hasLoneSurrogate(value);
    return JSON.stringify(value);
  }
  if (typeof value === "number" || typeof value === "bigint") {
    const exact = BigInt(value);
    how.unusual ||= exact < LEAST || exact > MOST;
    return String(exact);
  }
  if (Array.isArray(value)) return `[${value.map((one) => put(one, how)).join()}]`;
  const pairs = value instanceof Map ? [...value] : Object.entries(value);
  return `{${pairs.map(([name, one]) => `${put(name, how)}:${put(one, how)}`).join()}}`;
}

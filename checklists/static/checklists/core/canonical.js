// The one form of a JSON value: RFC 8785 (JSON Canonicalization Scheme), whose numbers and texts are those of JavaScript.

/**
 * @param {unknown} value as json.js gives it
 * @returns {string}
 */
export function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical).join(",")}]`;
  if (value instanceof Map) {
    const names = [...value.keys()].sort(); // by UTF-16 units, as the RFC asks
    return `{${names.map((name) => `${JSON.stringify(name)}:${canonical(value.get(name))}`).join(",")}}`;
  }
  return JSON.stringify(typeof value === "bigint" ? Number(value) : value);
}

// The canonical form as bytes.
export const canonicalBytes = (value) => new TextEncoder().encode(canonical(value));

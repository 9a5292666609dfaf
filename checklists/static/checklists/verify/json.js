// JSON that is read strictly: a member that is not there is an error, as it is in verify.py.

export class Wrong extends Error {} // something is not as it should be; the message says what, in a sentence

const PASSED_OVER = new Set(["then", "toJSON"]); // what the language itself asks any object for

const STRICT = {
  get(object, name) {
    if (typeof name === "symbol" || Object.hasOwn(object, name)) return object[name];
    if (PASSED_OVER.has(name)) return undefined;
    throw new TypeError(`no member ${name}`);
  },
};

export function parse(text) {
  return JSON.parse(text, (_, value) =>
    value !== null && typeof value === "object" && !Array.isArray(value) ? new Proxy(value, STRICT) : value);
}

export function maybe(object, name, otherwise = undefined) {
  return Object.hasOwn(object, name) ? object[name] : otherwise;
}

// Names in the order of their UTF-16 code units, as canonical JSON has them.
export function ordered(object) {
  return Object.keys(object).sort();
}

export function alike(one, other) {
  if (Array.isArray(one) && Array.isArray(other)) {
    return one.length === other.length && one.every((value, place) => alike(value, other[place]));
  }
  if (one !== null && other !== null && typeof one === "object" && typeof other === "object") {
    const names = ordered(one);
    return alike(names, ordered(other)) && names.every((name) => alike(one[name], other[name]));
  }
  return one === other;
}

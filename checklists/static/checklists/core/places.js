// Reading a JSON document with the place of every fault: `skills[3].proven.support`.

import { ProtocolRefused } from "./errors.js";
import { hasLoneSurrogate, repr } from "./texts.js";
import { among, isNumeric, isObject } from "./values.js";

// A value in a document together with its place. Every reader refuses with the place, or returns the plain value.
export class Spot {
  constructor(value, place = "") {
    this.value = value;
    this.place = place;
  }

  // Refuse the document because of this value.
  refuse(reason) {
    throw new ProtocolRefused(this.place || "document", reason);
  }

  // The place of a member, whether it is there or not.
  inside(name) {
    return this.place ? `${this.place}.${name}` : name;
  }

  // The member of an object; the caller has made sure of it.
  at(name) {
    return new Spot(this.value.get(name), this.inside(name));
  }

  /**
   * The members of an object with exactly these names.
   * @param {string[]} required
   * @param {string[]} optional
   * @returns {Map<string, Spot>}
   */
  fields(required, optional = []) {
    if (!isObject(this.value)) this.refuse("must be an object");
    for (const name of this.value.keys()) {
      if (!required.includes(name) && !optional.includes(name)) new Spot(null, this.inside(name)).refuse("unknown field");
    }
    for (const name of required) {
      if (!this.value.has(name)) new Spot(null, this.inside(name)).refuse("missing");
    }
    return new Map([...this.value.keys()].map((name) => [name, this.at(name)]));
  }

  // The members of a list.
  items() {
    if (!Array.isArray(this.value)) this.refuse("must be a list");
    return this.value.map((value, index) => new Spot(value, `${this.place}[${index}]`));
  }

  // A text (one that can be written as UTF-8).
  text() {
    if (typeof this.value !== "string") this.refuse("must be a text");
    if (hasLoneSurrogate(this.value)) this.refuse("holds half of a character (a lone surrogate)");
    return this.value;
  }

  // True or false.
  flag() {
    if (typeof this.value !== "boolean") this.refuse("must be true or false");
    return this.value;
  }

  // A finite number.
  number() {
    if (!isNumeric(this.value)) this.refuse("must be a number");
    if (!Number.isFinite(Number(this.value))) this.refuse("must be finite"); // nor beyond every double: RFC 8785 has no form for it
    return this.value;
  }

  // A number without fraction, however written, of at least `least`.
  integer(least) {
    const value = Number(this.number());
    if (!Number.isInteger(value)) this.refuse("must be a whole number");
    if (value < least) this.refuse(`must be at least ${least}`);
    return value;
  }

  // One of the known words: of an array, a Set or a Map.
  choice(known, what) {
    const value = this.text();
    if (!among(known, value)) this.refuse(`unknown ${what} ${repr(value)}`);
    return value;
  }

  /**
   * A list of texts, each of them known where a list is given; a repetition is refused or has no effect.
   * @returns {string[]}
   */
  words(known = null, what = "", { once = false } = {}) {
    const found = new Set();
    for (const item of this.items()) {
      const word = known === null ? item.text() : item.choice(known, what);
      if (once && found.has(word)) item.refuse(`${repr(word)} stands here twice`);
      found.add(word);
    }
    return [...found];
  }

  /**
   * {measure: [low, high]}, closed, either or both null.
   * @returns {Map<string, [number | bigint | null, number | bigint | null]>}
   */
  ranges(known) {
    if (!isObject(this.value)) this.refuse("must be an object");
    return new Map([...this.value.keys()].map((name) => [name, this.at(name).range(name, known)]));
  }

  range(name, known) {
    if (!among(known, name)) this.refuse(`unknown measure ${repr(name)}`);
    const ends = this.items();
    if (ends.length !== 2) this.refuse("must be [low, high]");
    const [low, high] = ends.map((end) => (end.value === null ? null : end.number()));
    if (low !== null && high !== null && low > high) this.refuse("low is above high");
    return [low, high];
  }
}

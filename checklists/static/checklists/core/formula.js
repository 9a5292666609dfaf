// Formulas of past-time metric temporal logic: what they are, and how a document's are read (SEMANTICS.md §3).

import { readAtom } from "./atom.js";
import { ValueError } from "./errors.js";
import * as instant from "./instant.js";
import { STATUSES } from "./kinds.js";
import { repr } from "./texts.js";
import { isObject } from "./values.js";

export { Atom } from "./atom.js";

export const DEEPEST = 100; // levels of nesting; nobody can read more, and reading must not exhaust the stack

// The status of a skill, just before the entry and at its instant, is in the list. `skill` null: the entry's own.
export class Status {
  /** @param {string[]} among @param {string | null} skill */
  constructor(among, skill) {
    this.among = among;
    this.skill = skill;
  }
}

// F is false.
export class Not {
  constructor(of) {
    this.of = of;
  }
}

// All of them hold; true of none.
export class AllOf {
  constructor(of) {
    this.of = of;
  }
}

// One of them holds; false of none.
export class AnyOf {
  constructor(of) {
    this.of = of;
  }
}

// There is an entry before, and F held there.
export class Previous {
  constructor(of) {
    this.of = of;
  }
}

// Also `historically`, which is read as `not once not`. `within` is in microseconds, or null.
export class Once {
  constructor(of, within) {
    this.of = of;
    this.within = within;
  }
}

// `began` held at some entry, and `held` at every one after it; `within` bounds how long ago `began` was.
export class Since {
  constructor(held, began, within) {
    this.held = held;
    this.began = began;
    this.within = within;
  }
}

// How many entries strictly before had F.
export class Count {
  /**
   * @param {Formula} of
   * @param {number | null} atLeast
   * @param {number | null} atMost
   * @param {Formula | null} after
   * @param {boolean} sameSkill
   * @param {number | null} within microseconds
   */
  constructor(of, atLeast, atMost, after, sameSkill, within) {
    this.of = of;
    this.atLeast = atLeast;
    this.atMost = atMost;
    this.after = after;
    this.sameSkill = sameSkill;
    this.within = within;
  }

  // No verdict depends on how far a count goes beyond this.
  get cap() {
    return Math.max(this.atLeast ?? 0, this.atMost === null ? 0 : this.atMost + 1);
  }
}

// A text that two formulas share only where they are the same formula: what a Map knows them by.
export function keyOf(formula) {
  return JSON.stringify(formula, (_, value) => {
    if (typeof value === "bigint" || isBeyond(value)) return `${BigInt(value)}n`;
    if (value instanceof Map) return [...value];
    return isFormula(value) ? { is: value.constructor.name, ...value } : value;
  });
}

// A whole number that a double cannot tell from its neighbours.
const isBeyond = (value) => typeof value === "number" && Number.isInteger(value) && !Number.isSafeInteger(value);

const isFormula = (value) => typeof value === "object" && value !== null && !Array.isArray(value) && value.constructor !== Object;

const OPTIONS = new Map([
  ["entry", []], ["status", ["skill"]], ["not", []], ["all", []], ["any", []], ["previous", []], ["once", ["within"]],
  ["historically", ["within"]], ["since", ["within"]], ["count", ["at_least", "at_most", "after", "same_skill", "within"]],
]);

/**
 * Read a formula, refusing an unknown or a second operator and everything that no entry could match.
 * @param {Spot} spot
 * @param {Vocabulary} words
 */
export function readFormula(spot, words, depth = 0) {
  if (depth > DEEPEST) spot.refuse("nested too deeply");
  if (!isObject(spot.value)) spot.refuse("must be an object with one operator");
  const found = [...spot.value.keys()].filter((name) => OPTIONS.has(name));
  if (found.length !== 1) spot.refuse(spot.value.size ? wrongOperators(spot.value, found) : "has no operator");
  const [operator] = found;
  const parts = spot.fields([operator], OPTIONS.get(operator));
  const inner = parts.get(operator);
  if (operator === "entry") return readAtom(inner, words);
  if (operator === "status") return readStatus(inner, parts.get("skill"), words);
  if (operator === "all" || operator === "any") {
    const read = inner.items().map((item) => readFormula(item, words, depth + 1));
    return operator === "all" ? new AllOf(read) : new AnyOf(read);
  }
  if (operator === "count") return readCount(spot, parts, words, depth);
  const within = readBound(parts);
  if (operator === "since") {
    const pair = inner.items();
    if (pair.length !== 2) inner.refuse("must be [held since, began]");
    return new Since(readFormula(pair[0], words, depth + 1), readFormula(pair[1], words, depth + 1), within);
  }
  const of = readFormula(inner, words, depth + 1);
  if (operator === "historically") return new Not(new Once(new Not(of), within));
  if (operator === "not") return new Not(of);
  return operator === "previous" ? new Previous(of) : new Once(of, within);
}

function wrongOperators(value, found) {
  if (!found.length) return `unknown operator ${repr(value.keys().next().value)}`;
  return `a second operator ${repr(found[1])} beside ${repr(found[0])}`;
}

function readStatus(among, skill, words) {
  return new Status(among.words(STATUSES, "status"), skill ? skill.choice(words.rungs, "skill") : null);
}

function readCount(spot, parts, words, depth) {
  if (!parts.has("at_least") && !parts.has("at_most")) spot.refuse("needs at_least or at_most");
  return new Count(
    readFormula(parts.get("count"), words, depth + 1),
    parts.has("at_least") ? parts.get("at_least").integer(0) : null,
    parts.has("at_most") ? parts.get("at_most").integer(0) : null,
    parts.has("after") ? readFormula(parts.get("after"), words, depth + 1) : null,
    parts.has("same_skill") ? parts.get("same_skill").flag() : false,
    readBound(parts),
  );
}

const readBound = (parts) => (parts.has("within") ? readWithin(parts.get("within")) : null);

// A duration in microseconds.
export function readWithin(spot) {
  const text = spot.text();
  try {
    return instant.readDuration(text);
  } catch (fault) {
    if (!(fault instanceof ValueError)) throw fault;
    return spot.refuse(fault.message);
  }
}

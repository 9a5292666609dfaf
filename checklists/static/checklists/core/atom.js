// The atom of a formula, `{"entry": {field: value, …}}`: what it may name, which entries have it (SEMANTICS.md §3).

import { FIELDS, KINDS, UNJUDGED, WITH_SKILL } from "./kinds.js";
import { compareTexts, repr } from "./texts.js";
import { equal, isObject } from "./values.js";

export const LISTS = new Set(["tags", "deviations", "features", "of"]); // one common member is enough
const JUDGED = [...KINDS.keys()].filter((kind) => !UNJUDGED.has(kind));
const CLOSED_TYPES = ["choice", "choices", "skill", "support", "rung", "help", "deviations", "check", "flag"];

// The fields that few entries differ in (see shape.js).
export const CLOSED_FIELDS = new Set(["kind", "tags", "steps"]);
for (const fields of FIELDS.values()) {
  for (const field of fields.values()) if (CLOSED_TYPES.includes(field.type)) CLOSED_FIELDS.add(field.name);
}

// Tests on fields: `values` by field, `steps` and `measures` by name. `closed` tests ask only what few entries differ in.
export class Atom {
  /**
   * @param {[string, unknown[]][]} values
   * @param {[string, boolean][]} steps
   * @param {[string, number | null, number | null][]} measures
   * @param {boolean} asksSteps
   * @param {boolean} asksMeasures
   */
  constructor(values, steps = [], measures = [], asksSteps = false, asksMeasures = false) {
    this.values = values;
    this.steps = steps;
    this.measures = measures;
    this.asksSteps = asksSteps;
    this.asksMeasures = asksMeasures;
  }

  // Whether the verdict follows from the shape of an entry alone (see shape.js).
  get closed() {
    return !this.asksMeasures && this.values.every(([name]) => CLOSED_FIELDS.has(name));
  }

  // The tests that a shape decides; where they fail, the atom is false for all entries of the shape.
  get closedPart() {
    return new Atom(this.values.filter(([name]) => CLOSED_FIELDS.has(name)), this.steps, [], this.asksSteps, false);
  }

  /**
   * Whether an entry, defaults filled in, has every named field with one of the values.
   * @param {Map<string, unknown>} entry
   * @param {Set<string>} tags
   */
  holds(entry, tags) {
    for (const [name, wanted] of this.values) {
      if (name === "tags") {
        if (!wanted.some((tag) => tags.has(tag))) return false;
      } else if (!entry.has(name) || !has(name, entry.get(name), wanted)) return false;
    }
    if (this.asksSteps && !this.#stepsHold(entry.get("steps"))) return false;
    return !this.asksMeasures || this.#measuresHold(entry.get("measures"));
  }

  #stepsHold(done) {
    return done !== undefined && this.steps.every(([name, value]) => done.get(name) === value);
  }

  #measuresHold(taken) {
    return taken !== undefined && this.measures.every(([name, low, high]) => inside(taken.get(name), low, high));
  }
}

// Whether a measure is there and within a closed range; a null end is open.
export function inside(value, low, high) {
  return value !== undefined && value !== null && (low === null || value >= low) && (high === null || value <= high);
}

function has(name, value, wanted) {
  if (LISTS.has(name)) return value.some((member) => wanted.includes(member));
  return wanted.some((one) => equal(value, one));
}

/**
 * Read an atom, refusing every field and value that none of its kinds could have.
 * @param {Spot} spot
 * @param {Vocabulary} words
 */
export function readAtom(spot, words) {
  if (!isObject(spot.value)) spot.refuse("must be an object of fields");
  const kinds = readKinds(spot);
  const checks = kinds.includes("check") ? spot.value.get("name") : undefined;
  const values = [];
  let [steps, measures] = [[], []];
  for (const name of spot.value.keys()) {
    const inner = spot.at(name);
    if (name === "tags" && !kinds.some((kind) => WITH_SKILL.has(kind))) inner.refuse("none of these kinds has tags");
    const found = kinds.map((kind) => FIELDS.get(kind).get(name)).filter(Boolean);
    if (name !== "tags" && name !== "kind" && !found.length) inner.refuse("none of these kinds has this field");
    if (name === "steps") steps = readSteps(inner, checks, words);
    else if (name === "measures") measures = byName([...inner.ranges(words.measures)].map(([key, [low, high]]) => [key, low, high]));
    else if (name === "kind") values.push([name, kinds]);
    else if (name === "tags") values.push([name, listed(inner, (one) => one.choice(words.tags, "tag (no skill carries it)"))]);
    else values.push([name, listed(inner, reader(found, words))]);
  }
  // equal however the document was written: snapshots are laid out by it
  return new Atom(byName(values), steps, measures, spot.value.has("steps"), spot.value.has("measures"));
}

function readKinds(spot) {
  if (!spot.value.has("kind")) return JUDGED;
  return listed(spot.at("kind"), (one) => one.choice(JUDGED, "kind"));
}

const listed = (spot, read) => (Array.isArray(spot.value) ? spot.items().map(read) : [read(spot)]);

function readSteps(spot, names, words) {
  if (!isObject(spot.value)) spot.refuse("must be an object of steps");
  let asked = typeof names === "string" ? [names] : names;
  if (!Array.isArray(asked) || !asked.every((name) => typeof name !== "string" || words.checks.has(name))) {
    asked = [...words.checks.keys()]; // no name, or one that is refused at its own place
  }
  const known = new Set(asked.filter((name) => typeof name === "string").flatMap((name) => words.checks.get(name)));
  for (const name of spot.value.keys()) if (!known.has(name)) spot.at(name).refuse(`unknown step ${repr(name)}`);
  return byName([...spot.value.keys()].map((name) => [name, spot.at(name).flag()]));
}

// How one value of a field is read: closed lists hold, other fields take any value of their type.
function reader(fields, words) {
  const [{ name, choices }] = fields;
  const lists = { skill: words.rungs, help: words.help, deviations: words.deviations, check: words.checks };
  const types = new Set(fields.map((field) => field.type));
  for (const [type, known] of Object.entries(lists)) if (types.has(type)) return (one) => one.choice(known, name);
  if (choices.length) return (one) => one.choice(choices, name);
  if (types.has("support") || types.has("rung")) return (one) => readSupport(one, words);
  if (types.has("flag")) return (one) => one.flag();
  if (types.has("number") || types.has("integer")) return (one) => one.number();
  return types.has("override") ? readOverride : (one) => one.text();
}

function readSupport(spot, words) {
  if (!words.knowsSupport(spot.text())) spot.refuse(`unknown support ${repr(spot.value)}`);
  return spot.value;
}

const readOverride = (spot) => new Map(byName([...spot.fields(["by", "reason"])].map(([name, inner]) => [name, inner.text()])));

const byName = (pairs) => [...pairs].sort(([a], [b]) => compareTexts(a, b));

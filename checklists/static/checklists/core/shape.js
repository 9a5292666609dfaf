// Shapes: everything about an entry that few entries differ in, worked out once for all that share it.
//
// The kind and the closed-list fields of an entry (skill, support, help, result, deviations, steps, …) decide which
// atoms of the rules it has and what it can change.

import { CLOSED_FIELDS } from "./atom.js";
import { FIELDS, RANK, WITH_SKILL } from "./kinds.js";

// The names of the fields that belong to a shape (`kind` and `role` among them).
export const SHAPED = new Set([...CLOSED_FIELDS].filter((name) => name !== "tags"));
const KEPT = 50_000; // shapes remembered; a record of more (all deviations in all orders) is only read more slowly

// The closed fields of an entry under one protocol, with what follows from them (filled in by compiled.js).
export class Shape {
  /** @param {Protocol} protocol @param {Map<string, unknown>} fields */
  constructor(protocol, fields) {
    this.protocol = protocol;
    this.fields = fields;
    this.kind = fields.get("kind");
    this.rank = RANK.get(this.kind);
    const named = WITH_SKILL.has(this.kind) ? fields.get("skill") : undefined;
    this.skill = protocol.skills.has(named) ? named : null; // a word the document has lost names none
    this.tags = new Set(this.skill === null ? [] : protocol.skills.get(this.skill).tags);
    this.knownFields = FIELDS.get(this.kind);
    this.facts = [null, null]; // for a person with one prosthesis, with two
    this.views = [null, null, null]; // of the only knee, the left, the right
  }
}

// The shapes of one protocol, each made once.
export class Shapes {
  #protocol;
  #known = new Map();

  constructor(protocol) {
    this.#protocol = protocol;
  }

  /**
   * The shape of an entry that has been checked.
   * @param {Map<string, unknown>} entry
   */
  of(entry) {
    const fields = new Map([...entry].filter(([name]) => SHAPED.has(name)));
    const key = JSON.stringify([...fields].sort(([a], [b]) => (a < b ? -1 : 1)).map(([name, value]) => [name, frozen(value)]));
    let found = this.#known.get(key);
    if (!found) {
      if (this.#known.size >= KEPT) this.#known.clear();
      found = new Shape(this.#protocol, fields);
      this.#known.set(key, found);
    }
    return found;
  }
}

const frozen = (value) => (value instanceof Map ? [...value] : value);

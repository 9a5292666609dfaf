// An entry of the record: a fact that somebody saw or did, held compactly (SEMANTICS.md §1).

import * as instant from "./instant.js";
import { defaults } from "./kinds.js";
import { asJson, equal, isObject } from "./values.js";

const SLOTS = { id: "id", at: "at", episode: "episode", by: "by", seq: "seq" };

// An accepted entry. What few entries differ in (kind, skill, support, …) is in the shared `shape`; `rest` holds the other
// fields that were sent (texts, measures, ids), or null.
export class Entry {
  /**
   * @param {number} atUs microseconds since 1970
   * @param {number | bigint} seq
   * @param {number} rank of its kind
   * @param {string} id
   * @param {Shape} shape
   * @param {number} day number of its date, as written
   * @param {string} at as written
   * @param {string} episode
   * @param {string} by
   * @param {Map<string, unknown> | null} rest
   */
  constructor(atUs, seq, rank, id, shape, day, at, episode, by, rest) {
    this.atUs = atUs;
    this.seq = seq;
    this.rank = rank;
    this.id = id;
    this.shape = shape;
    this.day = day;
    this.at = at;
    this.episode = episode;
    this.by = by;
    this.rest = rest;
  }

  // The kind, such as `attempt`.
  get kind() {
    return this.shape.kind;
  }

  // When it happened.
  get instant() {
    return instant.atMicroseconds(this.atUs);
  }

  // A field as sent, the defaults of SEMANTICS.md §1 filled in.
  get(name, fallback = null) {
    if (this.shape.fields.has(name)) return this.shape.fields.get(name);
    if (this.rest?.has(name)) return this.rest.get(name);
    if (Object.hasOwn(SLOTS, name)) return this[name];
    return defaults(this.shape.kind).get(name) ?? fallback;
  }

  // The whole entry as one JSON object, defaults filled in.
  content() {
    const own = [["id", this.id], ["episode", this.episode], ["at", this.at], ["by", this.by]];
    return new Map([...own, ...defaults(this.shape.kind), ["seq", this.seq], ...this.shape.fields, ...(this.rest ?? [])]);
  }

  // Whether the other entry under this id is the same one (SEMANTICS.md §1, 'Same id').
  sameAs(other) {
    return sameContent(this.content(), other.content());
  }
}

// The order of the record (instant, seq, kind, id): below 0, 0 or above. The opening stands apart.
export function compareEntries(a, b) {
  if (a.atUs !== b.atUs) return a.atUs < b.atUs ? -1 : 1;
  if (a.seq != b.seq) return a.seq < b.seq ? -1 : 1; // a BigInt and a double compare exactly
  if (a.rank !== b.rank) return a.rank - b.rank;
  return a.id === b.id ? 0 : a.id < b.id ? -1 : 1;
}

/**
 * Whether two entries are equal as sent: after defaults, without `role`, numbers by value (SEMANTICS.md §1).
 * @param {Map<string, unknown> | object} a
 * @param {Map<string, unknown> | object} b
 */
export const sameContent = (a, b) => equal(comparable(a), comparable(b));

function comparable(entry) {
  const sent = isObject(entry) ? entry : asJson(entry);
  const kind = sent.get("kind");
  const whole = new Map([...defaults(typeof kind === "string" ? kind : null), ...sent]);
  whole.delete("role");
  return whole;
}

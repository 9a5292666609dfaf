// From entries as received to the record that counts: repetitions, refusals, strike-outs, order (SEMANTICS.md §1).

import { compareEntries } from "./entry.js";
import { BESIDE, RANK } from "./kinds.js";
import { compareTexts } from "./texts.js";

const STRIKE = RANK.get("struck_out");
const SPECIAL = new Set([RANK.get("episode_opened"), STRIKE, ...[...BESIDE].map((kind) => RANK.get(kind))]);

// An entry that was refused. `entry` is null where its id is not a text, or where the opening itself is missing.
export class Refused {
  /** @param {string | null} entry @param {string} error */
  constructor(entry, error) {
    this.entry = entry;
    this.error = error;
  }
}

// The record of one episode. `refused` has the place of the entry among those received beside each refusal.
export class Record {
  /**
   * @param {{opening: Entry | null, entries: Entry[], strikes: [Entry, Entry | null][], refused: [number, Refused][],
   *   struck: Map<string, string[]>, waiting: string[]}} parts
   */
  constructor(parts) {
    this.opening = parts.opening;
    this.entries = parts.entries; // in order, without the opening, strike-outs, corrections and what is struck or refused
    this.strikes = parts.strikes; // in order, each with the entry that it strikes, if that is here
    this.refused = parts.refused;
    this.struck = parts.struck; // struck entry → the strike-outs that name it
    this.waiting = parts.waiting; // targets of strike-outs that are not in the episode yet
  }

  // The last entry in time, of a tie in order, strike-outs included; null where there is none.
  get last() {
    const ends = [this.opening, ...this.entries.slice(-1), ...this.strikes.slice(-1).map(([strike]) => strike)];
    return ends.filter(Boolean).reduce((last, one) => (last === null || isLater(one, last) ? one : last), null);
  }
}

export const NO_OPENING = Object.freeze(
  new Refused(null, "kind: no episode_opened in this episode; the person has no features and one prosthesis"),
);

const isLater = (one, than) => one.atUs > than.atUs || (one.atUs === than.atUs && comparePlaces(place(one), place(than)) > 0);

// An entry's place in the order of the record: the opening stands before every other.
export const place = (entry) => [Number(entry.rank !== 0), entry.atUs, entry.seq, entry.rank, entry.id];

// The order of two arrays of the same form, part by part: below 0, 0 or above.
export function comparePlaces(a, b) {
  for (let i = 0; i < a.length; i += 1) {
    if (a[i] == b[i]) continue; // a BigInt and a double compare exactly
    if (typeof a[i] === "string") return compareTexts(a[i], b[i]);
    return a[i] < b[i] ? -1 : 1;
  }
  return 0;
}

/**
 * The record that follows from what was received, whatever the order and the number of times of its arrival.
 * @param {Iterable<Entry>} arrived
 * @param {string} reference
 * @returns {Record}
 */
export function arrange(arrived, reference) {
  const received = [...arrived];
  const refused = [];
  const known = firstStays(received, reference, refused);
  const special = [...received.entries()].filter(([, entry]) => SPECIAL.has(entry.rank) && known.get(entry.id) === entry);
  const { strikes, struck, waiting } = strikesOf(special, known, refused);
  const opening = openingOf(special, struck, refused);
  const apart = new Set([...special.map(([, entry]) => entry.id), ...struck.keys()]);
  const entries = [...known.values()].filter((entry) => !apart.has(entry.id)).sort(compareEntries);
  refused.sort(([a], [b]) => a - b);
  return new Record({ opening, entries, strikes, refused, struck, waiting });
}

function firstStays(received, reference, refused) {
  const known = new Map();
  received.forEach((entry, index) => {
    if (entry.episode !== reference) {
      refused.push([index, new Refused(entry.id, "episode: the entry belongs to another episode")]);
    } else if (!known.has(entry.id)) {
      known.set(entry.id, entry);
    } else if (known.get(entry.id) !== entry && !known.get(entry.id).sameAs(entry)) {
      refused.push([index, otherContent(entry.id)]);
    }
  });
  return known;
}

// The refusal of a second content under one id.
export const otherContent = (id) => new Refused(id, "id: another entry was received under this id; what was received first stays");

function strikesOf(special, known, refused) {
  const [strikes, struck, waiting] = [[], new Map(), new Set()];
  const inOrder = special.filter(([, entry]) => entry.rank === STRIKE).sort(([, a], [, b]) => compareEntries(a, b));
  for (const [index, entry] of inOrder) {
    const name = entry.get("entry");
    const target = known.get(name) ?? null;
    if (target?.kind === "struck_out") {
      refused.push([index, new Refused(entry.id, "entry: a strike-out cannot be struck out")]);
      continue;
    }
    strikes.push([entry, target]);
    if (target === null) waiting.add(name);
    else struck.set(name, [...(struck.get(name) ?? []), entry.id]);
  }
  return { strikes, struck, waiting: [...waiting].sort(compareTexts) };
}

function openingOf(special, struck, refused) {
  const openings = special.filter(([, entry]) => entry.rank === 0 && !struck.has(entry.id)).sort(([, a], [, b]) => compareEntries(a, b));
  for (const [index, entry] of openings.slice(1)) {
    refused.push([index, new Refused(entry.id, "kind: a second opening of the episode; strike one of them out")]);
  }
  return openings.length ? openings[0][1] : null;
}

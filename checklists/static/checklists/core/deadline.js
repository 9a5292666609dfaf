// Deadlines: danger by absence. What is awaited, until when, and what has become certain (SEMANTICS.md §3 and §4).

import { NEVER } from "./fold.js";
import { atMicroseconds } from "./instant.js";

const LATEST = 2 ** 62; // a bound that nobody lives to see is no farther away than this

// An open deadline: the rule is broken at the entry once an instant after `dueUs` is reached.
export class Deadline {
  /** @param {string} rule @param {string} entry @param {string} at @param {number} dueUs @param {string} severity */
  constructor(rule, entry, at, dueUs, severity) {
    this.rule = rule;
    this.entry = entry;
    this.at = at;
    this.dueUs = dueUs;
    this.severity = severity;
  }

  // `dueUs` as a Date.
  get due() {
    return atMicroseconds(this.dueUs);
  }
}

// The open deadlines of one sequence of entries: rule number, as a text → what is pending, each as
// [due in microseconds, rule number, at in microseconds, seq, rank, id, at].
export class Deadlines {
  /** @param {Map<string, unknown[][]>} open */
  constructor(open = new Map()) {
    this.open = open;
    this.nextDue = NEVER;
    this.#soonest();
  }

  #soonest() {
    this.nextDue = this.all().reduce((soonest, [due]) => Math.min(soonest, due), NEVER);
  }

  // All that is pending.
  all() {
    return [...this.open.values()].flat();
  }

  // What is open as plain JSON, in the order of the rules.
  dump() {
    return new Map([...this.open].sort(([a], [b]) => Number(a) - Number(b)));
  }

  // Something is expected within a time after this entry.
  await_(rule, entry, within) {
    const due = Math.min(entry.atUs + within, LATEST);
    const pending = this.open.get(String(rule)) ?? [];
    pending.push([due, rule, entry.atUs, entry.seq, entry.rank, entry.id, entry.at]);
    this.open.set(String(rule), pending);
    this.nextDue = Math.min(this.nextDue, due);
  }

  // What was expected came (what is overdue has been taken out by `overdue` before): nothing is open any more.
  met(rule) {
    const met = this.open.get(String(rule)) ?? [];
    this.open.delete(String(rule));
    return met;
  }

  // What was expected came for these entries only.
  metFor(rule, ids) {
    const pending = this.open.get(String(rule)) ?? [];
    const met = pending.filter((one) => ids.includes(one[5]));
    if (met.length) this.#keep(String(rule), pending.filter((one) => !ids.includes(one[5])));
    return met;
  }

  // Take out what an entry at this instant makes certain: nothing in order can come in time any more.
  overdue(at) {
    const late = this.all().filter(([due]) => due < at);
    for (const [rule, pending] of [...this.open]) this.#keep(rule, pending.filter(([due]) => due >= at));
    this.#soonest();
    return late;
  }

  #keep(rule, kept) {
    if (kept.length) this.open.set(rule, kept);
    else this.open.delete(rule);
  }
}

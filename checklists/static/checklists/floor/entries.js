// Facts as they travel (SEMANTICS.md §1): made here with their own id and time, so that a second sending is the same fact.

import { nextInstant, offsetSeconds, took, written } from "./clock.js";
import { uuid } from "./uuid.js";

// All facts of one act share its instant and are numbered in the order given. `by`, `role` and `episode` are the server's to add.
// Whatever a fact brings of an older one, its id and its time are new.
export function madeNow(facts, zone) {
  const start = nextInstant();
  const at = written(new Date(start.at), zone);
  const offset = offsetSeconds();
  const made = facts.map(({ clock_offset_s, ...fact }, index) => ({
    ...fact,
    id: uuid(),
    at,
    seq: start.seq + index,
    ...(offset ? { clock_offset_s: offset } : {}),
  }));
  took({ at: start.at, seq: start.seq + made.length - 1 });
  return made;
}

// The same fact with other words: a new one, at the time of the old.
export const madeThen = (fact, { at, seq = 0, clock_offset_s }) => ({
  ...fact, id: uuid(), at, seq, ...(clock_offset_s ? { clock_offset_s } : {}),
});

export function inOrder(a, b) {
  return Date.parse(a.at) - Date.parse(b.at) || (a.seq ?? 0) - (b.seq ?? 0);
}

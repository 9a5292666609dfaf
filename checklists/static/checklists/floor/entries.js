// Facts as they travel (SEMANTICS.md §1): made here with their own id and time, so that a second sending is the same fact.

import { nextInstant, offsetSeconds, took, written } from "./clock.js";
import { uuid } from "./uuid.js";

// All facts of one act share its instant and are numbered in the order given. `by`, `role` and `episode` are the server's to add.
export function madeNow(facts, zone) {
  const start = nextInstant();
  const at = written(new Date(start.at), zone);
  const offset = offsetSeconds();
  const made = facts.map((fact, index) => ({
    id: uuid(),
    at,
    seq: start.seq + index,
    ...(offset ? { clock_offset_s: offset } : {}),
    ...fact,
  }));
  took({ at: start.at, seq: start.seq + made.length - 1 });
  return made;
}

export function inOrder(a, b) {
  return Date.parse(a.at) - Date.parse(b.at) || (a.seq ?? 0) - (b.seq ?? 0);
}

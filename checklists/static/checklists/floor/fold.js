// What of a pack can wait. With the entries comes the server's own fold of them, a few kB (a snapshot): a copy of the record begins
// with that, and of the entries only those are read at once that are shown or asked every day (known.js).

import * as instant from "../core/instant.js";
import { dayBegan } from "./zone.js";

const DAY = 86_400_000_000; // microseconds
export const TRIES = 100; // attempts that are looked at for the help of last time (../core/state.js)

// The place from which entries are read, of so many that a snapshot covers: today's facts and the last attempts stand after it.
// A fact that could wait before can wait now.
function readFrom(texts, { from, covers }, since) {
  const facts = texts.slice(from, covers).map((text, place) => ({ place: from + place, fact: JSON.parse(text) }));
  for (const one of facts) [one.atUs] = instant.read(one.fact.at);
  const today = facts.filter((one) => one.atUs >= since);
  const tries = facts.filter((one) => one.fact.kind === "attempt").sort((a, b) => b.atUs - a.atUs || b.place - a.place);
  return [...today, ...tries.slice(0, TRIES)].reduce((first, one) => Math.min(first, one.place), covers);
}

/**
 * A pack as this device keeps it. `fold`: the last snapshot that came, how many of the entries it covers, and from which place on
 * they are read all the same.
 * @param {object} pack as GET …/pack/ gives it, or as it was kept
 * @param {Date} now
 */
export function asKept({ snapshot = null, ...pack }, now) {
  if (snapshot === null) return pack;
  const since = instant.of(dayBegan(now, pack.zone))[0] - DAY; // a day more: a clock may be put right backwards
  const covers = pack.entries.length;
  const from = readFrom(pack.entries, { from: pack.fold?.from ?? 0, covers }, since);
  return { ...pack, fold: { snapshot, covers, from } };
}

/** The same with what came since. */
export const grown = (pack, more, now) => asKept({
  ...pack, ...more, protocol: pack.protocol, entries: [...pack.entries, ...more.entries], names: { ...pack.names, ...more.names },
}, now);

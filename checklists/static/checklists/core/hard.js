// Hard nodes: temporal operators with a bound in time, and counts by skill (SEMANTICS.md §3).
//
// Their memory is plain JSON, kept in the state of the sequence: for `once` and `since` the latest instant that can still
// help, for `count` the latest instants, no more than the count can ever ask for; counts by skill are a Map of these.
// 'Latest' is by instant, not by order: the opening stands first whatever its instant.

import { Count, Once, Since } from "./formula.js";
import { holdsCount } from "./nodes.js";

// The memory before the first entry.
export function firstMemory({ formula }) {
  if (!(formula instanceof Count)) return null;
  if (formula.sameSkill) return new Map();
  return formula.within === null ? 0 : [];
}

/**
 * The value at an entry with these values of the operands, from the memory of what came before it.
 * @param {Node} node
 * @param {unknown} memory
 * @param {boolean[]} arg
 * @param {number} at in microseconds
 * @param {string | null} skill
 * @returns {boolean}
 */
export function value({ formula }, memory, arg, at, skill) {
  if (formula instanceof Once) return arg[0] || recent(memory, at, formula);
  if (formula instanceof Since) return arg[1] || (arg[0] && recent(memory, at, formula));
  if (!(formula instanceof Count)) throw new TypeError(`${formula.constructor.name} is not hard`);
  if (!formula.sameSkill) return holdsCount(formula, numberOf(formula, memory, at));
  return holdsCount(formula, skill ? numberOf(formula, memory.get(skill) ?? null, at) : 0);
}

// The memory after the entry; lists and Maps are worked on where they are.
export function moved(node, memory, arg, at, skill) {
  const { formula } = node;
  if (formula instanceof Once) return arg[0] ? later(memory, at) : memory;
  if (formula instanceof Since) {
    const held = arg[0] ? memory : null;
    return arg[1] ? later(held, at) : held;
  }
  if (!(formula instanceof Count)) throw new TypeError(`${formula.constructor.name} is not hard`);
  if (formula.after !== null && arg[1]) return firstMemory(node);
  if (!arg[0]) return memory;
  if (!formula.sameSkill) return counted(formula, memory, at);
  if (skill && formula.cap) memory.set(skill, counted(formula, memory.get(skill) ?? null, at));
  return memory;
}

// Every instant in the memory of a node with a bound in time.
export function* remembered(memory) {
  if (typeof memory === "number") yield memory;
  else if (memory !== null) for (const inner of memory.values()) yield* remembered(inner);
}

const later = (memory, at) => (memory === null || memory < at ? at : memory);
const recent = (memory, at, formula) => memory !== null && at - memory <= formula.within;

function numberOf(formula, memory, at) {
  if (formula.within === null) return memory ?? 0;
  return memory ? memory.length - place(memory, (one) => one < at - formula.within) : 0;
}

// The memory with one more entry in it, as far as any verdict can ask.
function counted(formula, memory, at) {
  if (formula.within === null) return Math.min((memory ?? 0) + 1, formula.cap);
  const instants = memory ?? [];
  instants.splice(place(instants, (one) => one <= at), 0, at);
  if (instants.length > formula.cap) instants.shift();
  return instants;
}

// How many stand before, in a list in which those stand first.
function place(sorted, before) {
  let [low, high] = [0, sorted.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (before(sorted[middle])) low = middle + 1;
    else high = middle;
  }
  return low;
}

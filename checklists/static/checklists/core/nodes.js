// A rule's formulas as one list of nodes, children before parents, equal ones once; what a program is made from.
//
// A node's *level* counts the hard nodes below it: those whose memory is not a few bits (a bound in time, a count by
// skill). What is of one level is worked out in one phase (phase.js); the hard nodes between two phases run by themselves.
// Levels, widths and order are those of the server: the memories in a snapshot are laid out by them.

import { AllOf, AnyOf, Atom, Count, keyOf, Not, Once, Previous, Since, Status } from "./formula.js";

export const SOFT_COUNT = 64; // a count that needs to go further than this is kept apart instead of in the bits of a phase

// One subformula. `args` are numbers of earlier nodes; `formula` holds bounds and words; `width` its bits of memory.
export class Node {
  /** @param {Formula} formula @param {number[]} args @param {number} level @param {boolean} hard @param {number} width */
  constructor(formula, args, level, hard, width) {
    this.formula = formula;
    this.args = args;
    this.level = level;
    this.hard = hard;
    this.width = width;
  }

  // Whether its value is that of the entry itself, not of other nodes.
  get given() {
    return this.formula instanceof Atom || this.formula instanceof Status;
  }
}

// The nodes of one rule in order.
export class Nodes {
  #known = new Map();

  constructor() {
    this.all = [];
  }

  // The number of a formula's node, made with its children if it is new.
  add(formula) {
    const name = keyOf(formula);
    if (!this.#known.has(name)) {
      const args = children(formula).map((child) => this.add(child));
      const hard = isHard(formula);
      const level = Math.max(0, ...args.map((arg) => this.all[arg].level)) + Number(hard);
      this.all.push(new Node(formula, args, level, hard, hard ? 0 : width(formula)));
      this.#known.set(name, this.all.length - 1);
    }
    return this.#known.get(name);
  }
}

function children(formula) {
  if (formula instanceof Atom || formula instanceof Status) return [];
  if (formula instanceof AllOf || formula instanceof AnyOf) return formula.of;
  if (formula instanceof Since) return [formula.held, formula.began];
  return formula instanceof Count && formula.after !== null ? [formula.of, formula.after] : [formula.of];
}

function isHard(formula) {
  if (formula instanceof Count) return formula.within !== null || formula.sameSkill || formula.cap > SOFT_COUNT;
  return (formula instanceof Once || formula instanceof Since) && formula.within !== null;
}

function width(formula) {
  if (formula instanceof Count) return 32 - Math.clz32(formula.cap);
  return formula instanceof Previous || formula instanceof Once || formula instanceof Since ? 1 : 0;
}

// Whether a number is within the bounds of a count.
export const holdsCount = (formula, number) => (
  (formula.atLeast === null || number >= formula.atLeast) && (formula.atMost === null || number <= formula.atMost)
);

/**
 * What an entry with these atoms could do to a rule, whatever came before: move a memory, make an output true. Worked out
 * with three values: null is 'depends'. Where it could do neither, the entry passes the rule untouched.
 * @param {Node[]} nodes
 * @param {Map<number, boolean | null>} atoms
 * @param {number[]} outputs
 * @returns {{moves: boolean, breaks: boolean}}
 */
export function effect(nodes, atoms, outputs) {
  const value = [];
  let moves = false;
  nodes.forEach((node, number) => {
    const arg = node.args.map((one) => value[one]);
    value.push(node.formula instanceof Atom ? atoms.get(number) : withoutMemory(node.formula, arg));
    moves ||= movesMemory(node.formula, arg);
  });
  return { moves, breaks: outputs.some((one) => value[one] !== false) };
}

// The value of a node where it is the same whatever came before.
function withoutMemory(formula, arg) {
  if (formula instanceof Not) return arg[0] === null ? null : !arg[0];
  if (formula instanceof AllOf) return arg.includes(false) ? false : arg.includes(null) ? null : true;
  if (formula instanceof AnyOf) return arg.includes(true) ? true : arg.includes(null) ? null : false;
  if ((formula instanceof Once && arg[0]) || (formula instanceof Since && arg[1])) return true;
  return formula instanceof Since && arg[0] === false && arg[1] === false ? false : null;
}

// Whether the memory of a node could be another after the entry.
function movesMemory(formula, arg) {
  if (formula instanceof Once) return arg[0] !== false;
  if (formula instanceof Since) return arg[0] !== true || arg[1] !== false;
  if (formula instanceof Count) return arg.some((one) => one !== false);
  return formula instanceof Previous;
}

// One phase of a rule: the nodes of one level, whose memory is a few bits.
//
// The server tabulates a phase as its states are met; a tablet reads the record of a few people and works each step out.

import { AllOf, AnyOf, Count, Not, Once, Previous, Since } from "./formula.js";
import { holdsCount } from "./nodes.js";

// Works out the nodes of one level. The state holds the memory of the temporal nodes side by side, lowest first, in a
// BigInt (a rule may need more bits than a double has); zero is the state before the first entry.
export class Phase {
  #nodes;
  #own;
  #slots = new Map();

  /** @param {Node[]} nodes of the rule @param {number[]} own numbers of those of this level */
  constructor(nodes, own) {
    this.#nodes = nodes;
    this.#own = own;
    let offset = 0n;
    for (const number of own) {
      const width = BigInt(nodes[number].width);
      if (width) {
        this.#slots.set(number, [offset, (1n << width) - 1n]);
        offset += width;
      }
    }
  }

  /**
   * The next state; the values of the nodes are filled in.
   * @param {bigint} state
   * @param {boolean[]} value by number of the node
   * @returns {bigint}
   */
  step(state, value) {
    let next = 0n;
    for (const number of this.#own) {
      const node = this.#nodes[number];
      const slot = this.#slots.get(number);
      const before = slot ? Number((state >> slot[0]) & slot[1]) : 0;
      const [held, after] = worked(node.formula, node.args.map((one) => value[one]), before);
      value[number] = held;
      if (slot) next |= BigInt(after) << slot[0];
    }
    return next;
  }
}

// The value of a node and its new memory (SEMANTICS.md §3).
function worked(formula, arg, memory) {
  if (formula instanceof Not) return [!arg[0], 0];
  if (formula instanceof AllOf) return [arg.every(Boolean), 0];
  if (formula instanceof AnyOf) return [arg.some(Boolean), 0];
  if (formula instanceof Previous) return [Boolean(memory), Number(arg[0])];
  if (formula instanceof Once) return kept(arg[0] || Boolean(memory));
  if (formula instanceof Since) return kept(arg[1] || (arg[0] && Boolean(memory)));
  if (formula instanceof Count) { // strictly before: the value comes from the memory, then the entry is counted
    const anew = formula.after !== null && arg[1];
    return [holdsCount(formula, memory), anew ? 0 : Math.min(memory + Number(arg[0]), formula.cap)];
  }
  throw new TypeError(`${formula.constructor.name} has no place in a phase`);
}

const kept = (held) => [held, Number(held)];

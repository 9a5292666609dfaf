// A rule as a program: phases of a few bits with the hard nodes between them (SEMANTICS.md §3).

import { AllOf, Atom, Count, Not, Status } from "./formula.js";
import * as hard from "./hard.js";
import { effect, Nodes } from "./nodes.js";
import { Phase } from "./phase.js";

export const BROKEN = 1; // bits of a verdict; of a deadline this one says that `when` is true
export const EXPECTED = 2;

// One rule, compiled. `pure`: one phase is enough, so that the rule is an automaton and nothing else.
export class Program {
  #effects = new Map();

  /** @param {Rule} rule */
  constructor(rule) {
    this.rule = rule;
    const nodes = new Nodes();
    if (rule.expect !== null) this.outputs = [nodes.add(rule.when), nodes.add(rule.expect)];
    else this.outputs = [nodes.add(new AllOf([rule.when, new Not(rule.require)]))];
    this.nodes = nodes.all;
    const numbers = [...this.nodes.keys()];
    this.atoms = numbers.filter((number) => this.nodes[number].formula instanceof Atom);
    this.statuses = numbers.filter((number) => this.nodes[number].formula instanceof Status);
    this.asksSkill = this.nodes.some(({ formula }) => (
      (formula instanceof Status && formula.skill === null) || (formula instanceof Count && formula.sameSkill)
    ));
    this.#build(numbers);
  }

  #build(numbers) {
    const top = Math.max(...this.outputs.map((number) => this.nodes[number].level));
    const of = (level, isHard) => numbers.filter((number) => {
      const node = this.nodes[number];
      return node.level === level && node.hard === isHard && !node.given;
    });
    this.phases = [];
    this.hard = []; // after each phase: [node, slot in the memory]
    let slot = top + 1;
    for (let level = 0; level <= top; level += 1) {
      this.phases.push(new Phase(this.nodes, of(level, false)));
      this.hard.push(of(level + 1, true).map((number) => [number, slot++]));
    }
    this.pure = top === 0 && !this.statuses.length;
  }

  // The memory before the first entry: the states of the phases, then those of the hard nodes.
  firstMemory() {
    return [...this.phases.map(() => 0n), ...this.hard.flat().map(([number]) => hard.firstMemory(this.nodes[number]))];
  }

  /**
   * What an entry with these atoms (null: differs from entry to entry) could do to the rule.
   * @param {(boolean | null)[]} atoms in the order of `this.atoms`
   */
  effect(atoms) {
    const key = atoms.join();
    if (!this.#effects.has(key)) {
      const known = new Map(this.atoms.map((number, place) => [number, atoms[place]]));
      this.#effects.set(key, effect(this.nodes, known, this.outputs));
    }
    return this.#effects.get(key);
  }

  /**
   * The verdict at an entry. The memory moves on past the entry where `keep`.
   * @param {unknown[]} memory
   * @param {boolean[]} atoms in the order of `this.atoms`
   * @param {Entry} entry
   * @param {(skill: string, at: number) => string} statusOf the status of a skill just before the entry, at its instant
   * @param {{keep: boolean}} how
   * @returns {number} bits, lowest first, one for each output
   */
  run(memory, atoms, entry, statusOf, { keep }) {
    const { atUs: at, shape: { skill } } = entry;
    const value = [];
    this.atoms.forEach((number, place) => { value[number] = atoms[place]; });
    for (const number of this.statuses) {
      const { among, skill: named } = this.nodes[number].formula;
      const of = named ?? skill;
      value[number] = of !== null && among.includes(statusOf(of, at));
    }
    this.phases.forEach((phase, level) => {
      const state = phase.step(memory[level], value);
      if (keep) memory[level] = state;
      for (const [number, slot] of this.hard[level]) {
        const node = this.nodes[number];
        const arg = node.args.map((one) => value[one]);
        value[number] = hard.value(node, memory[slot], arg, at, skill);
        if (keep) memory[slot] = hard.moved(node, memory[slot], arg, at, skill);
      }
    });
    return this.outputs.reduce((verdict, number, bit) => verdict | (Number(value[number]) << bit), 0);
  }

  // The instants at which something remembered passes out of its bound in time.
  * expiries(memory) {
    for (const [number, slot] of this.hard.flat()) {
      const { within } = this.nodes[number].formula;
      if (within !== null) for (const at of hard.remembered(memory[slot])) yield at + within + 1;
    }
  }
}

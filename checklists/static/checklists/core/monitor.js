// Watching the document's rules over a sequence of entries: of the only, left or right knee (SEMANTICS.md §3).

import { keyOf } from "./formula.js";
import { defaults, FIELDS, WITH_SKILL } from "./kinds.js";

export const [ONLY, LEFT, RIGHT] = [0, 1, 2];
const OTHER_KNEE = new Map([[LEFT, "right"], [RIGHT, "left"]]);
const KEPT = 20_000; // known views; beyond, they are worked out anew and nothing changes but the speed
const TEXT_FROM = 2n ** 62n; // not every reader of JSON takes larger whole numbers exactly

// An entry's shape as one sequence sees it. `rules`: those that it can touch, with the values of their atoms (null: differs
// from entry to entry). `number` tells views apart; `asksSkill`: the entry's skill matters to a rule that it may break.
export class View {
  constructor(kind, number) {
    this.kind = kind;
    this.number = number;
    this.asksSkill = false;
    this.rules = [];
  }
}

// The rules of a document, compiled, and how they see each shape. The memories of a sequence are an array, by rule.
export class Watch {
  #perKnee;
  #atoms = [];
  #parts = []; // of each atom what a shape decides
  #asked;
  #automata;
  #views = new Map();
  #made = 0;
  #possible;

  /** @param {Program[]} programs @param {Map<string, boolean>} perKnee */
  constructor(programs, perKnee) {
    this.programs = programs;
    this.#perKnee = perKnee;
    const numbers = new Map();
    for (const { nodes, atoms } of programs) for (const number of atoms) this.#number(nodes[number].formula, numbers);
    this.#asked = programs.map(({ nodes, atoms }) => atoms.map((one) => numbers.get(keyOf(nodes[one].formula))));
    this.#automata = programs.map(({ pure }, number) => pure && this.#asked[number].every((one) => this.#atoms[one].closed));
    this.#possible = new Map([...FIELDS.keys()].map((kind) => [
      kind, [...this.#atoms.keys()].filter((number) => possible(this.#atoms[number], kind)),
    ]));
  }

  #number(atom, numbers) {
    const name = keyOf(atom);
    if (numbers.has(name)) return;
    numbers.set(name, this.#atoms.length);
    this.#atoms.push(atom);
    this.#parts.push(atom.closed ? atom : atom.closedPart);
  }

  // The memories before the first entry.
  firstMemory() {
    return this.programs.map((program) => program.firstMemory());
  }

  // The memories as JSON, as the server lays them out: first the states of the rules that are automata and nothing else.
  dump(memory) {
    const states = memory.filter((_, number) => this.#automata[number]).map(([state]) => packed(state));
    return [states, ...memory.filter((_, number) => !this.#automata[number]).map((one) => one.map(packed))];
  }

  // Go on from what `dump` gave.
  takeUp([states, ...others]) {
    const [ofAutomata, ofOthers] = [states.values(), others.values()];
    return this.programs.map(({ phases }, number) => {
      if (this.#automata[number]) return [BigInt(ofAutomata.next().value)];
      const dumped = ofOthers.next().value;
      return dumped.map((one, place) => (place < phases.length ? BigInt(one) : settled(one)));
    });
  }

  // The instants at which something remembered passes out of its bound in time.
  expiries(memory) {
    return this.programs.flatMap((program, number) => [...program.expiries(memory[number])]);
  }

  /**
   * The shape in a sequence; null where it does not stand in it.
   * @param {Shape} shape
   * @param {number} knee
   * @returns {View | null}
   */
  view(shape, knee) {
    const fields = this.#read(shape.fields, knee);
    if (fields === null) return null;
    const kind = fields.get("kind");
    const known = new Map(this.#possible.get(kind).map((one) => [one, this.#value(one, fields, shape)]));
    const key = `${kind} ${[...known.values()].join()}`;
    let view = this.#views.get(key);
    if (!view) { // shapes that no rule can tell apart share a view
      if (this.#views.size >= KEPT) this.#views.clear();
      view = new View(kind, this.#made);
      this.#made += 1;
      this.#views.set(key, view);
      this.programs.forEach((_, number) => this.#see(view, number, known));
    }
    return view;
  }

  // The value of an atom for all entries of a shape; null where it differs from entry to entry.
  #value(number, fields, shape) {
    if (!this.#parts[number].holds(fields, shape.tags)) return false;
    return this.#atoms[number] === this.#parts[number] ? true : null;
  }

  #see(view, number, known) {
    const program = this.programs[number];
    const asked = this.#asked[number];
    const values = asked.map((one) => (known.has(one) ? known.get(one) : false));
    const { moves, breaks } = program.effect(values);
    if (!moves && !breaks) return;
    const differing = [...values.keys()].filter((place) => values[place] === null);
    view.rules.push({ number, breaks, values, differing: differing.map((place) => [place, this.#atoms[asked[place]]]) });
    if (breaks && !this.#automata[number]) view.asksSkill ||= program.asksSkill;
  }

  // The fields of an entry as a sequence reads them (SEMANTICS.md §3, 'Two knees').
  #read(fields, knee) {
    const kind = fields.get("kind");
    const whole = new Map([...defaults(kind), ...fields]);
    if (knee === ONLY) return whole;
    const named = fields.get("knee") ?? null;
    if (named !== null) return named === OTHER_KNEE.get(knee) ? null : whole;
    if (kind === "mode_checked" && fields.get("ok")) return asSetting(whole);
    if (kind === "check" && this.#perKnee.get(fields.get("name")) && ![...fields.get("steps").values()].includes(false)) return null;
    return whole;
  }
}

// A check of the mode that is read as a setting of it.
function asSetting(whole) {
  whole.delete("ok");
  return whole.set("kind", "mode_set");
}

// Negative instants become texts too: so does the server.
function packed(one) {
  if (typeof one !== "bigint" && typeof one !== "number") return one;
  const exact = BigInt(one);
  return exact < 0n || exact >= TEXT_FROM ? String(exact) : exact;
}

// The memory of a hard node as it was read, with instants as doubles.
function settled(one) {
  if (one instanceof Map) return new Map([...one].map(([skill, inner]) => [skill, settled(inner)]));
  if (Array.isArray(one)) return one.map(settled);
  return one === null ? null : Number(one);
}

// Whether an entry of a kind can have an atom at all.
function possible(atom, kind) {
  for (const [name, wanted] of atom.values) {
    if ((name === "kind" && !wanted.includes(kind)) || (name === "tags" && !WITH_SKILL.has(kind))) return false;
    if (name !== "tags" && !FIELDS.get(kind).has(name)) return false;
  }
  return !(atom.asksSteps && kind !== "check") && !(atom.asksMeasures && kind !== "attempt");
}

/**
 * Move the memories of a sequence past an entry; the verdicts that are not empty.
 * @param {Watch} rules
 * @param {unknown[][]} memory by rule
 * @param {View} view
 * @param {Entry} entry
 * @param {(skill: string, at: number) => string} statusOf
 * @returns {[number, number][]} rule number, bits of the verdict
 */
export const watch = (rules, memory, view, entry, statusOf) => judged(rules, memory, view, view.rules, entry, statusOf, { keep: true });

// The verdicts that `watch` would give, with the memories left as they are.
export function foresee(rules, memory, view, entry, statusOf) {
  return judged(rules, memory, view, view.rules.filter((one) => one.breaks), entry, statusOf, { keep: false });
}

function judged(rules, memory, view, touched, entry, statusOf, how) {
  const found = [];
  for (const { number, values, differing } of touched) {
    const atoms = differing.length ? filledIn(values, differing, view.kind, entry) : values;
    const verdict = rules.programs[number].run(memory[number], atoms, entry, statusOf, how);
    if (verdict) found.push([number, verdict]);
  }
  return found;
}

// The values of the atoms, with those that ask for more than the shape of the entry.
function filledIn(values, differing, kind, entry) {
  const content = entry.content();
  const whole = content.get("kind") === kind ? content : asSetting(content);
  const atoms = [...values];
  for (const [place, atom] of differing) atoms[place] = atom.holds(whole, entry.shape.tags);
  return atoms;
}

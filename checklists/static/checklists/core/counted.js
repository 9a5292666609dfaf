// Whether a safe attempt would count towards the evidence of its skill, asked before it is made (SEMANTICS.md §5).

import { inside } from "./atom.js";
import { SAFE, UNSAFE } from "./facts.js";
import { ALLOWED, MET, STAGE, UNCOUNTED } from "./fold.js";

// Whether a planned attempt would count, and what it has more of, or lacks, than the stage asks for. `anew`: it would begin the
// row again (steps 1 and 3). `support`, `help`: what the stage asks for, where the attempt has more; `measures`: those that it
// names and that the attempt does not have.
export class Counted {
  /** @param {boolean} counts @param {boolean} anew @param {string | null} support @param {string | null} help @param {string[]} measures */
  constructor(counts, anew, support, help, measures) {
    this.counts = counts;
    this.anew = anew;
    this.support = support;
    this.help = help;
    this.measures = measures;
  }
}

/**
 * How a planned attempt stands to the evidence; null where nothing is counted: met, signed off, not applicable.
 * @param {Course} course
 * @param {Entry} entry
 * @param {AttemptFacts} facts
 * @returns {Counted | null}
 */
export function counted(course, entry, facts) {
  const { fold } = course;
  const [skill, state] = [fold.plan.skills[facts.skill], fold.skills[facts.skill]];
  const gap = course.resetsAt(entry); // it comes first, and the evidence begins with this attempt
  if (UNCOUNTED.includes(fold.status(facts.skill, entry.atUs))) return null;
  const [number, allowed] = gap ? [0, 0] : [state[STAGE], state[ALLOWED]];
  const [stage, asks] = [skill.stages[number], skill.skill.criterion(fold.plan.both).stages[number]];
  const taken = entry.get("measures");
  const lacking = facts.measures.map(([name]) => name).filter((name) => !taken.has(name));
  const fits = facts.measures.every(([name, [low, high]]) => !taken.has(name) || inside(taken.get(name), low, high));
  const onRung = facts.rung >= 0 && facts.rung <= allowed;
  const reached = facts.result === SAFE && facts.stageOk[number] && onRung && !lacking.length;
  const anew = facts.result === UNSAFE || facts.barred || (reached && !fits);
  if (state[MET] && !gap && !anew) return null;
  return new Counted(
    reached && !anew,
    anew,
    facts.rung < stage.rung ? asks.support : null,
    fold.plan.protocol.help.indexOf(entry.get("help")) < stage.help ? asks.help : null,
    lacking,
  );
}

// Whether a safe attempt would count towards the evidence of its skill, asked before it is made (SEMANTICS.md §5).

import { inside } from "./atom.js";
import { SAFE } from "./facts.js";
import { ALLOWED, MET, STAGE } from "./fold.js";

// Whether a planned attempt would count, and what it has more of, or lacks, than the stage asks for. `support`, `help`: what
// the stage asks for, where the attempt has more; `measures`: those that it names and that the attempt does not have.
export class Counted {
  /** @param {boolean} counts @param {string | null} support @param {string | null} help @param {string[]} measures */
  constructor(counts, support, help, measures) {
    this.counts = counts;
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
  const anew = course.resetsAt(entry); // the gap comes first, and the evidence begins anew with this attempt
  if (["not_applicable", "signed_off"].includes(fold.status(facts.skill, entry.atUs)) || (state[MET] && !anew)) return null;
  const [number, allowed] = anew ? [0, 0] : [state[STAGE], state[ALLOWED]];
  const [stage, asks] = [skill.stages[number], skill.skill.criterion(fold.plan.both).stages[number]];
  const taken = entry.get("measures");
  const support = facts.rung < stage.rung ? asks.support : null;
  const help = fold.plan.protocol.help.indexOf(entry.get("help")) < stage.help ? asks.help : null;
  const lacking = facts.measures.map(([name]) => name).filter((name) => !taken.has(name));
  const counts = facts.result === SAFE && !facts.barred && facts.stageOk[number] && facts.rung >= 0 && facts.rung <= allowed;
  const fits = !lacking.length && facts.measures.every(([name, [low, high]]) => inside(taken.get(name), low, high));
  return new Counted(counts && fits, support, help, lacking);
}

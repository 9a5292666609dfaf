// The rules of a document, and the descriptions of the built-in ones (SEMANTICS.md §2, §3 and §4).

import { keyed, texts } from "./document.js";
import { readFormula, readWithin } from "./formula.js";
import { SEVERITIES } from "./kinds.js";
import { isObject } from "./values.js";

export const COMMON_PRACTICE = "common practice, no source";

// A rule of the document: `require` at once, or `expect` within so many microseconds (a deadline).
export class Rule {
  /**
   * @param {{key: string, sentence: string, severity: string, doNow: string, source: string | null, when: Formula,
   *   require: Formula | null, expect: Formula | null, within: number | null}} parts
   */
  constructor(parts) {
    this.key = parts.key;
    this.sentence = parts.sentence;
    this.severity = parts.severity;
    this.doNow = parts.doNow;
    this.source = parts.source;
    this.when = parts.when;
    this.require = parts.require;
    this.expect = parts.expect;
    this.within = parts.within;
  }

  // Whether the danger is an absence: broken by what does not come in time.
  get isDeadline() {
    return this.expect !== null;
  }
}

// A rule that every protocol has; `doNow` is what to do once it is broken, `doFirst` before trying.
export class BuiltinRule {
  constructor(key, severity, sentence, doNow, doFirst, source = COMMON_PRACTICE) {
    this.key = key;
    this.severity = severity;
    this.sentence = sentence;
    this.doNow = doNow;
    this.doFirst = doFirst;
    this.source = source;
  }
}

// In the order of SEMANTICS.md §4, in which reports list them after the document's rules.
export const BUILTIN_RULES = new Map(
  [
    new BuiltinRule(
      "prerequisite", "major",
      "Outside the bars or with nobody at hand, a skill waits until what it builds on is signed off and current.",
      "Stop and sit the person down. Go back to the bars with somebody at hand, or prove first what it needs.",
      "Sign the prerequisites off first, or try it in the bars with somebody at hand.",
    ),
    new BuiltinRule(
      "support_step", "major",
      "Support comes off one step at a time, and only after a safe attempt with the next firmer support.",
      "Stop and sit the person down. Go back to the support that was last proven safe, then on one by one.",
      "Make a safe attempt with the next firmer support first.",
    ),
    new BuiltinRule(
      "fall_review", "critical",
      "After a fall, the skill and all that builds on it wait until a review has cleared the fall.",
      "Stop and sit the person down. Have the fall reviewed before this, or what builds on it, is tried again.",
      "Have the fall reviewed and cleared first; until it is looked at, only in the bars with somebody at hand.",
    ),
    new BuiltinRule(
      "fall_unreviewed", "critical",
      "Every fall is looked at within the time that the protocol gives.",
      "Look at the fall now and record the review; the clinic lead is to know that it is late.",
      "Review the fall.",
    ),
    new BuiltinRule(
      "gap", "major",
      "After a long time without an attempt, the person begins again in the bars.",
      "Stop and sit the person down. Begin again in the bars, and watch what has been lost.",
      "Make the first attempt after the break in the bars.",
    ),
    new BuiltinRule(
      "alone", "critical",
      "Nothing is tried alone that is not signed off for that support.",
      "Stop, go to the person and sit them down. Nothing alone until it is signed off for this support.",
      "Stay with the person: watch, stand by or hold until the skill is signed off for this support.",
    ),
    new BuiltinRule(
      "feature", "critical",
      "A skill that needs a feature is tried only on a knee that has it.",
      "Stop and sit the person down. Check with the prosthetist which knee is fitted and what it can do.",
      "Have the prosthetist check the knee: as recorded it lacks a feature that this skill needs.",
    ),
    new BuiltinRule(
      "unsupported_sign_off", "major",
      "A skill is signed off only when it is proven, what it builds on is current, and no fall or gap is open.",
      "Look at the sign-off again with the clinic lead, and withdraw it unless the evidence holds.",
      "Complete the evidence first, or have another clinic lead countersign.",
    ),
    new BuiltinRule(
      "struck_danger", "major",
      "Whoever strikes out the record of a danger is asked why.",
      "Read the struck entry and the reason, and ask who struck it out.",
      "Let the clinic lead look at the entry before it is struck out.",
    ),
  ].map((rule) => [rule.key, rule]),
);

/**
 * The rules of a document; none may take the key of a built-in rule.
 * @returns {Map<string, Rule>}
 */
export const readRules = (spot, words) => keyed(spot, (item) => readRule(item, words));

function readRule(spot, words) {
  const deadline = isObject(spot.value) && (spot.value.has("expect") || spot.value.has("within"));
  const required = ["key", "sentence", "severity", "do_now", "when", ...(deadline ? ["expect", "within"] : ["require"])];
  const parts = spot.fields(required, ["source", "note"]);
  texts(parts);
  if (BUILTIN_RULES.has(parts.get("key").text())) parts.get("key").refuse("is the key of a built-in rule");
  return new Rule({
    key: parts.get("key").value,
    sentence: parts.get("sentence").text(),
    severity: parts.get("severity").choice(SEVERITIES, "severity"),
    doNow: parts.get("do_now").text(),
    source: parts.has("source") ? parts.get("source").value : null,
    when: readFormula(parts.get("when"), words),
    require: deadline ? null : readFormula(parts.get("require"), words),
    expect: deadline ? readFormula(parts.get("expect"), words) : null,
    within: deadline ? readWithin(parts.get("within")) : null,
  });
}

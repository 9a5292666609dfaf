// What is worked out once for a protocol and serves every entry and every episode.

import { AttemptFacts, Facts } from "./facts.js";
import { Watch } from "./monitor.js";
import { Plan } from "./plan.js";
import { Program } from "./program.js";
import { BUILTIN_RULES } from "./rule.js";
import { Shapes } from "./shape.js";
import { attempt, STEPS } from "./steps.js";

// The compiled form of a protocol. Rules have numbers here: the document's in its order, then the built-in ones.
export class Compiled {
  /** @param {Protocol} protocol */
  constructor(protocol) {
    this.protocol = protocol;
    this.shapes = new Shapes(protocol);
    this.plans = [new Plan(protocol, false), new Plan(protocol, true)];
    this.programs = [...protocol.rules.values()].map((rule) => new Program(rule));
    this.watch = new Watch(this.programs, new Map([...protocol.checks].map(([key, check]) => [key, check.perKnee])));
    this.deadlines = new Set([...this.programs.keys()].filter((number) => this.programs[number].rule.isDeadline));
    this.firstBuiltin = this.programs.length;
    this.ruleKeys = [...protocol.rules.keys(), ...BUILTIN_RULES.keys()];
    this.severities = [...protocol.rules.values(), ...BUILTIN_RULES.values()].map((rule) => rule.severity);
  }

  // The shape of a safe attempt that is only planned.
  planned(skill, support, help) {
    return this.shapes.of(new Map([["kind", "attempt"], ["skill", skill], ["support", support], ["help", help], ["result", "safe"]]));
  }

  /**
   * What follows from a shape for the fold.
   * @param {Shape} shape
   * @param {number} both 1 for a person with two prostheses
   * @returns {Facts | AttemptFacts}
   */
  facts(shape, both) {
    shape.facts[both] ??= shape.kind === "attempt"
      ? new AttemptFacts(shape, this.plans[both], attempt)
      : new Facts(shape, this.plans[both], STEPS.get(shape.kind) ?? null);
    return shape.facts[both];
  }

  /**
   * What a sequence's rules must do about a shape; false where it does not stand in the sequence.
   * @param {Shape} shape
   * @param {number} knee
   * @returns {View | false}
   */
  view(shape, knee) {
    shape.views[knee] ??= this.watch.view(shape, knee) ?? false;
    return shape.views[knee];
  }
}

// A protocol's skills as numbers and bit masks, for a person with one prosthesis or with two.
//
// Skill number n is bit n of every mask; one bit more stands for 'a fall that names no skill'. Masks of skills are
// BigInts: a protocol may have more skills than the 32 bits that JavaScript's bit operators work on. Masks of features
// and of knees are plain numbers.

import { bars, reached } from "./document.js";
import { DAY } from "./instant.js";
import { FEATURES, SETTINGS } from "./kinds.js";

// A stage of the evidence: least rung and help (as numbers, more is less support), how often, on how many days.
export class PlannedStage {
  constructor(rung, inARow, days, help) {
    this.rung = rung;
    this.inARow = inARow;
    this.days = days;
    this.help = help;
  }
}

// One skill as the fold works with it.
export class PlannedSkill {
  /**
   * @param {{skill: Skill, number: number, ladder: string[], stages: PlannedStage[], barred: Set<string>,
   *   measures: [string, [number | null, number | null]][], covered: number, depends: bigint, counts: bigint,
   *   needs: number, valid: number | null, seated: boolean}} parts
   */
  constructor(parts) {
    this.skill = parts.skill;
    this.number = parts.number;
    this.bit = 1n << BigInt(parts.number);
    this.ladder = parts.ladder;
    this.stages = parts.stages;
    this.barred = parts.barred;
    this.measures = parts.measures;
    this.covered = parts.covered; // a sign-off reaches down to this rung
    this.depends = parts.depends; // mask of all that `after` reaches
    this.counts = parts.counts; // mask of the falls that count for it: its own, those of what it depends on, and those of no skill
    this.needs = parts.needs; // mask of features
    this.valid = parts.valid; // microseconds
    this.seated = parts.seated;
  }
}

// The ladder, criteria and masks that hold for a person.
export class Plan {
  /** @param {Protocol} protocol @param {boolean} both */
  constructor(protocol, both) {
    this.protocol = protocol;
    this.both = both;
    this.keys = [...protocol.skills.keys()];
    this.number = new Map(this.keys.map((key, number) => [key, number]));
    this.noSkill = 1n << BigInt(this.keys.length);
    this.everything = this.noSkill - 1n;
    this.gapDays = protocol.gapDays;
    this.fallReview = protocol.fallReviewDays * DAY;
    this.skills = this.keys.map((key) => this.#skill(key));
    this.seated = this.#where((one) => one.seated);
    const within = bars(protocol.words.support);
    this.inBars = this.#where((one) => one.ladder.some((support) => within.includes(support)));
    this.bySetting = new Map(SETTINGS.map((setting) => [setting, this.#where((one) => one.skill.fallsBackOn.includes(setting))]));
    // what falls back with a fall of skill n: it, and all that depends on it
    this.fallsWith = this.skills.map((fallen) => fallen.bit | this.#where((one) => one.depends & fallen.bit));
  }

  #where(holds) {
    return this.skills.filter(holds).reduce((mask, one) => mask | one.bit, 0n);
  }

  #skill(key) {
    const skill = this.protocol.skills.get(key);
    const number = this.number.get(key);
    const ladder = skill.ladder(this.both);
    const proven = skill.criterion(this.both);
    const depends = [...reached(key, this.protocol.skills)].reduce((mask, one) => mask | (1n << BigInt(this.number.get(one))), 0n);
    const stages = proven.stages.map((stage) => new PlannedStage(
      ladder.indexOf(stage.support),
      stage.inARow,
      stage.days,
      stage.help === null ? 0 : this.protocol.help.indexOf(stage.help),
    ));
    return new PlannedSkill({
      skill, number, ladder, stages, depends,
      barred: new Set(proven.barred),
      measures: [...proven.measures],
      covered: stages.at(-1).rung,
      counts: depends | (1n << BigInt(number)) | this.noSkill,
      needs: featuresMask(skill.needs),
      valid: skill.validDays === null ? null : skill.validDays * DAY,
      seated: skill.tags.includes("seated"),
    });
  }

  // The mask of the skills that a knee with these features allows.
  applicable(features) {
    return this.#where((one) => (one.needs & ~features) === 0);
  }

  // The skills of a mask, in the document's order.
  members(mask) {
    return mask ? this.skills.filter((one) => one.bit & mask) : [];
  }
}

// Features of a knee as a bit mask.
export const featuresMask = (features) => features.reduce((mask, feature) => mask | (1 << FEATURES.indexOf(feature)), 0);

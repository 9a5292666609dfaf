// The words that a protocol knows: what entries and atoms may name (SEMANTICS.md §1 and §2).

export const RAILS = ["both_rails", "one_rail"]; // a person with two prostheses has these in place of the two below
export const ONE_SIDED = ["contralateral_rail", "ipsilateral_rail"];

// Every word of one protocol, in its order. `rungs` maps a skill to all rungs that an attempt of it may name.
export class Vocabulary {
  /**
   * @param {string[]} support
   * @param {string[]} help
   * @param {Map<string, string>} deviations
   * @param {Map<string, string>} measures
   * @param {Map<string, string[]>} checks
   * @param {Map<string, Set<string>>} rungs
   * @param {Set<string>} tags
   */
  constructor(support, help, deviations, measures, checks, rungs = new Map(), tags = new Set()) {
    this.support = support;
    this.help = help;
    this.deviations = deviations;
    this.measures = measures;
    this.checks = checks;
    this.rungs = rungs;
    this.tags = tags;
  }

  // A support without a skill: one of the protocol's, or a rail of a person with two prostheses.
  knowsSupport(word) {
    return this.support.includes(word) || RAILS.includes(word);
  }
}

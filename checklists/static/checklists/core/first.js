// What must be checked first, as a line to be read before the session begins (checklists/person/first.py).
//
// The protocol says of each rule what to do once it is broken. Before anybody stands, the same rule is a thing to check:
// said here for the rules of the default protocol, by the protocol itself for all others.

export const BEFORE = new Map([
  ["start_check", "Start check: skin, fit, footwear, knee mode"],
  ["lock_verified", "The lock is set and not proven: straight, caught, loaded with a hand on a rail"],
  ["walking_mode_proven", "Walking mode: set it, and prove with a hand on a rail that the knee bends"],
  ["no_weight_in_free_swing", "Free swing is on: seated only, until the knee is set to walking and proven"],
  ["free_swing_proven_off", "Free swing: prove under load that it is off, with a hand on a rail"],
  ["yield_proven_after_change", "After the change: “Full weight, knee bending” in the bars, before slope or stair"],
  ["failed_check_cleared", "The knee is new or its check failed: prove walking mode or the lock before any weight"],
]);

// The skill by which such a line is done, where it is done by one.
export const DONE_BY = new Map([[BEFORE.get("yield_proven_after_change"), "yield_load"]]);

/**
 * The lines of a check-first list, in its order, each once.
 * @param {CheckFirst[]} list
 * @returns {string[]}
 */
export const firstLines = (list) => [...new Set(list.map((one) => BEFORE.get(one.key) ?? one.sentence))];

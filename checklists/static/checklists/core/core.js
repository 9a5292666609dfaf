// The safety core in JavaScript: one meaning of the record for every surface, here without the server. Pure: no page, no
// clock, no network, no locale. This is its one door.
//
// It is the core of checklists/domain file by file, with the same names, and says the same in the same words; the contract
// is SEMANTICS.md there. tests/core_js compares the two, byte for byte.

export { Advice, Broken, CheckFirst, fallDoFirst, NOT_HELD_BACK, Step } from "./advice.js";
export { Counted } from "./counted.js";
export { Alert } from "./course.js";
export { Deadline } from "./deadline.js";
export { Entry, sameContent } from "./entry.js";
export { Episode, StaleSnapshot } from "./episode.js";
export { EntryRefused, ProtocolRefused, ValueError } from "./errors.js";
export { CHOICES, FIELDS, KINDS } from "./kinds.js";
export { KneeState, MODE_CHECKS } from "./knee.js";
export { loadProtocol, Protocol } from "./protocol.js";
export { parseEntry } from "./reading.js";
export { SkillStatus } from "./reasons.js";
export { Refused } from "./record.js";
export { BUILTIN_RULES, BuiltinRule, Rule } from "./rule.js";
export { adviceFor, carryOn, floorState, sessionOf } from "./state.js";

// Checking one entry by itself, field by field, with a sentence for the first fault (SEMANTICS.md §1, 'Refused').

import { EntryRefused, ValueError } from "./errors.js";
import * as instant from "./instant.js";
import { FIELDS } from "./kinds.js";
import { cut, hasLoneSurrogate, lengthOf, repr } from "./texts.js";
import { isNumeric, isObject } from "./values.js";

export const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/;
export const LONGEST_TEXT = 4_000;
const LONGEST_NAME = 200; // of an unknown field, in the refusal
export const TOO_LARGE = 2 ** 53;
export const EARLY = 5 * 60 * instant.SECOND; // how far the clock of a sender may be ahead of the server's

// The server is receiving the entry: what only it refuses, never a replay. `now` is in microseconds.
export class Reception {
  /** @param {number} now @param {boolean} both the person has two prostheses @param {boolean} signing */
  constructor(now, both, signing) {
    this.now = now;
    this.both = both;
    this.signing = signing; // it comes from the signing service or an import
  }
}

/**
 * Throw EntryRefused for the first fault found; return when the entry is sound by itself.
 * @param {unknown} obj
 * @param {Protocol} protocol
 * @param {Reception | null} reception
 */
export function checkEntry(obj, protocol, reception) {
  if (!isObject(obj)) throw new EntryRefused("entry", "must be an object");
  if (!obj.has("kind")) throw new EntryRefused("kind", "missing");
  const kind = obj.get("kind");
  if (typeof kind !== "string" || !FIELDS.has(kind)) throw new EntryRefused("kind", unknown("kind", kind));
  const fields = FIELDS.get(kind);
  for (const name of obj.keys()) {
    if (!fields.has(name)) throw new EntryRefused(cut(name, LONGEST_NAME), `unknown field of ${kind}`);
  }
  for (const [name, field] of fields) {
    if (obj.has(name)) checkField(field, obj, protocol, reception);
    else if (field.required) throw new EntryRefused(name, "missing");
  }
  checkTogether(kind, obj);
  if (reception !== null) checkReceived(kind, obj, protocol, reception);
}

function checkField(field, obj, protocol, reception) {
  const value = obj.get(field.name);
  if (value === null) throw new EntryRefused(field.name, "null; leave it out");
  const fault = CHECKS[field.type](value, field, obj, protocol, reception !== null);
  if (fault) throw new EntryRefused(field.name, fault);
}

const some = (obj, name) => (obj.get(name) ?? []).length > 0;

// What depends on two fields of the entry.
function checkTogether(kind, obj) {
  if (kind === "setting_changed") {
    if (obj.get("setting") === "knee" && !obj.has("features")) throw new EntryRefused("features", "missing; say what the new knee can do");
    if (obj.get("setting") !== "knee" && obj.has("features")) throw new EntryRefused("features", "only a change of knee names them");
  } else if (kind === "review") {
    if (some(obj, "of") && !obj.has("outcome")) throw new EntryRefused("outcome", "missing; say whether the falls are cleared");
    if (!some(obj, "of") && obj.has("outcome")) throw new EntryRefused("outcome", "not without falls in `of`");
  } else if (kind === "correction_answered") checkAnswer(obj);
}

// An answer says what was done, or why nothing was (SEMANTICS.md §8).
function checkAnswer(obj) {
  const done = ["struck", "added"].filter((name) => some(obj, name));
  if (obj.get("answer") === "declined" && done.length) {
    throw new EntryRefused(done[0], "nothing is struck out or added where it is declined");
  }
  if (!obj.has("reason") && !done.length) {
    throw new EntryRefused("reason", "missing; say why it is declined, or what was done instead of an entry");
  }
}

// What only the server refuses as it receives an entry.
function checkReceived(kind, obj, protocol, reception) {
  for (const name of ["at", "began"]) {
    if (obj.has(name) && instant.read(obj.get(name))[0] > reception.now + EARLY) {
      throw new EntryRefused(name, "more than five minutes in the future");
    }
  }
  for (const [name, value] of obj) {
    const fault = unfit(value);
    if (fault) throw new EntryRefused(name, fault);
  }
  if (["sign_off", "sign_off_withdrawn"].includes(kind) && !reception.signing) {
    throw new EntryRefused("kind", `a ${kind} comes from the signing service or an import only`);
  }
  const mode = kind === "mode_set" || kind === "mode_checked";
  const asks = mode || (kind === "setting_changed" && obj.get("setting") === "knee")
    || (kind === "check" && protocol.checks.get(obj.get("name")).perKnee);
  if (reception.both && !obj.has("knee") && asks) throw new EntryRefused("knee", "missing; this person has two, say which");
}

// What no text or number may be, wherever it stands in the entry.
function unfit(value) {
  if (typeof value === "string") {
    if (lengthOf(value) > LONGEST_TEXT) return `a text of more than ${LONGEST_TEXT / 1000},000 characters`;
    if (value.includes("\0")) return "a text with the character U+0000";
    return hasLoneSurrogate(value) ? "a text with half of a character (a lone surrogate)" : null;
  }
  if (isNumeric(value)) return value >= TOO_LARGE || value <= -TOO_LARGE ? "a number of 2^53 or more" : null;
  if (isObject(value)) return firstFault([...value].flat(), unfit);
  return Array.isArray(value) ? firstFault(value, unfit) : null;
}

function firstFault(values, check) {
  for (const value of values) {
    const fault = check(value);
    if (fault) return fault;
  }
  return null;
}

const unknown = (what, value) => (typeof value === "string" ? `unknown ${what} ${repr(cut(value, 60))}` : "must be a text");

// A finite JSON number (true and false are none).
export const isNumber = (value) => typeof value === "bigint" || Number.isFinite(value);

const oneOf = (known, what, value) => (typeof value === "string" && known.has(value) ? null : unknown(what, value));
const text = (value) => (typeof value === "string" ? null : "must be a text");
const id = (value) => (typeof value === "string" && UUID.test(value) ? null : "must be a UUID in lower case");
const ids = (value) => (Array.isArray(value) && !value.some(id) ? null : "must be a list of UUIDs in lower case");
const number = (value) => (isNumber(value) ? null : "must be a finite number");
const integer = (value) => (typeof value === "bigint" || Number.isInteger(value) ? null : "must be a whole number");
const flag = (value) => (typeof value === "boolean" ? null : "must be true or false");

function readable(read, value) {
  if (typeof value !== "string") return "must be a text";
  try {
    read(value);
    return null;
  } catch (fault) {
    if (fault instanceof ValueError) return fault.message;
    throw fault;
  }
}

function choice(value, field) {
  return typeof value === "string" && field.choices.includes(value) ? null : unknown(field.name, value);
}

function choices(value, field) {
  return Array.isArray(value) ? firstFault(value, (one) => choice(one, field)) : "must be a list";
}

function skill(value, field, obj, protocol, receiving) {
  if (typeof value === "string" && !field.required && !receiving) return null; // a fall stays, whatever became of the skill
  return oneOf(protocol.skills, "skill", value);
}

function support(value, field, obj, protocol) {
  return typeof value === "string" && protocol.words.knowsSupport(value) ? null : unknown("support", value);
}

const rung = (value, field, obj, protocol) => oneOf(protocol.words.rungs.get(obj.get("skill")) ?? new Set(), "rung of this skill", value);
const help = (value, field, obj, protocol) => oneOf(new Set(protocol.help), "help", value);
const check = (value, field, obj, protocol) => oneOf(protocol.checks, "check", value);

function deviations(value, field, obj, protocol, receiving) {
  if (!Array.isArray(value) || value.some(text)) return "must be a list of texts";
  const lost = value.find((one) => !protocol.deviations.has(one));
  return lost !== undefined && receiving ? unknown("deviation", lost) : null;
}

function measures(value, field, obj, protocol, receiving) {
  if (!isObject(value)) return "must be an object of numbers";
  for (const [name, taken] of value) {
    if (receiving && !protocol.measures.has(name)) return unknown("measure", name);
    if (!isNumber(taken)) return `${repr(cut(name, 60))} must be a finite number`;
  }
  return null;
}

function steps(value, field, obj, protocol) {
  if (!isObject(value)) return "must be an object of steps";
  const known = protocol.checks.get(obj.get("name"))?.steps ?? [];
  for (const [step, done] of value) {
    if (!known.includes(step)) return unknown("step of this check", step);
    if (typeof done !== "boolean") return `${repr(step)} must be true or false`;
  }
  return null;
}

function override(value) {
  if (!isObject(value) || value.size !== 2 || !value.has("by") || !value.has("reason")) return "must be an object of by and reason";
  return [...value.values()].some(text) ? "by and reason must be texts" : null;
}

const CHECKS = {
  kind: text, text, id, ids, number, integer, flag, choice, choices, skill, support, rung, help, deviations, measures, check,
  steps, override,
  instant: (value) => readable(instant.read, value),
  date: (value) => readable(instant.readDay, value),
};

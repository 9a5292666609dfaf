// A protocol version: one immutable document of skills, checks and rules, checked as it is read (SEMANTICS.md §2).

import { canonicalBytes } from "./canonical.js";
import { Compiled } from "./compiled.js";
import { readChecks, readMeasures, readSkills, readWords } from "./document.js";
import { ProtocolRefused, ValueError } from "./errors.js";
import { parse, TOO_DEEP } from "./json.js";
import { Spot } from "./places.js";
import { readRules } from "./rule.js";
import { sha256 } from "./sha256.js";
import { repr } from "./texts.js";
import { asJson } from "./values.js";
import { RAILS, Vocabulary } from "./vocabulary.js";

const REQUIRED = ["key", "version", "title", "support", "help", "skills"];
const OPTIONAL = ["gap_days", "fall_review_days", "deviations", "measures", "checks", "rules", "source", "note"];

// What a clinic teaches, in which order, on which evidence, under which rules. Equal digests mean equal protocols.
export class Protocol {
  #digest = null;
  #compiled = null;

  /**
   * @param {{document: Map<string, unknown>, key: string, version: number, title: string, gapDays: number,
   *   fallReviewDays: number, support: string[], help: string[], deviations: Map<string, Word>,
   *   measures: Map<string, Measure>, checks: Map<string, Check>, skills: Map<string, Skill>, rules: Map<string, Rule>,
   *   words: Vocabulary}} parts
   */
  constructor(parts) {
    this.document = parts.document;
    this.key = parts.key;
    this.version = parts.version;
    this.title = parts.title;
    this.gapDays = parts.gapDays;
    this.fallReviewDays = parts.fallReviewDays;
    this.support = parts.support;
    this.help = parts.help;
    this.deviations = parts.deviations;
    this.measures = parts.measures;
    this.checks = parts.checks;
    this.skills = parts.skills;
    this.rules = parts.rules;
    this.words = parts.words;
  }

  // SHA-256, in hexadecimal, of the RFC 8785 form of the document: the same however it was written.
  get digest() {
    this.#digest ??= sha256(canonicalBytes(this.document));
    return this.#digest;
  }

  // `key@version`, as an opening names it; every digit of a version that is longer than a double is exact.
  get reference() {
    return `${this.key}@${BigInt(this.document.get("version"))}`;
  }

  // Everything that is worked out once for all entries; kept with the protocol.
  get compiled() {
    this.#compiled ??= new Compiled(this);
    return this.#compiled;
  }
}

/**
 * Read and check a protocol document. Throws ProtocolRefused with the place of the first fault that is found.
 * @param {string | Uint8Array | Map<string, unknown> | object} source a text, its bytes, or what was read from it
 * @returns {Protocol}
 */
export function loadProtocol(source) {
  if (typeof source === "string" || source instanceof Uint8Array) return read(new Spot(parsed(source)));
  if (typeof source !== "object" || source === null || Array.isArray(source)) {
    throw new ProtocolRefused("document", "must be an object");
  }
  return read(new Spot(asJson(source)));
}

function read(top) {
  const parts = top.fields(REQUIRED, OPTIONAL);
  const support = parts.get("support").words(null, "", { once: true });
  const help = parts.get("help").words(null, "", { once: true });
  for (const [name, words] of [["support", support], ["help", help]]) {
    if (!words.length) parts.get(name).refuse("must not be empty");
  }
  for (const spot of parts.get("support").items()) {
    if (RAILS.includes(spot.value)) spot.refuse(`${repr(spot.value)} is not a support of its own; it stands in \`both.rungs\` only`);
  }
  const deviations = readWords(parts.get("deviations"));
  const measures = readMeasures(parts.get("measures"));
  const checks = readChecks(parts.get("checks"));
  const known = [
    support, help, named(deviations), named(measures), new Map([...checks].map(([key, check]) => [key, check.steps])),
  ];
  const skills = readSkills(parts.get("skills"), new Vocabulary(...known));
  const words = new Vocabulary(
    ...known,
    new Map([...skills].map(([key, skill]) => [key, new Set([...skill.rungs, ...skill.bothRungs])])),
    new Set([...skills.values()].flatMap((skill) => skill.tags)),
  );
  for (const name of ["source", "note"]) parts.get(name)?.text();
  return new Protocol({
    document: top.value,
    key: parts.get("key").text(),
    version: parts.get("version").integer(0),
    title: parts.get("title").text(),
    gapDays: parts.has("gap_days") ? parts.get("gap_days").integer(0) : 28,
    fallReviewDays: parts.has("fall_review_days") ? parts.get("fall_review_days").integer(0) : 4,
    support, help, deviations, measures, checks, skills,
    rules: readRules(parts.get("rules"), words),
    words,
  });
}

const named = (words) => new Map([...words.keys()].map((key) => [key, ""]));

function parsed(source) {
  try {
    return parse(source, { once: twice, constant: noNumber });
  } catch (fault) {
    if (fault instanceof ProtocolRefused || !(fault instanceof ValueError)) throw fault;
    throw new ProtocolRefused("document", fault.message === TOO_DEEP ? TOO_DEEP : `is not JSON: ${fault.message}`);
  }
}

// A name that is written twice would silently hide what stood first.
function twice(name) {
  throw new ProtocolRefused(name, "stands twice in one object");
}

function noNumber(word) {
  throw new ProtocolRefused("document", `is not JSON: ${word} is not a number`);
}

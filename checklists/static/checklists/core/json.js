// JSON texts into values: the order of names, whole numbers beyond a double and names that stand twice are not lost, as they
// are in JSON.parse. What is no JSON is said in the words of the server's reader, with its places.

import { decoded } from "./bytes.js";
import { ValueError } from "./errors.js";
import { checkDigits } from "./instant.js";
import { lengthOf } from "./texts.js";

const NUMBER = /-?(?:0|[1-9][0-9]*)(\.[0-9]+)?([eE][+-]?[0-9]+)?/y;
const SPACE = /[ \t\n\r]*/y;
const PLAIN = /[^"\\\x00-\x1f]*/y;
const HEX = /^[0-9a-fA-F]{4}$/;
const ESCAPES = { '"': '"', "\\": "\\", "/": "/", b: "\b", f: "\f", n: "\n", r: "\r", t: "\t" };
const WORDS = [["null", null], ["true", true], ["false", false]];
const CONSTANTS = [["NaN", NaN], ["Infinity", Infinity], ["-Infinity", -Infinity]];
export const TOO_DEEP = "nested too deeply";

/**
 * The value of a JSON text or of its bytes; ValueError says what is wrong where.
 * @param {string | Uint8Array} source
 * @param {{once?: (name: string) => void, constant?: (word: string) => void, deepest?: number}} hooks `once` hears of a name
 *   that stands twice in an object (the last one holds), `constant` of NaN and the like; either may throw
 */
export function parse(source, { once = () => {}, constant = () => {}, deepest = 960 } = {}) {
  const text = typeof source === "string" ? source : decoded(source);
  if (typeof source === "string" && text.startsWith("\ufeff")) fail(text, 0, "Unexpected UTF-8 BOM (decode using utf-8-sig)");
  return new Scanner(text, { once, constant, deepest }).whole();
}

// The value in a line of a history, or null where it is no JSON.
export function parseLine(line) {
  try {
    return parse(line, { deepest: 1_024 });
  } catch (fault) {
    if (fault instanceof ValueError) return null;
    throw fault;
  }
}

function fail(text, index, message) {
  const before = text.slice(0, index);
  const line = before.split("\n").length;
  const column = lengthOf(before.slice(before.lastIndexOf("\n") + 1)) + 1;
  throw new ValueError(`${message}: line ${line} column ${column} (char ${lengthOf(before)})`);
}

class Scanner {
  #text;
  #hooks;
  #at = 0;
  #depth = 0;

  constructor(text, hooks) {
    this.#text = text;
    this.#hooks = hooks;
  }

  whole() {
    this.#space();
    const value = this.#value();
    this.#space();
    if (this.#at < this.#text.length) this.#fail("Extra data");
    return value;
  }

  #fail(message, index = this.#at) {
    fail(this.#text, index, message);
  }

  #space() {
    SPACE.lastIndex = this.#at;
    SPACE.test(this.#text);
    this.#at = SPACE.lastIndex;
  }

  #is(character) {
    return this.#text[this.#at] === character;
  }

  #value() {
    switch (this.#text[this.#at]) {
      case '"': return this.#string();
      case "{": return this.#nested(() => this.#object());
      case "[": return this.#nested(() => this.#array());
      default: return this.#plain();
    }
  }

  #nested(read) {
    this.#depth += 1;
    if (this.#depth > this.#hooks.deepest) throw new ValueError(TOO_DEEP);
    this.#at += 1;
    this.#space();
    const value = read();
    this.#depth -= 1;
    this.#at += 1;
    return value;
  }

  #plain() {
    for (const [word, value] of WORDS) if (this.#takes(word)) return value;
    for (const [word, value] of CONSTANTS) {
      if (this.#takes(word)) {
        this.#hooks.constant(word);
        return value;
      }
    }
    NUMBER.lastIndex = this.#at;
    const found = NUMBER.exec(this.#text);
    if (!found) this.#fail("Expecting value");
    this.#at = NUMBER.lastIndex;
    if (found[1] || found[2]) return Number(found[0]);
    checkDigits(found[0].replace("-", ""));
    const value = Number(found[0]);
    return Number.isSafeInteger(value) ? value : BigInt(found[0]);
  }

  #takes(word) {
    if (!this.#text.startsWith(word, this.#at)) return false;
    this.#at += word.length;
    return true;
  }

  #object() {
    const found = new Map();
    let twice = null;
    while (!this.#is("}") || found.size) {
      if (!this.#is('"')) this.#fail("Expecting property name enclosed in double quotes");
      const name = this.#string();
      this.#space();
      if (!this.#is(":")) this.#fail("Expecting ':' delimiter");
      this.#at += 1;
      this.#space();
      const value = this.#value();
      if (found.has(name)) twice ??= name;
      found.set(name, value);
      this.#space();
      if (this.#is("}")) break;
      if (!this.#is(",")) this.#fail("Expecting ',' delimiter");
      this.#at += 1;
      this.#space();
    }
    if (twice !== null) this.#hooks.once(twice);
    return found;
  }

  #array() {
    const found = [];
    while (!this.#is("]") || found.length) {
      found.push(this.#value());
      this.#space();
      if (this.#is("]")) break;
      if (!this.#is(",")) this.#fail("Expecting ',' delimiter");
      this.#at += 1;
      this.#space();
    }
    return found;
  }

  #string() {
    const begin = this.#at;
    this.#at += 1;
    let value = "";
    for (;;) {
      PLAIN.lastIndex = this.#at;
      value += PLAIN.exec(this.#text)[0];
      this.#at = PLAIN.lastIndex;
      if (this.#at >= this.#text.length) this.#fail("Unterminated string starting at", begin);
      if (this.#is('"')) break;
      if (!this.#is("\\")) this.#fail("Invalid control character at");
      value += this.#escape(begin);
    }
    this.#at += 1;
    return value;
  }

  #escape(begin) {
    const letter = this.#text[this.#at + 1];
    if (letter === undefined) this.#fail("Unterminated string starting at", begin);
    if (letter === "u") {
      const hex = this.#hex(this.#at);
      this.#at += 6;
      return String.fromCharCode(hex);
    }
    if (!Object.hasOwn(ESCAPES, letter)) this.#fail("Invalid \\escape");
    this.#at += 2;
    return ESCAPES[letter];
  }

  // The number in `\uXXXX`, which begins here; a text may not end with it.
  #hex(at) {
    const digits = this.#text.slice(at + 2, at + 6);
    if (at + 6 >= this.#text.length || !HEX.test(digits)) this.#fail("Invalid \\uXXXX escape", at + 1);
    return Number.parseInt(digits, 16);
  }
}

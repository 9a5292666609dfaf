// What the server has said of a record. Most of a long one is in the fold that came with it (a snapshot) and is not read until
// something asks for the whole: a late fact, a strike-out of something old. What is shown or asked every day is read at once:
// today's facts, and the last attempts.

import { parse } from "../core/json.js";
import { parseEntry } from "../core/reading.js";

// A fact of the record. `entry` is what the core makes of it: read when somebody asks.
class One {
  #entry = null;

  constructor(text, protocol) {
    this.text = text;
    this.protocol = protocol;
    this.fact = JSON.parse(text);
  }

  get entry() {
    this.#entry ??= parseEntry(parse(this.text), this.protocol);
    return this.#entry;
  }
}

export class Known {
  #protocol;
  #unread; // texts
  #earlier = null; // the same, read
  #read = new Map(); // id → One

  /** @param {Protocol} protocol @param {string[]} texts the entries @param {number} from how many of them can wait */
  constructor(protocol, texts, from) {
    this.#protocol = protocol;
    this.#unread = texts.slice(0, from);
    this.bring(texts.slice(from));
  }

  /** What was not here before. */
  bring(texts) {
    const ones = texts.map((text) => new One(text, this.#protocol)).filter((one) => !this.#read.has(one.fact.id));
    for (const one of ones) this.#read.set(one.fact.id, one);
    return ones;
  }

  has(id) {
    return this.#read.has(id) || this.#unread.some((text) => text.includes(id) && JSON.parse(text).id === id);
  }

  /** What was read, in the order of reception: today's facts and the last attempts are among them. */
  get recent() {
    return [...this.#read.values()];
  }

  /** All of the record. */
  get all() {
    this.#earlier ??= this.#unread.map((text) => new One(text, this.#protocol));
    return [...this.#earlier, ...this.#read.values()];
  }
}

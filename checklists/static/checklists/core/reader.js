// Reading the entries of a replay. There is one way here, the careful one of reading.js: a tablet reads the record of a few
// people, not the million entries for which the server has a short way beside it.

import { parseEntry } from "./reading.js";

// Reads objects as `parseEntry` does without `now`.
export class Reader {
  #protocol;

  constructor(protocol) {
    this.#protocol = protocol;
  }

  /**
   * The entry in an object that json.js read from a line; throws EntryRefused.
   * @param {Map<string, unknown>} obj
   * @returns {Entry}
   */
  read(obj) {
    return parseEntry(obj, this.#protocol);
  }
}

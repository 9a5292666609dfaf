// What the safety core refuses, and how it says so.

// A fault in what was given, such as a text that is no instant; the message says why.
export class ValueError extends Error {
  name = "ValueError";
}

// A protocol document was refused (SEMANTICS.md §2). `place` says where, such as `skills[3].proven.support`.
export class ProtocolRefused extends ValueError {
  name = "ProtocolRefused";

  /** @param {string} place @param {string} reason */
  constructor(place, reason) {
    super(`${place}: ${reason}`);
    this.place = place;
    this.reason = reason;
  }
}

// An entry was refused by itself (SEMANTICS.md §1). The text begins with the field at fault and a colon.
export class EntryRefused extends ValueError {
  name = "EntryRefused";

  /** @param {string} field @param {string} reason */
  constructor(field, reason) {
    super(`${field}: ${reason}`);
    this.field = field;
    this.reason = reason;
  }
}

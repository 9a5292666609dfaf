// From a JSON object to an Entry.

import { Entry } from "./entry.js";
import { checkEntry, Reception } from "./entry_check.js";
import * as instant from "./instant.js";
import { SHAPED } from "./shape.js";
import { asJson, isObject } from "./values.js";

export const SLOTS = new Set(["id", "at", "episode", "by", "seq"]);

/**
 * Check one entry by itself and hold it compactly; throws EntryRefused (SEMANTICS.md §1).
 *
 * Without `now` the entry is read as in a replay. With `now` it is received as by the server, which refuses more: instants
 * in the future, texts and numbers out of bounds, unknown deviations, a missing knee where `both`, and a sign-off or its
 * withdrawal unless `signing` (the signing service, an import).
 * @param {unknown} obj a Map as json.js gives it, or a plain object
 * @param {Protocol} protocol
 * @param {{now?: Date | string | null, both?: boolean, signing?: boolean}} received
 * @returns {Entry}
 */
export function parseEntry(obj, protocol, { now = null, both = false, signing = false } = {}) {
  const read = isObject(obj) ? obj : asJson(obj);
  checkEntry(read, protocol, now === null ? null : new Reception(instant.of(now)[0], both, signing));
  return makeEntry(read, protocol.compiled.shapes);
}

/**
 * An Entry of an object that has been checked.
 * @param {Map<string, unknown>} obj
 * @param {Shapes} shapes
 */
export function makeEntry(obj, shapes) {
  const shape = shapes.of(obj);
  const [atUs, day] = instant.read(obj.get("at"));
  const rest = new Map([...obj].filter(([name]) => !SHAPED.has(name) && !SLOTS.has(name)));
  return new Entry(
    atUs, obj.get("seq") ?? 0, shape.rank, obj.get("id"), shape, day, obj.get("at"), obj.get("episode"), obj.get("by"),
    rest.size ? rest : null,
  );
}

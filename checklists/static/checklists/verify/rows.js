// Each row stands in the sealed ledger as it stands in the bundle, and its content is the one that was written.

import { hex, joined, sha, unhex, utf8 } from "./bytes.js";
import { Wrong, maybe, parse } from "./json.js";
import { included, leafHash } from "./tree.js";

const ENTRY = "checklists_entry";
const TRAIL = "clinic_trailrow";
const ERASED = ["erasure.confirmed", "erasure.reapplied"];

export class Rows {
  constructor(bundle, heads, lines) {
    Object.assign(this, { bundle, heads, head: heads[0] ?? null, lines, entries: new Map(), contents: new Map(), erased: [], trail: [] });
  }

  async check() {
    const about = this.bundle.about;
    let sealed = 0;
    for (const one of this.bundle.entries) {
      const row = parse(one.row);
      const name = `Entry ${row.id} (${row.kind})`;
      if (row.table !== ENTRY || row.episode_id !== about.episode || this.entries.has(row.id)) {
        throw new Wrong(`${name} does not belong here.`);
      }
      this.entries.set(row.id, row);
      await this.#committed(one, row, name);
      if (await this.#sealed(one, name)) sealed += 1;
    }
    const signOffs = [...this.entries.values()].filter((row) => row.kind === "sign_off").map((row) => row.id);
    const wanted = { sign_off: signOffs, episode: [about.episode_reference] };
    if (!this.entries.size || !maybe(wanted, about.kind, []).includes(about.reference)) {
      throw new Wrong("What the bundle is about is not in it.");
    }
    this.lines.push(["holds", `Entries that stand in the sealed ledger as they stand here: ${sealed}.`]);
    if (this.erased.length) {
      const why = "that they were made, when and by whom still stands";
      this.lines.push(["note", `Entries whose content was erased: ${this.erased.length}; ${why}.`]);
    }
  }

  // The rows of the audit trail; where content was erased, one of them must account for it.
  async checkTrail() {
    const verbs = [];
    for (const one of this.bundle.trail) {
      const row = parse(one.row);
      const name = `Row ${row.number} of the audit trail (${row.verb})`;
      if (row.table !== TRAIL || ![this.bundle.about.episode, null].includes(row.episode)) {
        throw new Wrong(`${name} does not belong here.`);
      }
      this.trail.push(row);
      if (await this.#sealed(one, name)) verbs.push(row.verb);
    }
    if (verbs.length) this.lines.push(["holds", `Rows of the audit trail that stand in the sealed ledger: ${verbs.length}.`]);
    if (this.erased.length && !verbs.some((verb) => ERASED.includes(verb))) {
      throw new Wrong("Content is missing, and no sealed row of the audit trail accounts for an erasure.");
    }
  }

  // By when a row was sealed at the latest: the earliest checkpoint that has it, by the server's clock.
  sealedBy({ sealed: place }) {
    const seen = this.heads.filter((head) => place !== null && place.position < head.size).map((head) => head.at);
    return seen.length ? `sealed by ${seen.sort()[0]}` : "not sealed yet";
  }

  // Whether the row is sealed; false, with a line, where it is not yet.
  async #sealed(one, name) {
    const place = one.sealed;
    if (place === null) {
      this.lines.push(["open", `${name} is not sealed yet: ask for a new bundle in a minute.`]);
      return false;
    }
    const leaf = await leafHash(utf8(one.row));
    const { head } = this;
    if (!head || !(await included(leaf, place.position, head.size, place.path.map(unhex), head.root))) {
      throw new Wrong(`${name} does not stand in the sealed ledger as it stands here.`);
    }
    return true;
  }

  // The content is the one to which the row is bound, or it was erased, with the reason.
  async #committed(one, row, name) {
    if (one.content === null) {
      if (one.salt !== null || !one.erased) throw new Wrong(`${name}: the content is missing, and nothing says why.`);
      this.erased.push(row.id);
      return;
    }
    const commitment = hex(await sha(joined(unhex(one.salt), utf8(one.content))));
    if (commitment !== row.commitment || one.erased) throw new Wrong(`${name}: the content is not the one that was written.`);
    const said = parse(one.content);
    const reference = this.bundle.about.episode_reference;
    if (said.id !== row.id || said.kind !== row.kind || said.episode !== reference) {
      throw new Wrong(`${name}: the content is that of another entry.`);
    }
    this.contents.set(row.id, said);
  }
}

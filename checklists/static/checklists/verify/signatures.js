// Each signature stands with what was signed: the statement, the evidence shown, the protocol, and the record before it.

import { hex, joined, sha, unhex, utf8 } from "./bytes.js";
import { Wrong, alike, maybe, parse } from "./json.js";

const FORMAT = "signature 1";
const KINDS = { sign_off: "sign-off", sign_off_withdrawn: "withdrawal" };
const MEANINGS = ["authorship", "review", "approval", "responsibility"];
const ACCOUNTED = ["skill.signed_off", "skill.sign_off_withdrawn"];
const UNSAID = { deviations: [], measures: {} }; // what the fields of an attempt mean that were left out

export async function checkSignatures(bundle, files, rows, lines) {
  const titles = new Map(); // of skills, by their keys
  for (const one of bundle.entries) {
    const row = parse(one.row);
    const said = rows.contents.get(row.id);
    if (said && Object.hasOwn(KINDS, row.kind)) await signature({ bundle, files, rows, lines, titles }, one, row, said);
    else if (one.signed !== null) throw new Wrong(`A signature hangs on entry ${row.id}, which bears none.`);
  }
  for (const [entry, said] of rows.contents) {
    if (said.kind === "sign_off_withdrawn") {
      lines.push(["note", `A sign-off of '${titles.get(said.skill) ?? said.skill}' was withdrawn at ${said.at} (entry ${entry}).`]);
    }
    if (said.kind === "struck_out") {
      lines.push(["note", `Entry ${said.entry} was struck out at ${said.at}: it counts no more.`]);
    }
  }
  return titles;
}

// What the evidence calls the skill, here or in an earlier entry; the skill's key where it says no name.
function titleOf(titles, { skill }, signed) {
  if (signed !== null && !titles.has(skill)) titles.set(skill, maybe(parse(signed.evidence), "title") || skill);
  return titles.get(skill) ?? skill;
}

async function signature(all, one, row, said) {
  const { signed } = one;
  const name = `The signature under entry ${said.id} (${KINDS[said.kind]} of '${titleOf(all.titles, said, signed)}')`;
  if (signed === null) {
    if (row.door !== "import") throw new Wrong(`${name} comes without what was signed.`);
    all.lines.push(["note", `${name} is not enclosed: the entry was brought in from elsewhere.`]);
    return;
  }
  const text = parse(signed.signature);
  const evidence = parse(signed.evidence);
  if (!(await fits(said, signed, text, evidence))) throw new Wrong(`${name} is not what was signed here.`);
  if (!(await accounted(all.rows, row, signed))) {
    throw new Wrong(`${name} is not the one that the sealed audit trail names.`);
  }
  if (!(await record(all, row, signed, text))) {
    throw new Wrong(`${name}: the record before it is not the one that was signed.`);
  }
  if (said.kind === "sign_off") await shown(all, name, evidence);
  const { name: signer, reference } = text.signer;
  all.lines.push(["holds", `${name} is that of ${signer} (${reference}): ${text.meaning}, ${all.rows.sealedBy(one)}.`]);
}

// A row of the audit trail, by who the entry is by, names the digest of this very signature.
async function accounted(rows, row, signed) {
  const digest = hex(await sha(utf8(signed.signature)));
  return rows.trail.some((one) => ACCOUNTED.includes(one.verb) && one.actor_id === row.by_id
    && one.detail.entry === row.id && one.detail.signature === digest);
}

// What stood in the record before: as many entries, with the very commitments; those enclosed are among them.
async function record({ bundle, rows }, row, signed, text) {
  const { before } = signed;
  const earlier = [...rows.entries.values()].filter((one) => one.number < row.number)
    .sort((one, other) => one.number - other.number).map((one) => one.commitment);
  const among = bundle.about.kind === "episode" ? alike(before, earlier) : earlier.every((one) => before.includes(one));
  const digest = hex(await sha(joined(...before.map(unhex))));
  return text.record.entries === before.length && text.record.digest === digest && among;
}

// The protocol and the attempts that the evidence lists are enclosed as they were shown.
async function shown({ files, rows }, name, evidence) {
  const document = files.get(`protocols/${evidence.protocol}.json`) ?? new Uint8Array();
  if (hex(await sha(document)) !== evidence.protocol_digest) {
    throw new Wrong(`${name}: the protocol enclosed is not the one under which it was signed.`);
  }
  for (const attempt of evidence.attempts) {
    const entry = rows.contents.get(attempt.id);
    const asShown = entry !== undefined && Object.keys(attempt).every((field) =>
      alike(maybe(entry, field, UNSAID[field] ?? null), attempt[field]));
    if (!asShown && !rows.erased.includes(attempt.id)) {
      throw new Wrong(`${name}: attempt ${attempt.id} of its evidence is not enclosed as it was shown.`);
    }
  }
}

// The text of the signature, the entry and the evidence speak of the same thing.
async function fits(said, signed, text, evidence) {
  const digest = hex(await sha(utf8(signed.evidence)));
  const override = maybe(said, "override") || {};
  const second = maybe(text, "countersigner") || {};
  const ofKind = said.kind === "sign_off"
    ? said.evidence === digest && said.statement === text.statement
    : said.reason === evidence.reason;
  return ofKind && text.format === FORMAT && text.evidence === digest && text.entry === said.id
    && text.episode === said.episode && evidence.episode === said.episode
    && text.skill === said.skill && evidence.skill === said.skill
    && text.signer.reference === said.by && Boolean(text.signer.name) && Boolean(text.signer.role)
    && text.at === said.at && MEANINGS.includes(text.meaning) && Boolean(text.shown)
    && maybe(override, "by") === maybe(second, "reference") && maybe(override, "reason") === maybe(second, "reason");
}

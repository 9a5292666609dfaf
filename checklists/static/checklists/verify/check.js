// What a bundle is checked for, in order, with the very sentences of verify.py.

import { equal, text, unhex } from "./bytes.js";
import { Wrong, parse } from "./json.js";
import { noteIn, opened, readRing } from "./notes.js";
import { page } from "./page.js";
import { Rows } from "./rows.js";
import { checkSignatures } from "./signatures.js";
import { continued } from "./tree.js";

const FORMAT = 1;
const NEEDED = ["bundle.json", "ring.json", "page.html", "README.txt", "verify.py"];
const BELONGS = /^(?:(?:checkpoint|stamped)\.note|stamp\.tsr|protocols\/[a-z0-9_]{1,40}@[0-9]{1,9}\.json)$/;

// `files`: a map of name → bytes. `key`: a fingerprint, `outside`: a text with a checkpoint in it, both from elsewhere.
// Gives [status, sentence] lines, the bundle where it could be read, and what its signatures call the skills.
export async function checked(files, key = "", outside = "") {
  const lines = [];
  let bundle = null;
  let titles = new Map();
  try {
    bundle = named(files);
    const ring = await keys(files, key, lines);
    const head = await newest(files, bundle, ring, lines);
    const heads = await earlier(bundle, ring, head, lines);
    if (outside) await fromOutside(bundle, ring, head, outside, lines);
    const rows = new Rows(bundle, heads, lines);
    await rows.check();
    await rows.checkTrail();
    titles = await checkSignatures(bundle, files, rows, lines);
    if (text(files.get("page.html")) !== page(bundle)) {
      throw new Wrong("page.html does not say what the entries say: do not rely on it.");
    }
    lines.push(["holds", "page.html says what the entries say."]);
  } catch (error) {
    lines.push(["fails", error instanceof Wrong ? error.message : "The bundle is not written as a bundle is written."]);
  }
  return { lines, bundle, titles };
}

export function verdict(lines) {
  const found = new Set(lines.map(([status]) => status));
  if (found.has("fails") || !lines.length) return { status: "fails", sentence: "THIS BUNDLE DOES NOT HOLD." };
  if (found.has("open")) {
    return { status: "open", sentence: "NOT PROVED YET: nothing speaks against it, but something is still missing." };
  }
  return { status: "holds", sentence: "THIS BUNDLE HOLDS." };
}

// The right files are there, and no others; what bundle.json says.
function named(files) {
  for (const name of NEEDED) if (!files.has(name)) throw new Wrong(`${name} is missing.`);
  for (const name of [...files.keys()].sort()) {
    if (!NEEDED.includes(name) && !BELONGS.test(name)) {
      throw new Wrong(`There is a file that does not belong to the bundle: ${name}.`);
    }
  }
  const bundle = parse(text(files.get("bundle.json")));
  if (bundle.format !== FORMAT) throw new Wrong("The bundle is of another format than this program reads.");
  return bundle;
}

async function keys(files, key, lines) {
  const ring = await readRing(files.get("ring.json")).catch(() => {
    throw new Wrong("ring.json is no key ring whose links hold.");
  });
  const prints = ring.keys.map((one) => one.fingerprint);
  lines.push(["holds", `The signing keys of ${ring.origin} are linked as they must be (keys: ${prints.length}).`]);
  if (!key) {
    lines.push(["note", `So far only the bundle itself vouches for its keys. The newest: ${prints.at(-1)}.`]);
  } else if (prints.includes(key.toLowerCase().replace(/[^0-9a-f]/g, ""))) {
    lines.push(["holds", "The key whose fingerprint you gave is one of them."]);
  } else {
    throw new Wrong("The key whose fingerprint you gave is none of them.");
  }
  return ring;
}

async function newest(files, bundle, ring, lines) {
  const note = bundle.checkpoint;
  if (text(files.get("checkpoint.note") ?? new Uint8Array()) !== note) {
    throw new Wrong("checkpoint.note is not the checkpoint of the bundle.");
  }
  if (!note) {
    lines.push(["open", "Nothing of this is sealed yet: there is no checkpoint."]);
    return null;
  }
  const head = await openedAs(note, ring, "The checkpoint");
  lines.push(["holds", `The checkpoint of ${head.size} rows, sealed at ${head.at}, is signed.`]);
  if (files.has("stamp.tsr")) {
    const stamped = text(files.get("stamped.note") ?? new Uint8Array());
    if (![note, ...bundle.history.map((one) => one.note)].includes(stamped)) {
      throw new Wrong("stamped.note is no checkpoint of the bundle.");
    }
    lines.push(["note", "A time stamp is enclosed. README.txt says how to have it checked."]);
  }
  return head;
}

// All checkpoints that hold, the newest first; those without a note serve only `fromOutside`.
async function earlier(bundle, ring, head, lines) {
  const heads = head ? [head] : [];
  for (const one of bundle.history) {
    if (!one.note) continue;
    const old = await openedAs(one.note, ring, "An earlier checkpoint");
    const shown = head && (await continued(old.size, head.size, one.path.map(unhex), old.root, head.root));
    if (!shown || one.size !== old.size) {
      throw new Wrong(`It is not shown that the ledger of ${old.size} rows is the beginning of the later one.`);
    }
    lines.push(["holds", `The ledger of ${old.size} rows, sealed at ${old.at}, is the beginning of the later one.`]);
    heads.push(old);
  }
  return heads;
}

async function fromOutside(bundle, ring, head, outside, lines) {
  const kept = await openedAs(noteIn(outside), ring, "The checkpoint from outside");
  const paths = bundle.history.filter((one) => one.size === kept.size).map((one) => one.path.map(unhex));
  if (head && kept.size === head.size) {
    if (!equal(kept.root, head.root)) {
      throw new Wrong("The checkpoint from outside contradicts the bundle: two ledgers of one size were signed.");
    }
    lines.push(["holds", "The checkpoint from outside is that of the bundle."]);
  } else if (!head || kept.size > head.size || !paths.length) {
    lines.push(["open", "The bundle cannot be compared with the checkpoint from outside: ask for one made with it."]);
  } else if (await continued(kept.size, head.size, paths[0], kept.root, head.root)) {
    lines.push(["holds", "The checkpoint from outside is the beginning of the ledger in the bundle."]);
  } else {
    throw new Wrong("The checkpoint from outside contradicts the bundle: its ledger is not the beginning of this one.");
  }
}

async function openedAs(note, ring, name) {
  return opened(note, ring).catch(() => {
    throw new Wrong(`${name} is not signed by a key that is good for its size.`);
  });
}

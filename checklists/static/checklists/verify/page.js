// The readable page of a bundle, made again from its proven parts to be compared: byte for byte what verify.py makes.

import { maybe, ordered, parse } from "./json.js";

const STYLE = `
:root { color-scheme: light dark }
body { font: 1rem/1.5 system-ui, sans-serif; max-width: 46rem; margin: 2rem auto; padding: 0 1rem }
h1 { font-size: 1.4rem } h2 { font-size: 1.05rem; margin: 1.6rem 0 .3rem }
dl { display: grid; grid-template-columns: 11rem 1fr; gap: .15rem 1rem; margin: 0 }
dt { opacity: .75 } dd { margin: 0; overflow-wrap: anywhere; white-space: pre-line } section { break-inside: avoid }
.note { border-left: .25rem solid; padding-left: .8rem }
@media print { body { margin: 0; max-width: none; font-size: 10pt } }
`;
const FOREWORD = "This page is for reading and prints as it is. It proves nothing by itself: verify.py in the same bundle, or the "
  + "clinic's page for checking, says whether it is what the sealed record holds. Thresholds in a protocol are the "
  + "clinic's own; local policy and the judgement of licensed staff come first.";
const HEAD = ["id", "kind", "at", "by", "role", "episode"];

export function page(bundle) {
  const title = escaped(titleOf(bundle));
  return '<!doctype html>\n<html lang="en">\n<meta charset="utf-8">\n'
    + '<meta name="viewport" content="width=device-width">\n'
    + `<title>${title}</title>\n<style>${STYLE}</style>\n<h1>${title}</h1>\n<p class="note">${escaped(FOREWORD)}</p>\n`
    + bundle.entries.map((one) => section(entryOf(one))).join("")
    + "</html>\n";
}

export function titleOf(bundle) {
  const what = bundle.about.kind === "sign_off" ? "one sign-off" : "one episode";
  return `Record of ${what}: ${bundle.about.episode_reference}`;
}

// One entry: what the sealed row says, and what the content says.
export function entryOf(one) {
  const row = parse(one.row);
  const rows = [["Received", row.received_at], ["Entry", row.id]];
  let title = `${words(row.kind)}, ${row.at}`;
  if (one.content === null) {
    rows.push(["Content", `erased: ${one.erased}`]);
  } else {
    const said = parse(one.content);
    title = `${words(said.kind)}, ${said.at}, by ${said.by}`;
    if (maybe(said, "role") !== undefined) rows.push(["Role", words(said.role)]);
    for (const name of ordered(said)) if (!HEAD.includes(name)) rows.push([words(name), plain(said[name])]);
  }
  if (one.signed !== null) {
    const text = parse(one.signed.signature);
    rows.push(["Signed by", by(text.signer, text.meaning, text.shown)]);
    const second = maybe(text, "countersigner");
    if (second !== undefined) rows.push(["Countersigned by", by(second, second.meaning, second.shown)]);
    const evidence = parse(one.signed.evidence);
    for (const name of ordered(evidence)) rows.push([`Shown: ${name.replaceAll("_", " ")}`, plain(evidence[name])]);
  }
  return { title, rows };
}

function section({ title, rows }) {
  const listed = rows.map(([name, value]) => `<dt>${escaped(name)}</dt><dd>${escaped(value)}</dd>\n`).join("");
  return `<section>\n<h2>${escaped(title)}</h2>\n<dl>\n${listed}</dl>\n</section>\n`;
}

// A printed name with its meaning, and how they had shown who they were.
function by(who, meaning, shown) {
  return `${who.name} (${who.reference}, ${plain(who.role).replaceAll("_", " ")}): ${meaning}; shown by ${shown}`;
}

// A value in words; things with parts one a line.
function plain(value) {
  if (value === null || (typeof value === "object" && !Object.keys(value).length)) return "none";
  if (Array.isArray(value)) return value.map(plain).join(isObject(value[0]) ? "\n" : ", ");
  if (typeof value === "boolean") return value ? "yes" : "no";
  if (typeof value === "object") return ordered(value).map((name) => `${words(name)}: ${plain(value[name])}`).join("; ");
  return String(value);
}

function isObject(value) {
  return value !== null && typeof value === "object" && !Array.isArray(value);
}

function escaped(text) {
  const written = { "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#x27;" };
  return text.replace(/[&<>"']/g, (character) => written[character]);
}

function words(name) {
  const text = name.replaceAll("_", " ");
  return text.slice(0, 1).toUpperCase() + text.slice(1);
}

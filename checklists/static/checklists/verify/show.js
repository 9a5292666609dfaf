// The page for checking a bundle. What is chosen is read here, in this page, and goes nowhere: the page's own policy
// forbids every connection.

import { text } from "./bytes.js";
import { checked, verdict } from "./check.js";
import { Wrong } from "./json.js";
import { entryOf, titleOf } from "./page.js";
import { filesOf } from "./zip.js";

const form = document.querySelector("[data-verify]");
const [outcome, sentence, list, record, title, entries] =
  ["outcome", "sentence", "lines", "record", "record-title", "entries"].map((name) => document.getElementById(name));
const WORDS = { holds: "Holds", fails: "Does not hold", open: "Missing", note: "Note" };
const TONES = { holds: "is-good", fails: "is-stop", open: "is-check", note: "quiet" };
const SKILLS = ["Skill", "Shown: skill"]; // the lines of an entry that name one

async function able() {
  try {
    await crypto.subtle.importKey("raw", new Uint8Array(32), { name: "Ed25519" }, false, ["verify"]);
    return new DecompressionStream("deflate-raw") !== null;
  } catch {
    return false;
  }
}

async function check() {
  const [bundle] = form.elements.bundle.files;
  const [outside] = form.elements.checkpoint.files;
  if (!bundle) return;
  let lines;
  let read = null;
  let titles = new Map();
  try {
    const files = await filesOf(new Uint8Array(await bundle.arrayBuffer()), bundle.name);
    ({ lines, bundle: read, titles } = await checked(files, form.elements.key.value.trim(), outside ? await textOf(outside) : ""));
  } catch (error) {
    lines = [["fails", error instanceof Wrong ? error.message : `${bundle.name} cannot be read as a bundle.`]];
  }
  show(lines, read, titles);
}

async function textOf(file) {
  try {
    return text(new Uint8Array(await file.arrayBuffer()));
  } catch {
    throw new Wrong(`${file.name} cannot be read.`);
  }
}

function show(lines, bundle, titles) {
  const found = verdict(lines);
  outcome.dataset.status = found.status;
  sentence.textContent = found.sentence;
  list.replaceChildren(...lines.map(([status, said]) => line(status, said)));
  record.hidden = found.status === "fails" || bundle === null;
  if (!record.hidden) {
    title.textContent = titleOf(bundle);
    entries.replaceChildren(...bundle.entries.map((one) => entry(entryOf(one), titles)));
  }
  outcome.hidden = false;
  sentence.focus();
}

function line(status, said) {
  const item = made("li", "");
  item.dataset.status = status;
  const word = made("b", WORDS[status]);
  word.className = TONES[status];
  item.append(word, made("span", said));
  return item;
}

// page.html must stay byte for byte what it was, and has the skills' keys; here their names stand.
function entry({ title: heading, rows }, titles) {
  const section = made("section", "");
  const facts = made("dl", "");
  for (const [name, value] of rows) {
    facts.append(made("dt", name), made("dd", SKILLS.includes(name) ? titles.get(value) ?? value : value));
  }
  section.append(made("h3", heading), facts);
  return section;
}

function made(name, said) {
  const element = document.createElement(name);
  if (said) element.textContent = said;
  return element;
}

if (await able()) {
  form.addEventListener("change", check);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    check();
  });
  form.querySelector("button").disabled = false;
  check(); // of what was chosen before this script was there
} else {
  document.getElementById("unable").hidden = false;
}

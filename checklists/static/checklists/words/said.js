// The sentences of the core in the reader's language: the twin of checklists/words/sentences.py, over the same list.
//
// The core makes English sentences, and they stay English in the record and between programmes. A page shows `said(sentence)`.

import { fill, gettext, language, pgettext } from "../../clinic/js/gettext.js";
import list from "./sentences.js";

const { sentences, phrases } = list;
const months = phrases.month.join("|");
// What may stand in a place of a sentence; kinds that share a pattern are listed in SAME.
const PATTERNS = {
  date: `\\d{1,2} (?:${months}) \\d{4}`,
  morning: `\\d{1,2} (?:${months})`,
  n: "\\d[\\d,]*",
  number: "[a-z]+|\\d+",
  name: "[^;]+?",
  rung: "[^(),']+?",
  place: "[^,]+",
  why: "[^;:]+?",
  features: "[a-z ,]+",
  titles: "(?:(?!; and \\d+ more\\.|\\. [A-Z]).)+?", // no further than its own sentence
  field: ".{1,80}?",
  word: "[A-Za-z0-9_ -]+",
  quoted: "'.*'|\".*\"",
  amount: "-?\\d[\\d.e+]*(?: .+)?",
  role: "[a-z ]+",
  episode: "\\S+",
  sentence: ".+",
};
const SAME = { day: "date", m: "n", days: "n", stage: "n", stages: "n", other: "quoted" };
PATTERNS.skills = PATTERNS.titles; // titles that are read as the short names of their skills
const kindOf = (name) => SAME[name] ?? name;

const escaped = (text) => text.replace(/[.*+?^${}()|[\]\\/-]/g, "\\$&").replaceAll("\\-", "-");

function form(sentence) {
  const parts = sentence.split(/\{(\w+)\}/);
  const body = parts.map((part, at) => (at % 2 ? `(?<${part}>${PATTERNS[kindOf(part)] ?? ".+?"})` : escaped(part)));
  return { sentence, pattern: new RegExp(`^(?:${body.join("")})$`, "su") };
}

const constants = new Set(sentences);
let forms = null; // made when the first sentence is asked for: who reads English never waits for them

/** The sentences of the list of which a text, as a whole, can have been made, with their parts. */
export function* formsOf(text) {
  forms ??= sentences.filter((sentence) => /\{\w+\}/.test(sentence)).map(form);
  for (const { sentence, pattern } of forms) {
    const parts = pattern.exec(text)?.groups;
    if (parts) yield { sentence, parts };
  }
}

const called = sentences.filter((one) => one.includes("{skills}")).map((one) => one.split("{skills}")[0]); // in English as well
const names = new Map(); // title of a skill → its short name in the reader's language

/** Whoever knows the skills of the protocol says what they are called: `{title, name}` each. */
export function callSkills(skills) {
  for (const { title, name } of skills) names.set(title, name);
  heard.clear();
}

const heard = new Map(); // what was said before: the Floor draws the same sentences at every tap
const MANY = 2_000;

/** A sentence, or several one after the other, in the reader's language; as it stands where it is unknown. */
export function said(text) {
  if (!text || (["en", "en-GB"].includes(language()) && !called.some((head) => text.includes(head)))) return text;
  if (!heard.has(text)) {
    if (heard.size >= MANY) heard.clear();
    heard.set(text, inLanguage(text));
  }
  return heard.get(text);
}

function inLanguage(text) {
  const known = whole(text);
  if (known !== null) return known;
  for (const found of text.matchAll(/[.:;] /g)) {
    const head = whole(text.slice(0, found.index + 1));
    if (head !== null) return `${head} ${said(text.slice(found.index + 2))}`;
  }
  return text;
}

function whole(text) {
  const known = gettext(text);
  if (known !== text) return known;
  if (constants.has(text)) return text;
  const [first] = formsOf(text);
  if (first) return fill(gettext(first.sentence), mapped(first.parts));
  return null;
}

const mapped = (parts) => Object.fromEntries(Object.entries(parts).map(([name, part]) => [name, partOf(name, part)]));

// One part of a sentence in the reader's language, by the kind of its place.
function partOf(name, part) {
  const kind = kindOf(name);
  if (kind === "date" || kind === "morning") {
    const [day, month, ...year] = part.split(" ");
    return [day, pgettext("month", month), ...year].join(" ");
  }
  if (kind === "titles") return apart(part).map(gettext).join("; ");
  if (kind === "skills") return apart(part).map((title) => names.get(title) ?? cut(gettext(title))).join("; ");
  if (kind === "features") return listed(part.split(/, | and /).map(gettext));
  if (kind === "sentence") return said(part);
  return kind === "place" || phrases[kind]?.includes(part) ? gettext(part) : part;
}

function listed(words) {
  if (words.length < 2) return words.join("");
  return fill(gettext("{several} and {last}"), { several: words.slice(0, -1).join(", "), last: words.at(-1) });
}

// Titles between semicolons. A title may have a semicolon of its own: the longest known one counts.
const cut = (title) => title.split(" (")[0].split(";")[0].split(":")[0];

function apart(part) {
  const pieces = part.split("; ");
  const found = [];
  while (pieces.length) {
    for (let many = pieces.length; many > 0; many -= 1) {
      const title = pieces.slice(0, many).join("; ");
      if (many === 1 || names.has(title) || gettext(title) !== title) {
        found.push(title);
        pieces.splice(0, many);
        break;
      }
    }
  }
  return found;
}

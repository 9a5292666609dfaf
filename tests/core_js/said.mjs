// Reads {texts, skills: what they are called} as JSON on standard input, and prints what the Floor says of each: [said in the language of the catalogue, [the
// sentences of the list of which it can have been made]]. Arguments: the module of said.js, the catalogue's.

import { pathToFileURL } from "node:url";

const [said, catalogue] = process.argv.slice(2).map((path) => pathToFileURL(path));
await import(catalogue);
const { callSkills, formsOf, said: say } = await import(said);
let text = "";
for await (const part of process.stdin) text += part;
const { texts, skills } = JSON.parse(text);
callSkills(skills);
const answers = texts.map((one) => [say(one), [...formsOf(one)].map((form) => form.sentence)]);
process.stdout.write(JSON.stringify(answers));

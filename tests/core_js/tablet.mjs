// A tablet without its pages: what its copy of a record (floor/local.js) says of facts as they are recorded. One JSON question on
// standard input, the answer on standard output; tests/core_js/tablet.py starts it.

import { readFileSync, writeSync } from "node:fs";

import { localCore } from "../../checklists/static/checklists/floor/local.js";

const { pack, staff, facts, slow } = JSON.parse(readFileSync(0, "utf-8"));
const core = localCore(pack, staff, () => new Date(Date.now() - slow * 1000));
const judged = core.take(facts);
const said = Object.fromEntries(facts.map((fact, place) => [fact.id, judged[place]]).filter(([, one]) => one));
writeSync(1, JSON.stringify(said));

// The Floor: puts its parts together. Each behaviour is a module of its own that fills the element which names it (data-floor).

import { attempt } from "./attempt.js";
import { clockFace } from "./clockface.js";
import { serverCore } from "./core.js";
import { find } from "./dom.js";
import { endSession } from "./end.js";
import { madeNow } from "./entries.js";
import { fallen } from "./fall.js";
import { guard } from "./guard.js";
import { kneeBars } from "./kneebar.js";
import { log } from "./log.js";
import { net } from "./net.js";
import { results } from "./results.js";
import { safekeeping } from "./safekeeping.js";
import { skillList } from "./skills.js";
import { startCheck } from "./startcheck.js";
import { makeStore, NOTHING_CHOSEN } from "./store.js";
import * as view from "./view.js";
import { makeWords } from "./words.js";

const config = JSON.parse(document.getElementById("floor-config").textContent);
const store = makeStore({
  server: config.state, kept: [], others: [], chosen: NOTHING_CHOSEN, measures: {},
  advised: { skill: null, table: null, asking: false }, net: { kind: "ok" }, said: "", alerts: [], skipped: false,
});
const core = serverCore(config.addresses);

const floor = { config, store, core, words: makeWords(config), record, choose, refresh, advise };
const keeping = safekeeping(floor);
floor.keeping = keeping;

// Record what was seen or done: in the page at once, kept on this device, then sent. One call is one act.
async function record(...facts) {
  if (!view.session(store.get()).open && facts[0].kind !== "struck_out") facts.unshift({ kind: "session_opened" });
  const made = madeNow(facts, config.zone);
  await keeping.take(made);
  const { head, result } = floor.words.fact(made.at(-1));
  store.set({ said: `Recorded: ${head}${result ? `, ${result}` : ""}.` });
  return made;
}

async function refresh() {
  const { kind, state } = await core.state();
  if (kind === "ok") store.set({ server: state });
  await advise();
}

let asked = 0;

// Work the advice out anew for the chosen skill: every rung and help of it at once, so that a tap on support waits for nothing.
async function advise() {
  const { skill } = store.get().chosen;
  if (!skill) return;
  const mine = ++asked;
  store.set({ advised: { ...store.get().advised, asking: true } });
  const table = await core.advise(skill, view.waiting(store.get()));
  if (mine === asked) store.set({ advised: { skill, table, asking: false } });
}

function choose(patch) {
  const before = store.get().chosen;
  store.set({ chosen: { ...before, ...patch } });
  if (patch.skill && patch.skill !== before.skill) advise();
}

const parts = { clockFace, kneeBars, startCheck, skillList, attempt, results, log, net, endSession, fallen };
for (const [name, part] of Object.entries(parts)) part(floor, find(name));
await guard(floor);
await keeping.load();
await refresh();
setInterval(() => document.visibilityState === "visible" && !keeping.busy() && refresh(), 60_000);

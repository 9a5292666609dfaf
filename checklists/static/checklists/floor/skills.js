// The skills to choose from: what was done today, what is next, then what lies ahead; all of them behind one key.

import { fill, gettext } from "../../clinic/js/gettext.js";
import { DONE_BY } from "../core/first.js";
import { said as spoken } from "../words/said.js";
import { ask, button, find, h, key, picture } from "./dom.js";
import { leaveNothing } from "./unrecorded.js";
import * as view from "./view.js";

const SHOWN = 6;
const LEARNING = new Set(["training", "suspended", "lapsed", "open", "blocked"]);

// With what a skill is measured, where that is more than a number: found by its word, without opening one skill after the other.
const TOOLS = { held_s: () => gettext("stopwatch"), steps: () => gettext("step counter"), load_share: () => gettext("two scales") };
const tools = (skill) => skill.measures.map((measure) => TOOLS[measure.key]?.()).filter(Boolean);

export function skillList(floor, root) {
  const { config, store, choose, words } = floor;
  const list = h("div", { class: "plan-list", role: "radiogroup", "aria-labelledby": "h-skill" });
  const measured = [...new Set(config.skills.flatMap(tools))].join(", "); // whoever looks for the scales finds them behind this key
  const change = button(gettext("Change"), () => { document.body.classList.remove("chosen"); list.querySelector("input")?.focus(); }, "act act-soft plan-change", { "aria-label": gettext("Change the skill") });
  root.append(
    h("div", { class: "plan-head" }, h("h2", { class: "legend", id: "h-skill" }, h("span", { class: "tap" }, "1"), gettext("Skill")),
      button([h("span", {}, fill(gettext("All {n} skills"), { n: config.skills.length })), measured && h("small", {}, measured)], all, "act act-soft plan-all"), change),
    list);
  let before = [];
  let drawn = "";
  let marked = null;

  const pick = (skill) => leaveNothing(floor, () => take(skill), mark);

  function take(skill) {
    const given = store.get().server.help[skill] ?? words.skills[skill].help;
    document.body.classList.add("chosen");
    choose({ skill, support: null, help: given, deviations: [], measures: {}, despite: "" });
  }

  function mark() {
    for (const input of list.querySelectorAll("input")) input.checked = input.value === store.get().chosen.skill;
  }

  function plan(state) {
    const next = [view.next(state), ...state.server.next].filter(Boolean).map((step) => step.skill);
    const today = view.facts(state).filter((fact) => fact.entry.kind === "attempt").map((fact) => fact.entry.skill);
    const open = config.skills.map((skill) => skill.key).filter((skill) => LEARNING.has(state.server.skills[skill].status));
    const asked = state.server.check_first.map((line) => DONE_BY.get(line)).filter((skill) => words.skills[skill]);
    const { led } = state.server; // closed to an assistant, to whom what they may repeat is shown first
    const mine = led ? config.skills.map((skill) => skill.key).filter((skill) => !led.includes(skill) && state.server.skills[skill].status !== "not_applicable") : [];
    const stay = before.filter((skill) => LEARNING.has(state.server.skills[skill].status)); // a key keeps its place while it can
    const wanted = [...new Set([state.chosen.skill, next[0], ...asked, ...today.slice(0, 3), ...mine.slice(-4), ...stay, ...next, ...open].filter(Boolean))].slice(0, SHOWN);
    before = wanted;
    return config.skills.map((skill) => skill.key).filter((skill) => wanted.includes(skill));
  }

  // 'Blocked' is what it is for: where its ladder has the bars it is learnt there, and the keys for support say how far.
  function standing({ status, cause }, skill) {
    if (["open", "blocked", "training"].includes(status) && store.get().server.led?.includes(skill)) return gettext("therapist first");
    if (cause) return fill(gettext("{status}: {cause}"), { status: config.words.status[status], cause: config.words.cause[cause] ?? cause });
    return status === "blocked" && words.skills[skill].in_bars ? gettext("only in the bars") : config.words.status[status];
  }

  function face(state, skill, name, small, more = []) {
    const { status } = state.server.skills[skill];
    return key({
      name, value: skill, words: words.skills[skill].name, lead: picture(`mark-${status}`), cls: "tread",
      small: [standing(state.server.skills[skill], skill), spoken(small), ...more].filter(Boolean).join(" · "), checked: state.chosen.skill === skill, onchange: () => pick(skill),
    });
  }

  store.on((state) => {
    const rows = plan(state);
    const now = JSON.stringify(rows.map((skill) => [skill, state.server.skills[skill].status, state.server.skills[skill].cause, state.server.skills[skill].short, standing(state.server.skills[skill], skill)]));
    if (now === drawn && marked === state.chosen.skill) return;
    marked = state.chosen.skill;
    if (now !== drawn) {
      const focused = list.contains(document.activeElement) ? document.activeElement.value : null;
      drawn = now;
      list.replaceChildren(...rows.map((skill) => face(state, skill, "skill", state.server.skills[skill].short)));
      if (focused) list.querySelector(`[value="${focused}"]`)?.focus();
    }
    mark();
  });

  function all() {
    const state = store.get();
    const dialog = ask(gettext("All skills"), h("div", { class: "all-skills" }, config.skills.map((skill) => face(state, skill.key, "all-skills", state.server.skills[skill.key].short, tools(skill)))), { cls: "ask-wide" });
    dialog.addEventListener("change", () => { dialog.close(); find("attempt").querySelector("input")?.focus(); });
  }
}

// The skills to choose from: what was done today, what is next, then what lies ahead; all of them behind one key.

import { fill, gettext } from "../../clinic/js/gettext.js";
import { DONE_BY } from "../core/first.js";
import { said as spoken } from "../words/said.js";
import { ask, dismiss } from "./ask.js";
import { arrange, button, h, key, nextPicture, picture, whenIdle } from "./dom.js";
import { toKeys } from "./look.js";
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
  const change = button(gettext("Change"), () => { document.body.classList.remove("chosen"); nextPicture().then(() => list.querySelector("input")?.focus()); }, "act act-soft plan-change", { "aria-label": gettext("Change the skill") });
  root.append(
    h("div", { class: "plan-head" }, h("h2", { class: "legend", id: "h-skill" }, h("span", { class: "tap" }, "1"), gettext("Skill")),
      button([h("span", {}, fill(gettext("All {n} skills"), { n: config.skills.length })), measured && h("small", {}, measured)], all, "act act-soft plan-all"), change),
    list);
  let before = [];

  const pick = (skill) => leaveNothing(floor, () => take(skill), () => mark());

  function take(skill) {
    const given = store.get().server.help[skill] ?? words.skills[skill].help;
    nextPicture().then(() => document.body.classList.add("chosen")); // the others make room with the picture after its key is seen to be chosen
    choose({ skill, support: null, help: given, deviations: [], measures: {}, despite: "" });
  }

  function mark(keys = list) {
    for (const input of keys.querySelectorAll("input")) input.checked = input.value === store.get().chosen.skill;
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

  // Every key is made once, and anew when what it says has changed.
  const faces = new Map();
  function face(state, skill, { name, onchange, more = [] }) {
    const { status, short } = state.server.skills[skill];
    const small = [standing(state.server.skills[skill], skill), spoken(short), ...more].filter(Boolean).join(" · ");
    const says = `${status} ${small}`;
    const place = `${name} ${skill}`;
    if (faces.get(place)?.says !== says) {
      faces.set(place, { says, key: key({ name, value: skill, words: words.skills[skill].name, lead: picture(`mark-${status}`), cls: "tread", small, onchange }) });
    }
    return faces.get(place).key;
  }

  const faceOfAll = (skill) => face(store.get(), skill.key, { name: "all-skills", more: tools(skill) });

  store.on((state) => {
    const focused = list.contains(document.activeElement) ? document.activeElement : null;
    arrange(list, plan(state).map((skill) => face(state, skill, { name: "skill", onchange: () => pick(skill) })));
    if (focused && focused !== document.activeElement) list.querySelector(`[value="${focused.value}"]`)?.focus();
    mark();
  });

  function all() {
    const skills = h("div", { class: "all-skills coming" }, config.skills.map(faceOfAll));
    mark(skills);
    const dialog = ask(gettext("All skills"), skills, { cls: "ask-wide" });
    nextPicture().then(() => skills.classList.remove("coming")); // the first rows answer the tap
    dialog.addEventListener("click", ({ target: { name, value } }) => {
      if (name !== "all-skills") return; // a tap on the one that is chosen already leads back too
      dialog.addEventListener("close", () => { if (value !== store.get().chosen.skill) pick(value); toKeys(); });
      dismiss(dialog);
    });
  }

  whenIdle(() => config.skills.forEach(faceOfAll)); // most of them before anybody asks
}

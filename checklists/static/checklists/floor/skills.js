// The skills to choose from: what is next today and what was done today, and all of them behind one key.

import { ask, button, find, h, key, picture } from "./dom.js";
import * as view from "./view.js";

const SHOWN = 6;

export function skillList(floor, root) {
  const { config, store, choose, words } = floor;
  const list = h("div", { class: "plan-list", role: "radiogroup", "aria-labelledby": "h-skill" });
  const change = button("Change", () => { document.body.classList.remove("chosen"); list.querySelector("input")?.focus(); }, "act act-soft plan-change");
  root.append(
    h("h2", { id: "h-skill" }, h("span", { class: "tap" }, "1"), "Skill", change),
    list, button(`All ${config.skills.length} skills`, all, "act plan-all"));
  let drawn = "";

  function pick(skill) {
    const given = store.get().server.help[skill] ?? words.skills[skill].help;
    document.body.classList.add("chosen");
    choose({ skill, support: null, help: given, deviations: [], measures: {}, despite: "" });
  }

  function plan(state) {
    const next = state.server.next.map((step) => step.skill);
    const today = view.facts(state).filter((fact) => fact.entry.kind === "attempt").map((fact) => fact.entry.skill);
    const wanted = [...new Set([state.chosen.skill, ...today.slice(0, 3), ...next].filter(Boolean))].slice(0, SHOWN);
    return config.skills.map((skill) => skill.key).filter((skill) => wanted.includes(skill));
  }

  function face(state, skill, name, small) {
    const status = state.server.skills[skill].status;
    return key({
      name, value: skill, words: words.skills[skill].name, lead: picture(`mark-${status}`), cls: "tread",
      small: [config.words.status[status], small].filter(Boolean).join(" · "), checked: state.chosen.skill === skill, onchange: () => pick(skill),
    });
  }

  store.on((state) => {
    const rows = plan(state);
    const now = JSON.stringify([rows, rows.map((skill) => state.server.skills[skill])]);
    if (now !== drawn) {
      const focused = list.contains(document.activeElement) ? document.activeElement.value : null;
      drawn = now;
      list.replaceChildren(...rows.map((skill) => face(state, skill, "skill", short(state.server.skills[skill]))));
      if (focused) list.querySelector(`[value="${focused}"]`)?.focus();
    }
    for (const input of list.querySelectorAll("input")) input.checked = input.value === state.chosen.skill;
  });

  function all() {
    const state = store.get();
    const dialog = ask("All skills", h("div", { class: "all-skills" }, config.skills.map((skill) => face(state, skill.key, "all-skills", short(state.server.skills[skill.key])))), { cls: "ask-wide" });
    dialog.addEventListener("change", () => { dialog.close(); find("attempt").querySelector("input")?.focus(); });
  }
}

// The first reason is what an arm's length leaves room for; the rest stands on the person's page.
const short = (status) => status.short ?? "";

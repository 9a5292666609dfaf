// One attempt: support, help, what was seen, numbers. Nothing is preset for a new skill but the help; what is recorded was tapped.

import { ask, button, h, key, note } from "./dom.js";
import { pads } from "./pads.js";
import * as view from "./view.js";

export function attempt(floor, root) {
  const { config, store, choose, words } = floor;
  const head = h("h1", { id: "h-try" });
  const rungs = h("div", { class: "keys rungs", role: "radiogroup", "aria-label": "Support" });
  const help = h("div", { class: "keys", role: "radiogroup", "aria-label": "Help" });
  const seen = h("div", { class: "keys", role: "group", "aria-label": "Seen" });
  const numbers = h("div", { class: "pads" });
  const block = (label, small, content, cls = "") => h("div", { class: `block ${cls}` }, h("p", { class: "legend" }, label, small ? h("span", { class: "quiet" }, small) : null), content);
  const form = h("div", { class: "try-form" }, head,
    block([h("span", { class: "tap" }, "2"), "Support"], "", rungs),
    block("Help", "as before", help, "help"),
    h("div", { class: "advice", "data-floor-advice": true }),
    block("Seen", "if any", seen, "seen"), numbers);
  const idle = h("div", { class: "held" });
  root.prepend(idle, form);
  let drawn = null;
  let told = "";

  function draw(skill) {
    help.replaceChildren(...config.help.map((each) => key({ name: "help", value: each, words: config.words.Help[each], onchange: () => choose({ help: each, despite: "" }) })));
    drawSeen(skill);
    numbers.replaceChildren(...pads(floor, skill));
    numbers.hidden = !numbers.children.length;
  }

  function tell(skill, said) {
    head.replaceChildren(skill.name, h("small", {}, said.line));
    rungs.replaceChildren(...skill.rungs.map((rung) => {
      const proven = said.proven[rung];
      const beyond = skill.rungs.indexOf(rung) > skill.rungs.indexOf(said.allowed);
      const kind = beyond ? "later" : proven ? "proven" : "next";
      const state = { later: proven ? `not now; ${proven}` : "not yet", proven: `proven ${proven}`, next: "next: allowed now" };
      const hand = words.hand(rung);
      const thick = config.support.indexOf(rung) + 1;
      return key({
        name: "support", value: rung, words: config.words.Support[rung], lead: h("span", { class: "rung-rail" }),
        cls: `rung rung-t${thick} rung-${kind}`, onchange: () => choose({ support: rung, despite: "" }),
        small: [hand ? h("span", {}, hand) : "", h("span", { class: "rung-state" }, state[kind])].filter(Boolean),
      });
    }));
  }

  function drawSeen(skill) {
    const extra = store.get().chosen.deviations.filter((each) => !skill.barred.includes(each));
    const chips = [...skill.barred, ...extra].map((each) => key({ name: "seen", value: each, type: "checkbox", words: deviation(each), onchange: toggle(each) }));
    seen.replaceChildren(...chips, button("Other", () => other(skill), "act act-soft"));
  }

  const deviation = (each) => config.deviations.find((d) => d.key === each)?.name ?? each;
  const toggle = (each) => (event) => {
    const now_ = store.get().chosen.deviations.filter((one) => one !== each);
    choose({ deviations: event.target.checked ? [...now_, each] : now_ });
  };

  function other(skill) {
    const rest = config.deviations.filter((each) => !skill.barred.includes(each.key));
    const dialog = ask("Seen", h("div", { class: "keys" }, rest.map((each) => button(each.name, () => {
      choose({ deviations: [...new Set([...store.get().chosen.deviations, each.key])] });
      drawSeen(skill);
      mark(store.get());
      dialog.close();
    }, "act act-soft"))), { cls: "ask-wide" });
  }

  function mark(state) {
    for (const input of form.querySelectorAll('input[name="support"]')) input.checked = input.value === state.chosen.support;
    for (const input of form.querySelectorAll('input[name="help"]')) input.checked = input.value === state.chosen.help;
    for (const input of seen.querySelectorAll("input")) input.checked = state.chosen.deviations.includes(input.value);
  }

  function wait(state) {
    const unproven = view.knees(state).filter((knee) => knee.mode && !(knee.mode === "walking" && knee.proof === "proven"));
    const free = unproven.find((knee) => knee.mode === "free_swing");
    if (free) return [h("h1", {}, "Seated only"), note("stop", "The knee folds under load", "No step and no standing while free swing is on.", "Before leaving the saddle: set the knee to walking. Then, one hand on a rail, load it and prove that it holds.")];
    if (unproven.length) return [h("h1", {}, "No step yet"), note("check", unproven[0].proof === "proven" ? "The knee is locked" : "The knee is not proven", "Every skill that needs the knee to bend waits until walking mode is proven.", "Do now: tap each step at the top as it is shown.")];
    const first = state.server.next[0];
    const checks = state.server.check_first;
    return [
      h("h1", {}, first ? "Next" : "Choose a skill"),
      first ? note("yours", `${words.skills[first.skill].name}, ${config.words.support[first.support]}${words.hand(first.support) ? ` (${words.hand(first.support)})` : ""}`, first.why, button("Take it up", () => document.querySelector(`[data-floor="skillList"] input[value="${first.skill}"]`)?.click())) : null,
      checks.length ? note("check", "Check first", ...checks) : null,
    ];
  }

  let waited = "";
  store.on((state) => {
    const { skill } = state.chosen;
    root.classList.toggle("choosing", Boolean(skill));
    form.hidden = !skill;
    idle.hidden = Boolean(skill);
    if (!skill) {
      const now_ = JSON.stringify([view.knees(state), state.server.next[0], state.server.check_first]);
      if (now_ !== waited) idle.replaceChildren(...wait(state).filter(Boolean));
      waited = now_;
      drawn = null;
      return;
    }
    if (skill !== drawn) draw(words.skills[skill]);
    const now_ = JSON.stringify([skill, state.server.skills[skill]]);
    if (now_ !== told) {
      const focused = rungs.contains(document.activeElement) ? document.activeElement.value : null;
      tell(words.skills[skill], state.server.skills[skill]);
      if (focused) rungs.querySelector(`[value="${focused}"]`)?.focus();
    }
    [drawn, told] = [skill, now_];
    mark(state);
  });
}

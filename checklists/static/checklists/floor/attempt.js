// One attempt: support, help, what was seen, numbers. Nothing is preset for a new skill but the help; what is recorded was tapped.
// What is tapped stands in the thumb's column (data-floor="attempt"); what is read, and what is seldom tapped, beside it (look.js).

import { fill, gettext } from "../../clinic/js/gettext.js";
import { said as spoken } from "../words/said.js";
import { find, h, key, put } from "./dom.js";
import { look } from "./look.js";

export function attempt(floor, root) {
  const { config, store, choose, words } = floor;
  const rungs = h("div", { class: "keys rungs", role: "radiogroup", "aria-label": gettext("Support") });
  const help = h("div", { class: "keys", role: "radiogroup", "aria-label": gettext("Help") });
  const block = (label, content, cls = "") => h("div", { class: `block ${cls}` }, h("p", { class: "legend" }, label), content);
  const form = h("div", { class: "try-form", hidden: true },
    block([h("span", { class: "tap" }, "2"), gettext("Support")], rungs),
    block(gettext("Help"), help, "help"));
  root.prepend(form);
  help.replaceChildren(...config.help.map((each) => key({
    name: "help", value: each, words: config.words.Help[each], said: fill(gettext("Help: {help}"), { help: config.words.Help[each] }),
    onchange: () => choose({ help: each, despite: "" }),
  })));
  const beside = look(floor, find("look"));
  let drawn = null;
  let marked = null;

  function tell(skill, said) {
    const focused = rungs.contains(document.activeElement) ? document.activeElement.value : null;
    rungs.replaceChildren(...skill.rungs.map((rung) => {
      const proven = said.proven[rung];
      const beyond = skill.rungs.indexOf(rung) > skill.rungs.indexOf(said.allowed);
      const kind = beyond ? "later" : proven ? "proven" : "next";
      const onDay = proven ? fill(gettext("proven {day}"), { day: spoken(proven) }) : "";
      const state = {
        later: proven ? fill(gettext("not now; {proven}"), { proven: onDay }) : gettext("not yet"),
        proven: onDay,
        next: gettext("next: allowed now"),
      };
      const hand = words.hand(rung);
      const thick = config.support.indexOf(rung) + 1;
      return key({
        name: "support", value: rung, words: config.words.Support[rung], lead: h("span", { class: "rung-rail" }),
        cls: `rung rung-t${thick} rung-${kind}`, onchange: () => choose({ support: rung, despite: "" }),
        small: [hand ? h("span", {}, hand) : "", h("span", { class: "rung-state" }, state[kind])].filter(Boolean),
      });
    }));
    if (focused) rungs.querySelector(`[value="${focused}"]`)?.focus();
  }

  function mark({ support, help: given }) {
    for (const input of rungs.querySelectorAll("input")) input.checked = input.value === support;
    for (const input of help.querySelectorAll("input")) input.checked = input.value === given;
  }

  // 'Allowed now' is what the climb allows; where the advice is against it (the knee is not proven), the key says so too. Only
  // the word is changed: a key that is put in anew swallows the tap that is on it.
  function warn({ advised, chosen }) {
    if (advised.skill !== chosen.skill) return;
    for (const word of rungs.querySelectorAll(".rung-next .rung-state")) {
      const given = advised.table?.[word.closest(".key").querySelector("input").value]?.[chosen.help];
      if (given) put(word, given.allowed ? gettext("next: allowed now") : gettext("not now"));
    }
  }

  store.on((state) => {
    const { skill } = state.chosen;
    form.hidden = !skill;
    if (skill) {
      const said = state.server.skills[skill];
      const now = `${skill} ${JSON.stringify(said)}`;
      if (now !== drawn) tell(words.skills[skill], said);
      if (now !== drawn || state.chosen !== marked) mark(state.chosen);
      [drawn, marked] = [now, state.chosen];
      warn(state);
    }
    beside(state);
  });
}

// One attempt: support, help, what was seen, numbers. Nothing is preset for a new skill but the help; what is recorded was tapped.
// What is tapped stands in the thumb's column (data-floor="attempt"); what is read, and what is seldom tapped, beside it (look.js).

import { fill, gettext } from "../../clinic/js/gettext.js";
import { said as spoken } from "../words/said.js";
import { find, h, key, nextPicture, put } from "./dom.js";
import { look } from "./look.js";
import * as view from "./view.js";

const CLIMB = "support_step"; // the core's rule: support comes off step by step
export const LEADS = "assistant_limits"; // the protocol's: what a therapist leads first

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
    name: "help", value: each, words: config.words.Help[each], small: h("span", { class: "help-state" }), said: helpSaid(each),
    onchange: () => choose({ help: each, despite: "" }),
  })));
  const beside = look(floor, find("look"));
  let drawn = null;
  let marked = null;
  let shown = null; // the skill whose keys stand there

  const aimOf = ({ next }, skill) => next.find((step) => step.skill === skill)?.support;

  function tell(skill, said, aim) {
    const focused = rungs.contains(document.activeElement) ? document.activeElement.value : null;
    rungs.replaceChildren(...skill.rungs.map((rung) => {
      const proven = said.proven[rung];
      const beyond = skill.rungs.indexOf(rung) > skill.rungs.indexOf(said.allowed);
      const kind = beyond ? "later" : proven ? "proven" : "next";
      const onDay = proven ? fill(gettext("safe {day}"), { day: spoken(proven) }) : "";
      const state = {
        later: proven ? fill(gettext("not now; {proven}"), { proven: onDay }) : gettext("not yet"),
        proven: onDay,
        next: allowedNow(rung, aim),
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

  function helpSaid(each, word = "") {
    return [fill(gettext("Help: {help}"), { help: config.words.Help[each] }), word].filter(Boolean).join(" ");
  }

  // On each help what it would change: with another one it would be allowed, or counted for the proof.
  function warnOfHelp(state) {
    const given = new Map(view.helpsOf(state));
    const some = [...given.values()].some((one) => one.allowed);
    for (const input of help.querySelectorAll("input")) {
      const { allowed, counted } = given.get(input.value) ?? { allowed: true };
      const word = some && !allowed ? gettext("not now") : counted?.help && !counted.support ? gettext("not counted") : "";
      put(input.closest(".key").querySelector(".help-state"), word);
      input.setAttribute("aria-label", helpSaid(input.value, word));
    }
  }

  // 'Allowed now' is what the climb allows; where the advice is against it (the knee is not proven), the key says so too. A rung
  // that was proven before a break is to be proven once more before the next one. Only the word is changed: a key that is put in
  // anew swallows the tap that is on it.
  function warn(state) {
    const { chosen, server } = state;
    const table = view.tableOf(state);
    if (!table) return;
    const aim = aimOf(server, chosen.skill);
    const { proven } = server.skills[chosen.skill];
    const ladder = words.skills[chosen.skill].rungs;
    for (const word of rungs.querySelectorAll(".rung-next .rung-state, .rung-proven .rung-state")) {
      const { value } = word.closest(".key").querySelector("input");
      const given = table[value]?.[chosen.help];
      const after = table[ladder[ladder.indexOf(value) + 1]]?.[chosen.help];
      if (given) put(word, proven[value] ? again(value, given, after, { proven, aim }) : nextWord(given, value, aim));
    }
  }

  // One support is next, where the core names it; the others that are allowed are only that.
  const allowedNow = (rung, aim) => (aim && aim !== rung ? gettext("allowed now") : gettext("next: allowed now"));

  function nextWord({ allowed, breaks }, rung, aim) {
    if (allowed) return allowedNow(rung, aim);
    return isTheirs(breaks) ? gettext("therapist first") : gettext("not now");
  }

  // Nothing stands against it but who would record it.
  const isTheirs = (breaks) => breaks.every((one) => one.rule === LEADS);

  function again(rung, given, after, { proven, aim }) {
    const day = fill(gettext("safe {day}"), { day: spoken(proven[rung]) });
    if (!given.allowed) return fill(isTheirs(given.breaks) ? gettext("therapist first; {proven}") : gettext("not now; {proven}"), { proven: day });
    return after?.breaks.some((one) => one.rule === CLIMB) ? fill(gettext("{proven}: once more"), { proven: day }) : aim === rung ? fill(gettext("next; {proven}"), { proven: day }) : day;
  }

  function show(state) {
    const { skill } = state.chosen;
    form.hidden = !skill;
    if (skill) {
      const said = state.server.skills[skill];
      const aim = aimOf(state.server, skill);
      const now = `${skill} ${aim} ${JSON.stringify(said)}`;
      if (now !== drawn) tell(words.skills[skill], said, aim);
      if (now !== drawn || state.chosen !== marked) mark(state.chosen);
      [drawn, marked] = [now, state.chosen];
      warn(state);
      warnOfHelp(state);
    }
    shown = skill;
    beside(state);
  }

  // Another skill takes new keys, here and beside: they follow the picture in which its own key is seen to be chosen. Until then
  // the keys of the one before take no tap, which would be counted for the other.
  store.on((state) => {
    if (state.chosen.skill === shown) show(state);
    else nextPicture().then(() => show(store.get()));
  });
  const swallow = (event) => {
    if (store.get().chosen.skill === shown) return;
    event.preventDefault();
    event.stopPropagation();
  };
  for (const keys of [root, find("look")]) keys.addEventListener("click", swallow, { capture: true });
}

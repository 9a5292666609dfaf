// Beside the keys: which skill, the advice (results.js fills it), what was seen, the numbers; and what to do while none is chosen.

import { fill, gettext } from "../../clinic/js/gettext.js";
import { BEFORE, DONE_BY } from "../core/first.js";
import { said as spoken } from "../words/said.js";
import { ask, dismiss } from "./ask.js";
import { button, find, h, key, nextPicture, note, put } from "./dom.js";
import { pads } from "./pads.js";
import { START, toStartCheck } from "./startcheck.js";
import * as view from "./view.js";

/** Lead the focus on to what is tapped next, once the keys of the chosen skill stand there. */
export async function toKeys() {
  await nextPicture();
  const keys = find("attempt");
  (keys.querySelector('input[name="support"]:checked') ?? keys.querySelector("input"))?.focus();
}

// Returns what is called with each new state.
export function look(floor, root) {
  const { config, store, choose, words } = floor;
  const head = h("h1", { id: "h-try" });
  const seen = h("div", { class: "keys", role: "group", "aria-label": gettext("Fault seen") });
  const numbers = h("div", { class: "pads" });
  const why = h("p", { class: "look-why", role: "status", hidden: true });
  const form = h("div", { class: "look-form", hidden: true }, head, why,
    h("div", { class: "advice", "data-floor-advice": true }),
    h("div", { class: "block seen" }, h("p", { class: "legend" }, gettext("Fault seen"), h("span", { class: "quiet" }, gettext("if any"))), seen), numbers);
  const idle = h("div", { class: "held" });
  root.prepend(idle, form);
  let drawn = null;
  let headed = "";
  let waited = "";

  function draw(skill) {
    drawSeen(skill);
    numbers.replaceChildren(...pads(floor, skill));
    numbers.hidden = !numbers.children.length;
  }

  function drawSeen(skill) {
    const extra = store.get().chosen.deviations.filter((each) => !skill.barred.includes(each));
    const chips = [...skill.barred, ...extra].map((each) => key({ name: "seen", value: each, type: "checkbox", words: words.deviation(each), onchange: toggle(each) }));
    seen.replaceChildren(...chips, button(gettext("Other"), () => other(skill), "act act-soft", { "aria-label": gettext("Other things seen") }));
  }

  const toggle = (each) => (event) => {
    const rest = store.get().chosen.deviations.filter((one) => one !== each);
    choose({ deviations: event.target.checked ? [...rest, each] : rest });
  };

  function other(skill) {
    const rest = config.deviations.filter((each) => !skill.barred.includes(each.key));
    const dialog = ask(gettext("Fault seen"), h("div", { class: "keys" }, rest.map((each) => button(each.name, () => {
      choose({ deviations: [...new Set([...store.get().chosen.deviations, each.key])] });
      drawSeen(skill);
      mark(store.get().chosen);
      dismiss(dialog);
    }, "act act-soft"))), { cls: "ask-wide" });
  }

  function mark({ deviations }) {
    for (const input of seen.querySelectorAll("input")) input.checked = deviations.includes(input.value);
  }

  function wait(state) {
    const unproven = view.knees(state).filter((knee) => knee.mode && !(knee.mode === "walking" && knee.proof === "proven"));
    if (unproven.some((knee) => knee.mode === "free_swing")) {
      return [h("h1", {}, gettext("Seated only")), note("stop", gettext("The knee folds under load"),
        gettext("No step and no standing while free swing is on."),
        gettext("Before leaving the saddle: set the knee to walking. Then, one hand on a rail, load it and prove that it holds."))];
    }
    if (unproven.length) {
      return [h("h1", {}, gettext("No step yet")), note("check",
        unproven[0].proof === "proven" ? gettext("The knee is locked") : gettext("The knee is not proven"),
        gettext("Every skill that needs the knee to bend waits until walking mode is proven."),
        gettext("Do now: tap each step of the proof as it is shown."))];
    }
    const { next, check_first: checks } = state.server;
    const first = view.next(state);
    const led = next[0]?.theirs === false ? next[0] : null; // it is not for whoever records here
    const named = (step) => [words.skills[step.skill].name, words.rung(step.support), config.words.help[step.help]].join(", ");
    return [
      h("h1", {}, first ? (led ? gettext("Next, for you") : gettext("Next")) : gettext("Choose a skill")),
      checks.length ? note("check", gettext("Check first"), ...checks.flatMap(toCheck)) : null, // above what it comes before
      led ? note("check", fill(gettext("Next, with a therapist: {step}"), { step: named(led) }), first ? null : gettext("You may repeat any skill that a therapist has led before.")) : null,
      first ? note("yours", named(first), spoken(first.why), button(gettext("Take it up"), () => takeUp(first))) : null,
    ];
  }

  // What is done by trying a skill has its key, as the next step has; so has the start check, where it was passed over.
  function toCheck(line) {
    if (line === BEFORE.get(START)) return [spoken(line), toStartCheck(floor)];
    const skill = DONE_BY.get(line);
    return skill && words.skills[skill] ? [spoken(line), button(fill(gettext("Take up: {skill}"), { skill: words.skills[skill].name }), () => takeUp({ skill, first: [line] }))] : [spoken(line)];
  }

  // Whoever takes up the step that stands there, word for word, takes its support and help with it, where nothing is to be done
  // first; what came of it is still theirs to tap, and where something is, so is the support.
  function takeUp({ skill, support, help, first }) {
    document.querySelector(`[data-floor="skillList"] input[value="${skill}"]`)?.click();
    if (!first?.length) choose({ support, help });
    toKeys();
  }

  // Why it is suspended or blocked stands there as soon as it is tapped, before any support is.
  function tellWhy({ why: reasons }) {
    put(why, reasons.map(spoken).join(" "));
    why.hidden = !reasons.length;
  }

  return function show(state) {
    const { skill } = state.chosen;
    form.hidden = !skill;
    idle.hidden = Boolean(skill);
    root.classList.toggle("choosing", Boolean(skill));
    if (!skill) {
      const now = JSON.stringify([view.knees(state), view.next(state), state.server.next[0], state.server.check_first]);
      if (now !== waited) idle.replaceChildren(...wait(state).filter(Boolean));
      [waited, drawn, headed] = [now, null, ""];
      return;
    }
    if (skill !== drawn) draw(words.skills[skill]);
    const line = state.server.skills[skill].line;
    if (`${skill} ${line}` !== headed) head.replaceChildren(`${words.skills[skill].name} `, h("small", {}, spoken(line)));
    tellWhy(state.server.skills[skill]);
    [drawn, headed] = [skill, `${skill} ${line}`];
    mark(state.chosen);
  };
}

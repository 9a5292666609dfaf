// A fall, or a stumble that was saved. A fall that ended an attempt makes that attempt unsafe, at the same instant.

import { fill, gettext, ngettext } from "../../clinic/js/gettext.js";
import { fallDoFirst, NOT_HELD_BACK } from "../core/core.js";
import { said as spoken } from "../words/said.js";
import { clockTime, now } from "./clock.js";
import { ask, dismiss } from "./ask.js";
import { button, h, key, put } from "./dom.js";
import { rounded, runningNow } from "./pads.js";
import * as view from "./view.js";

const RECENT = 10 * 60_000; // milliseconds

export function fallen(floor, root) {
  root.append(button(gettext("Fall"), () => tell(floor, "fall"), "act act-stop"), button(gettext("Near miss"), () => tell(floor, "near_miss"), "act act-soft"));
  floor.store.on((state) => {
    if (state.taking || state.kept.some((row) => row.early)) return; // the fall itself is not in the facts yet
    for (const { act } of state.follows) act.hidden = view.provenSinceFall(state);
  });
}

// During what it was: `likely` is the skill on the screen, unless its attempt was just struck out; nothing else is filled in.
// `asked` are the skills to choose from: that one, and the last attempt that stands, if it is not long ago.
function during(state) {
  const { skill } = state.chosen;
  const attempts = view.facts(state).filter((fact) => fact.entry.kind === "attempt" && fact.state !== "refused");
  const gone = attempts.find((fact) => fact.entry.skill === skill)?.struck;
  const stands = attempts.find((fact) => !fact.struck && new Date(now()) - Date.parse(fact.entry.at) < RECENT)?.entry.skill;
  return { likely: gone ? null : skill, asked: [...new Set([skill, stands].filter(Boolean))] };
}

function tell(floor, kind) {
  const { config, store, words } = floor;
  const { skill, support, help } = store.get().chosen;
  const { likely, asked } = during(store.get());
  const told = { kind, ...(kind === "fall" ? { injury: null } : {}) };
  let ended = false;
  const open = new Set(kind === "fall" ? ["injury", ...(asked.length && !likely ? ["during"] : [])] : []); // not answered yet
  const save = button("", done, "act act-main");
  function answered(name) {
    open.delete(name);
    save.disabled = open.size > 0;
    put(save, open.has("injury") ? gettext("Choose the injury first") : open.size ? gettext("Choose during what first") : kind === "fall" ? gettext("Record the fall") : gettext("Record the near miss"));
  }
  answered();
  const chips = (name, label, options, onpick) => h("fieldset", { class: "field" }, h("legend", { class: "label" }, label), h("div", { class: "keys" }, options.map(([value, word]) => key({ name, value, words: word, said: fill(gettext("{what}: {answer}"), { what: label, answer: word }), onchange: () => onpick(value) }))));
  const line = (name, label) => h("label", { class: "field" }, h("span", { class: "label" }, label), h("input", { type: "text", maxlength: "400", onchange: (event) => { told[name] = event.target.value.trim(); } }));
  const dialog = ask(kind === "fall" ? gettext("Fall: came to rest on a lower level") : gettext("Near miss: a stumble that was saved"), h("div", { class: "asks" },
    kind === "fall" ? h("p", { class: "quiet" }, gettext("First look after the person, by local policy. Then record.")) : null,
    kind === "fall" ? chips("injury", gettext("Injury"), Object.entries(config.words.injury), (value) => { told.injury = value; answered("injury"); }) : null,
    asked.length ? chips("during", gettext("During"), [...asked.map((each) => [each, words.skills[each].name]), ["", gettext("not during an attempt")]], (value) => { answered("during"); ended = Boolean(support) && value === skill; if (value) told.skill = value; else delete told.skill; }) : null,
    line("circumstances", gettext("What happened (optional)")), line("action", gettext("What was done at once (optional)")), h("p", { class: "acts" }, save)), { cls: "ask-near" });
  if (likely) dialog.querySelector(`input[name="during"][value="${likely}"]`)?.click();

  async function done() {
    dismiss(dialog);
    for (const name of ["circumstances", "action"]) if (!told[name]) delete told[name];
    const { deviations, measures } = store.get().chosen;
    const attempt = { kind: "attempt", skill, support, help, result: "unsafe", deviations, measures: rounded(measures) };
    // what was read and seen went with the attempt that the fall ended; otherwise it waits for its result
    floor.choose({ support: null, despite: "", ...(kind === "fall" && ended ? { deviations: [], measures: {} } : {}) });
    if (ended) runningNow(floor); // a stopwatch that ran through the fall has timed nothing
    const taken = floor.record(...(kind === "fall" && ended ? [attempt, told] : [told]));
    if (kind === "fall") store.set({ follows: [...store.get().follows, after(floor, told.skill)] });
    await taken;
  }
}

const doFirst = (floor, skill) => spoken(fallDoFirst(!skill || floor.words.skills[skill].in_bars));

// What follows a fall, where the eye is: nothing else on the page tells of the review, or of the knee.
function after(floor, skill) {
  const { episode, fall_review_days: days, person, zone } = floor.config;
  const review = ngettext("It is to be reviewed within {n} day.", "It is to be reviewed within {n} days.", days);
  const knee = gettext("Look the knee over and prove it again before anybody stands on it, as local policy says.");
  const held = skill ? fill(gettext("{skill} and all that builds on it: {what}"), { skill: floor.words.skills[skill].name, what: doFirst(floor, skill) }) : doFirst(floor);
  const rest = skill ? spoken(NOT_HELD_BACK) : "";
  const link = h("a", { href: `/people/${episode}/` }, fill(gettext("Fall review, on {name}’s page"), { name: person.name }));
  return { head: fill(gettext("Fall recorded {time}"), { time: clockTime(now(), zone) }), text: h("span", {}, fill(review, { n: days }), " ", link, ". ", [held, rest, knee].filter(Boolean).join(" ")), act: button(gettext("Prove the knee again"), () => floor.proveAgain(), "act prove-anew") };
}

// Advice before the fact, then the result. Against advice the results stay shut until a reason is chosen: the reason is a fact.
// The third tap records; after a safe attempt skill and support stay, so that a repeat is one tap.

import { fill, gettext, ngettext } from "../../clinic/js/gettext.js";
import { said as spoken } from "../words/said.js";
import { LEADS } from "./attempt.js";
import { ask, dismiss } from "./ask.js";
import { button, find, h, key, note, picture, put } from "./dom.js";
import { rounded, runningNow } from "./pads.js";
import { clockTime } from "./clock.js";
import { START, toStartCheck } from "./startcheck.js";
import { undo } from "./undo.js";
import * as view from "./view.js";

const GRAVE = ["critical", "major", "minor"];
const RESULTS = ["safe", "unsafe", "stopped"];
const gravest = (breaks) => [...breaks].sort((a, b) => GRAVE.indexOf(a.severity) - GRAVE.indexOf(b.severity));

export function results(floor, root) {
  const { config, store, choose, words } = floor;
  const plate = find("look").querySelector("[data-floor-advice]");
  const why = h("div", { class: "block why", hidden: true });
  const uncounted = h("small", { class: "res-not" }); // on the key itself: safe, and not counted
  const keys = RESULTS.map((result) => button([h("span", { class: "res-in" }, picture(`mark-${result}`), config.words.Result[result]), ...(result === "safe" ? [" ", uncounted] : [])], () => tap(result), `res res-${result}`, { "data-result": result }));
  const hint = h("p", { class: "quiet small", id: "res-hint" });
  const form = h("div", { class: "res-form", hidden: true }, why, h("div", { class: "block", role: "group", "aria-labelledby": "h-res" },
    h("p", { class: "legend", id: "h-res" }, h("span", { class: "tap" }, "3"), gettext("Result")), h("div", { class: "results" }, keys)));
  const foot = h("div", { class: "res-foot" }, hint);
  root.append(form, foot);
  undo(floor, foot);
  let shown = "";
  let shutNow = null;
  let despite = null;
  let left = null; // the key on which the focus stood
  let [taking, checks, gone] = [0, [], []]; // what is to be checked, and what the last fact took off that list

  async function tap(result) {
    const { skill, support, help, deviations, measures, despite: reason } = store.get().chosen;
    const read = rounded({ ...measures, ...runningNow(floor) });
    choose({ deviations: [], measures: {}, despite: "", ...(result === "safe" && !reason ? {} : { support: null }) }); // against advice: no second one by the same tap
    await floor.record({ kind: "attempt", skill, support, help, result, deviations, measures: read, ...(reason ? { despite: reason } : {}) });
  }

  const helpsAllowed = () => view.helpsOf(store.get()).filter(([, one]) => one.allowed).map(([help]) => config.words.Help[help]).join(", ");

  // Every support says 'not now': why, before one is tapped.
  function shutPlate(breaks) {
    const helps = helpsAllowed();
    return h("div", { role: "status" }, note("check", fill(gettext("Not now: {what}"), { what: spoken(gravest(breaks)[0].do_first) }),
      helps ? h("b", {}, fill(gettext("Allowed with: {helps}"), { helps })) : null, wayTo(breaks)));
  }

  const wayTo = (breaks) => breaks.some(({ rule }) => rule === START) ? h("span", { class: "acts" }, toStartCheck(floor)) : null;

  function against(given, chosen) {
    const [first, ...rest] = gravest(given.breaks);
    const allowed = store.get().server.skills[chosen.skill].allowed;
    const helps = helpsAllowed();
    // Who may do it is no matter of judgement for whoever may not: it is said what came of it, once it has happened.
    const led = given.breaks.some((one) => one.rule === LEADS);
    const back = allowed !== chosen.support && view.tableOf(store.get())?.[allowed]?.[chosen.help]?.allowed;
    plate.replaceChildren(h("div", { class: "advice-warn", role: "alert" },
      note("stop", fill(gettext("Not yet, {skill}: {sentence}"), { skill: words.skills[chosen.skill].name, sentence: spoken(first.sentence) }), h("span", {}, h("b", {}, gettext("Do now:")), " ", spoken(first.do_first)),
        led && config.helps ? h("b", {}, fill(gettext("Fetch {name}."), { name: config.helps.therapist })) : null,
        helps ? h("b", {}, fill(gettext("Allowed here with: {helps}"), { helps })) : null,
        rest.length ? h("span", { class: "also" }, h("b", {}, ngettext("A rule that it breaks too:", "Rules that it breaks too:", rest.length)), " ", rest.map((each) => spoken(each.sentence)).join(" ")) : null, wayTo(given.breaks))));
    const fit = led ? config.reasons.filter(([reason]) => !config.judgements.includes(reason)) : config.reasons;
    const other = button(gettext("Other"), () => otherReason(led), "act act-soft", { "aria-label": gettext("Other reason") });
    why.replaceChildren(
      h("p", { class: "legend" }, led ? gettext("It has happened already, because") : gettext("Or try anyway, because")),
      h("div", { class: "keys", role: "radiogroup", "aria-label": led ? gettext("Why it has happened against advice") : gettext("Reason to try it against advice") },
        fit.map(([reason, word]) => key({ name: "despite", value: reason, words: word, onchange: () => choose({ despite: reason }) })), other),
      back ? button(fill(gettext("Back to: {rung}"), { rung: words.rung(allowed) }), () => { choose({ support: allowed, despite: "" }); find("attempt").querySelector('input[name="support"]:checked')?.focus(); }, "act act-main back") : "");
    despite = null;
  }

  // The one place of an attempt where somebody may type; the field stands behind a key, so that no keyboard comes up unasked.
  function otherReason(led) {
    const typed = h("input", { type: "text", maxlength: "400" });
    const take = () => { dismiss(dialog); choose({ despite: typed.value.trim() }); };
    const dialog = ask(led ? gettext("Why has it happened?") : gettext("Why try it against advice?"), h("form", { class: "asks", method: "dialog", onsubmit: (event) => { event.preventDefault(); take(); } },
      h("label", { class: "field" }, h("span", { class: "label" }, gettext("Another reason")), typed), h("p", { class: "acts" }, button(gettext("Keep this reason"), take, "act act-main"))), { cls: "ask-near" });
  }

  // Go ahead, in green, is said of an attempt that counts. One with more support or help than the proof asks for, or without a
  // number, is allowed all the same: what it counts with is said before it is made.
  function plateOf(lacks, skill) {
    if (!lacks) return note("good", gettext("Go ahead"));
    if (lacks.anew) return note("check", gettext("Allowed; with this the count begins again"));
    const helps = lacks.help ? [config.words.Help[lacks.help]] : [];
    if (lacks.support) return note("yours", fill(gettext("A step on the way; counts only with: {asked}"), { asked: [words.rung(lacks.support), ...helps].join(", ") }));
    return note("check", fill(gettext("Allowed; counts only with: {asked}"), { asked: [...helps, ...open(lacks, skill).map((measure) => measure.name)].join(", ") }));
  }

  const open = (lacks, skill) => words.skills[skill].measures.filter((measure) => lacks.measures.includes(measure.key));

  // A number that is asked for and not taken yet, where the thumb is.
  function unread(lacks, skill) {
    if (!lacks || lacks.support || !lacks.measures.length) return "";
    const numbers = open(lacks, skill).map(({ name, range }) => [name, range].filter(Boolean).join(" ")).join(", ");
    return fill(gettext("Not measured yet: {numbers}."), { numbers });
  }

  const plates = {
    none: () => { const breaks = view.shutAltogether(store.get()); plate.replaceChildren(...(breaks ? [shutPlate(breaks)] : [])); },
    asking: () => plate.replaceChildren(h("p", { class: "quiet", role: "status" }, gettext("Working the advice out …"))),
    missing: () => plate.replaceChildren(h("div", { role: "alert" }, note("check", gettext("No advice: the server does not answer"), gettext("Start check, knee, support and prerequisites are yours to check. What you record is kept and judged later.")))),
    // one line, as high as the room kept for it: the numbers below do not move under a finger (how far it is stands in the head)
    allowed: (given, chosen, lacks) => plate.replaceChildren(h("div", { role: "status" }, plateOf(lacks, chosen.skill))),
    against,
  };

  store.on((state) => {
    const given = view.advice(state);
    form.hidden = !state.chosen.skill;
    const { skill, support, help } = state.chosen;
    const lacks = given.kind === "allowed" ? view.uncounted(state.chosen, floor.copy.counted(state.chosen, given.counted)) : null;
    const now = JSON.stringify([given.kind, given.breaks ?? view.shutAltogether(state), lacks, skill, support, help]);
    put(uncounted, lacks ? gettext("not counted") : "");
    if (now !== shown) {
      plates[given.kind](given, state.chosen, lacks);
      if (given.kind === "against") plate.scrollIntoView({ block: "nearest" });
      why.hidden = given.kind !== "against";
      document.body.classList.toggle("against", given.kind === "against");
      shown = now;
    }
    if (given.kind === "against" && despite !== state.chosen.despite) {
      despite = state.chosen.despite;
      for (const input of why.querySelectorAll("input")) input.checked = input.value === despite;
      why.querySelector(".keys > .act").classList.toggle("chosen-other", Boolean(despite) && !config.reasons.some(([reason]) => reason === despite));
    }
    let shut = state.chosen.skill ? shutBecause(given, state.chosen) : "";
    if (state.taking) shut ||= gettext("A moment: the mark is being taken.");
    const last = view.justTried(state);
    watchChecks(state);
    const asks = shut && !theirs(state) ? shut : "";
    put(hint, [...(state.taking ? [] : [recorded(last, state), checked(last)]), asks].filter(Boolean).join(" ") || unread(lacks, skill));
    if (shut === shutNow) return;
    shutNow = shut;
    if (shut) left = keys.find((each) => each === document.activeElement) ?? left;
    for (const each of keys) each.disabled = Boolean(shut);
    if (!shut && left && document.activeElement === document.body) left.focus(); // a key that is shut lets the focus go
    if (!shut) left = null;
  });

  // Also that this attempt was the last of its stage: the count begins at nought, and asks for something else.
  function recorded(last, { server }) {
    if (!last) return last;
    const { at, result, skill } = last.entry;
    const said = { time: clockTime(at, config.zone), result: config.words.result[result] };
    if (last.uncounted) return fill(gettext("Recorded {time}: {result}, not counted."), said);
    const done = result === "safe" && server.skills[skill].stage_done;
    if (!done) return fill(gettext("Recorded {time}: {result}."), said);
    return fill(gettext("Recorded {time}: {result}. With it stage {stage} of {stages} is done."), { ...said, stage: done[0], stages: done[1] });
  }

  // The list is shorter before the fact stands in the log; what others record meanwhile is none of its doing.
  function watchChecks({ taking: now, server }) {
    if (now && !taking) gone = [];
    const done = checks.filter((line) => !server.check_first.includes(line));
    if (done.length && (now || taking)) gone = done;
    [taking, checks] = [now, server.check_first];
  }

  function checked(last) {
    return last?.entry.result === "safe" && gone.length ? fill(gettext("No longer under “Check first”: {what}."), { what: gone.map((line) => spoken(line).replace(/\.$/, "")).join("; ") }) : "";
  }

  // 'Not now' stands above, for it is a therapist's to lead: no support is asked for below it, though one can be tapped.
  const theirs = (state) => !state.taking && (view.shutAltogether(state) ?? []).some((one) => one.rule === LEADS);

  function shutBecause(given, chosen) {
    if (!chosen.support) return Object.keys(chosen.measures).length ? gettext("Tap a support first; the reading is kept.") : gettext("Tap a support first.");
    if (given.kind === "asking") return gettext("A moment: the advice is being worked out.");
    return given.kind === "against" && !chosen.despite ? gettext("Against advice: choose a reason first.") : "";
  }
}

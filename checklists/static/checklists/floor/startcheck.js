// The start check: each step its own tap, and the last one records it. Attempts warn before it; they are not shut. Where today's
// session was closed, that stands here until somebody begins another.

import { fill, gettext, ngettext, pgettext } from "../../clinic/js/gettext.js";
import { clockTime } from "./clock.js";
import { button, h, key, note, picture, put } from "./dom.js";
import * as view from "./view.js";

export const START = "start_check"; // the protocol's rule

/** The way to the questions from where they are asked for; none for whoever records no attempts. */
export const toStartCheck = ({ config, store }) => config.records_attempts ? button(gettext("Make the start check"), () => store.set({ again: true, skipped: false }), "act act-main") : null;

export function startCheck(floor, root) {
  const { config, record, store } = floor;
  const steps = config.checks.start_of_session;
  let drawn = null; // what stands there: "" nothing, "ask" the questions, or which steps were not good

  async function answer(answers) {
    const ordered = Object.fromEntries(steps.map((step) => [step, answers[step]]));
    await record({ kind: "check", name: "start_of_session", steps: ordered }).finally(() => store.set({ again: false }));
    document.querySelector('[data-floor="skillList"] input')?.focus();
  }

  function draw() {
    const answers = {};
    const count = h("p", { role: "status" }, fill(ngettext("{n} tap; it records the check.", "{n} taps; the last one records it.", steps.length), { n: steps.length }));
    const row = (step) => {
      const tap = (good) => () => {
        answers[step] = good;
        const done = Object.keys(answers).length;
        put(count, fill(gettext("{done} of {n} answered. The last tap records it."), { done, n: steps.length }));
        if (done === steps.length) answer(answers);
      };
      const { head, line } = config.words.start[step];
      const answers_ = [["good", pgettext("of a check", "Good"), "mark-safe"], ["bad", pgettext("of a check", "Not good"), "mark-unsafe"]];
      return h("li", {},
        h("div", {}, h("h2", {}, head), h("p", { class: "quiet" }, line)),
        h("fieldset", { class: "keys" }, h("legend", { class: "unseen" }, head),
          answers_.map(([value, words, mark]) => key({
            name: `start-${step}`, value, words, said: fill(gettext("{what}: {answer}"), { what: head, answer: words }), cls: value, lead: picture(mark), onchange: tap(value === "good"),
          }))));
    };
    root.replaceChildren(
      h("div", { class: "sc-head" }, h("h1", {}, view.session(store.get()).open ? gettext("Start check") : gettext("Start check: begins the session")), count),
      ...(config.helps?.said ? [h("p", { class: "sc-helps small" }, config.helps.said)] : []),
      h("ol", {}, steps.map(row)),
      h("p", { class: "acts" }, button(gettext("Go to the attempts without it"), () => store.set({ skipped: true }), "act act-soft"),
        h("span", { class: "quiet small" }, gettext("Each attempt that is not made seated warns until the check is good."))));
  }

  function notGood(state) {
    const last = view.facts(state).find((fact) => fact.entry.name === "start_of_session" && !fact.struck);
    return Object.entries(last?.entry.steps ?? {}).filter(([, good]) => !good).map(([step]) => step);
  }

  function bad(steps_) {
    root.replaceChildren(
      h("div", { class: "sc-head" }, h("h1", {}, gettext("Start check: not good"))),
      h("div", { role: "alert" }, note("stop", steps_.map((step) => config.words.start[step].head).join(", "), ...steps_.map((step) => config.words.start[step].bad))),
      h("p", { class: "acts" }, button(gettext("Check again"), () => store.set({ again: true }), "act act-main"),
        button(gettext("Go to the attempts"), () => store.set({ skipped: true }), "act act-soft")));
  }

  // At the end of the line: a second tap on "Begin another session" must not meet the key that leaves the start check out.
  function over(at) {
    root.replaceChildren(
      h("div", { class: "sc-head", role: "status" }, h("h1", {}, fill(gettext("Session closed {time}"), { time: clockTime(at, config.zone) }))),
      h("p", { class: "acts sc-over" }, h("a", { class: "act act-main", href: config.addresses.today }, gettext("Today")),
        button(gettext("Begin another session"), () => store.set({ again: true, skipped: false }), "act act-soft")));
  }

  store.on((state) => {
    const { startCheck: done } = view.session(state);
    const closed = state.again ? null : view.closed(state);
    const shown = Boolean(closed) || view.asksStart(state);
    root.hidden = !shown;
    document.body.classList.toggle("starting", shown);
    const failed = done === "bad" && !state.again ? notGood(state) : [];
    const wanted = shown ? closed ?? (failed.join(" ") || "ask") : "";
    if (wanted === drawn) return;
    drawn = wanted;
    if (closed) over(closed);
    else if (wanted === "ask") draw();
    else if (wanted) bad(failed);
  });
}

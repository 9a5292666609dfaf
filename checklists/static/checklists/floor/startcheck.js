// The start check: each step its own tap, and the last one records it. Attempts warn before it; they are not shut.

import { button, h, key, note, picture } from "./dom.js";
import * as view from "./view.js";

export function startCheck(floor, root) {
  const { config, record, store } = floor;
  const steps = config.checks.start_of_session;
  let drawn = false;

  async function answer(answers) {
    const ordered = Object.fromEntries(steps.map((step) => [step, answers[step]]));
    await record({ kind: "check", name: "start_of_session", steps: ordered });
    document.querySelector('[data-floor="skillList"] input')?.focus();
  }

  function draw() {
    const answers = {};
    const count = h("p", { role: "status" }, "Four taps; the last one records it.");
    const row = (step) => {
      const tap = (good) => () => {
        answers[step] = good;
        const done = Object.keys(answers).length;
        count.textContent = `${done} of ${steps.length} answered. The last tap records it.`;
        if (done === steps.length) answer(answers);
      };
      return h("li", {},
        h("div", {}, h("h2", {}, config.words.start[step].head), h("p", { class: "quiet" }, config.words.start[step].line)),
        h("fieldset", { class: "keys" }, h("legend", { class: "unseen" }, config.words.start[step].head),
          key({ name: `start-${step}`, value: "good", words: "Good", cls: "good", lead: picture("mark-safe"), onchange: tap(true) }),
          key({ name: `start-${step}`, value: "bad", words: "Not good", cls: "bad", lead: picture("mark-unsafe"), onchange: tap(false) })));
    };
    root.replaceChildren(
      h("div", { class: "sc-head" }, h("h1", {}, "Start check"), count),
      h("ol", {}, steps.map(row)),
      h("p", { class: "acts" }, button("Go to the attempts without it", () => store.set({ skipped: true }), "act act-soft"),
        h("span", { class: "quiet small" }, "They warn until the check is good.")));
  }

  function bad(state) {
    const last = view.facts(state).find((fact) => fact.entry.name === "start_of_session" && !fact.struck);
    const steps_ = Object.entries(last?.entry.steps ?? {}).filter(([, good]) => !good).map(([step]) => step);
    root.replaceChildren(
      h("div", { class: "sc-head" }, h("h1", {}, "Start check: not good")),
      h("div", { role: "alert" }, note("stop", steps_.map((step) => config.words.start[step].head).join(", "), ...steps_.map((step) => config.words.start[step].bad))),
      h("p", { class: "acts" }, button("Check again", () => { drawn = "good"; draw(); }, "act act-main"),
        button("Go to the attempts", () => store.set({ skipped: true }), "act act-soft")));
  }

  store.on((state) => {
    const { startCheck: done } = view.session(state);
    const shown = !state.skipped && done !== "good";
    root.hidden = !shown;
    document.body.classList.toggle("starting", shown);
    const wanted = shown ? done ?? "none" : false;
    if (wanted === drawn || (drawn === "good" && done === "bad" && shown)) return;
    drawn = wanted;
    if (wanted === "none") draw();
    if (wanted === "bad") bad(state);
  });
}

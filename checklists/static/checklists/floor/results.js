// Advice before the fact, then the result. Against advice the results stay shut until a reason is chosen: the reason is a fact.
// The third tap records; after a safe attempt skill and support stay, so that a repeat is one tap.

import { button, find, h, key, note, picture } from "./dom.js";
import * as view from "./view.js";

const GRAVE = ["critical", "major", "minor"];
const RESULTS = ["safe", "unsafe", "stopped"];

export function results(floor, root) {
  const { config, store, choose, words } = floor;
  const plate = document.querySelector("[data-floor-advice]");
  const why = h("div", { class: "block why" });
  const keys = RESULTS.map((result) => button(h("span", { class: "res-in" }, picture(`mark-${result}`), config.words.Result[result]), () => tap(result), `res res-${result}`, { "data-result": result }));
  const hint = h("p", { class: "quiet small", id: "res-hint" });
  root.append(why, h("div", { class: "block", role: "group", "aria-labelledby": "h-res" },
    h("p", { class: "legend", id: "h-res" }, h("span", { class: "tap" }, "3"), "Result"), h("div", { class: "results" }, keys)), hint);
  let shown = "";

  async function tap(result) {
    const { skill, support, help, deviations, measures, despite } = store.get().chosen;
    const rounded = Object.fromEntries(Object.entries(measures).map(([name, value]) => [name, Math.round(value * 1000) / 1000]));
    choose({ deviations: [], measures: {}, despite: "", ...(result === "safe" ? {} : { support: null }) });
    await floor.record({ kind: "attempt", skill, support, help, result, deviations, measures: rounded, ...(despite ? { despite } : {}) });
  }

  function against(given, chosen) {
    const [first, ...rest] = [...given.breaks].sort((a, b) => GRAVE.indexOf(a.severity) - GRAVE.indexOf(b.severity));
    const allowed = store.get().server.skills[chosen.skill].allowed;
    const back = allowed !== chosen.support && store.get().advised.table?.[allowed]?.[chosen.help]?.allowed;
    plate.replaceChildren(h("div", { class: "advice-warn", role: "alert" },
      note("stop", `Not yet: ${first.sentence}`, h("span", {}, h("b", {}, "Do now: "), first.do_first), rest.length ? h("span", { class: "also" }, h("b", {}, "Also: "), rest.map((each) => each.sentence).join(" ")) : null)));
    const typed = h("input", { type: "text", "aria-label": "Another reason", placeholder: "Another reason", maxlength: "400", onchange: (event) => choose({ despite: event.target.value.trim() }) });
    why.replaceChildren(
      h("p", { class: "legend" }, "Or try anyway, because"),
      h("div", { class: "keys", role: "radiogroup", "aria-label": "Reason to try it against advice" },
        config.reasons.map((reason) => key({ name: "despite", value: reason, words: reason, onchange: () => choose({ despite: reason }) })), typed),
      back ? button(`Back to: ${config.words.support[allowed]}${words.hand(allowed) ? ` (${words.hand(allowed)})` : ""}`, () => { choose({ support: allowed, despite: "" }); find("attempt").querySelector('input[name="support"]:checked')?.focus(); }, "act act-main back") : "");
  }

  const plates = {
    none: () => plate.replaceChildren(),
    asking: () => plate.replaceChildren(h("p", { class: "quiet", role: "status" }, "Working the advice out …")),
    missing: () => plate.replaceChildren(h("div", { role: "alert" }, note("check", "No advice: the server does not answer", "Start check, knee, rung and prerequisites are yours to check. What you record is kept and judged later."))),
    // one line, as high as the room kept for it: the numbers below do not move under a finger (how far it is stands in the head)
    allowed: () => plate.replaceChildren(h("div", { role: "status" }, note("good", "Go ahead"))),
    against,
  };

  store.on((state) => {
    const given = view.advice(state);
    root.hidden = !state.chosen.skill;
    const now = JSON.stringify([given, state.chosen.skill, state.chosen.support, state.chosen.help]);
    if (now !== shown) {
      plates[given.kind](given, state.chosen);
      if (given.kind === "against") plate.scrollIntoView({ block: "nearest" });
      why.hidden = given.kind !== "against";
      document.body.classList.toggle("against", given.kind === "against");
      shown = now;
    }
    for (const input of why.querySelectorAll("input[type=radio]")) input.checked = input.value === state.chosen.despite;
    const shut = shutBecause(given, state.chosen);
    for (const each of keys) each.disabled = Boolean(shut);
    hint.textContent = shut;
  });

  function shutBecause(given, chosen) {
    if (!chosen.support) return "Tap a support first.";
    if (given.kind === "asking") return "A moment: the advice is being worked out.";
    return given.kind === "against" && !chosen.despite ? "Against advice: choose a reason first." : "";
  }
}

// Steps and laps, a tap each, with a step back. A lap closes what was counted since the last one; what is recorded is the whole.

import { fill, gettext } from "../../clinic/js/gettext.js";
import { button, h, put } from "./dom.js";
import { give, pad, shownNumber } from "./pad.js";

const MOST = 999;
const MOST_LAPS = 20;

export function counter(floor, measure) {
  let laps = []; // how many had been counted at the end of each
  let count;
  const told = h("span", { class: "small laps", role: "status" });
  const named = (sign) => ({ "aria-label": `${measure.name} ${sign}` });
  const add = (step) => () => give(floor, measure.key, Math.min(MOST, Math.max(0, (count ?? 0) + step)));
  const one = button("+1", add(1), "act pad-main", named("+1"));
  const five = button("+5", add(5), "act act-soft", named("+5"));
  const back = button("−1", add(-1), "act act-soft", { ...named("−1"), disabled: true });
  const lap = button(gettext("Lap"), () => { laps = [...laps, count]; tell(); }, "act act-soft", { disabled: true, "aria-label": fill(gettext("Lap: {what}"), { what: measure.name }) });

  function tell() {
    const each = laps.map((end, index) => end - (laps[index - 1] ?? 0));
    put(told, laps.length ? fill(gettext("{n} laps: {steps}"), { n: shownNumber(laps.length), steps: each.map((steps) => shownNumber(steps)).join(" · ") }) : "");
    lap.disabled = !count || count === laps.at(-1) || laps.length >= MOST_LAPS;
  }

  const changed = (value) => {
    count = value;
    laps = laps.filter((end) => end <= (value ?? 0)); // a step back over the end of a lap opens it again
    if (value === undefined) laps = [];
    back.disabled = !value;
    one.disabled = five.disabled = value >= MOST;
    tell();
  };
  return pad(floor, measure, [one, five, back, lap, told], { changed });
}

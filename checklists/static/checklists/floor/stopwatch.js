// A stopwatch that moves nothing but its own figures. A lap keeps the time of one stretch; a stretch that is tapped is the reading.

import { fill, gettext, language } from "../../clinic/js/gettext.js";
import { button, h, put } from "./dom.js";
import { give, pad, shownNumber } from "./pad.js";

const TICK_MS = 100;
const MOST_S = 1800; // nobody stands for half an hour: it was forgotten
const MOST_LAPS = 9;

const tenths = (ms) => Math.round(ms / 100) / 10;
const figures = (seconds) => new Intl.NumberFormat(language(), { minimumFractionDigits: 1, maximumFractionDigits: 1, useGrouping: false }).format(seconds);

export function stopwatch(floor, measure) {
  let began = null;
  let lapped = 0;
  let timer;
  const named = (pattern) => fill(pattern, { what: measure.name });
  const toggle = button("", () => (began === null ? start() : stop()), "act pad-main");
  const lap = button(gettext("Lap"), keepLap, "act act-soft", { disabled: true, "aria-label": named(gettext("Lap: {what}")) });
  const laps = h("span", { class: "keys laps" });
  // the running figures are for the eye: read out, they would never stop
  const face = h("b", { class: "watch-face", "aria-hidden": "true", hidden: true });
  const made = pad(floor, measure, [toggle, lap, laps], { changed, running, runs: () => began !== null });
  made.read.after(face);
  worded();

  function worded() {
    const runs = began !== null;
    put(toggle, runs ? gettext("Stop") : gettext("Start"));
    toggle.setAttribute("aria-label", named(runs ? gettext("Stop: {what}") : gettext("Start: {what}")));
    lap.disabled = !runs || laps.childElementCount >= MOST_LAPS;
    face.hidden = !runs;
    made.read.hidden = runs;
  }

  function start() {
    began = performance.now();
    lapped = began;
    laps.replaceChildren();
    timer = setInterval(tick, TICK_MS);
    worded();
    tick();
  }

  function tick() {
    if (!toggle.isConnected) return halt(); // another skill was chosen
    const ms = performance.now() - began;
    put(face, `${figures(Math.floor(ms / 100) / 10)} s`);
    if (ms / 1000 >= MOST_S) stop();
  }

  function halt() {
    clearInterval(timer);
    const seconds = began === null ? undefined : Math.min(MOST_S, tenths(performance.now() - began));
    began = null;
    return seconds;
  }

  function stop() {
    const seconds = halt();
    worded();
    give(floor, measure.key, seconds);
  }

  function keepLap() {
    const at = performance.now();
    const seconds = tenths(at - lapped);
    lapped = at;
    const words = `${shownNumber(seconds, 1)} s`;
    laps.append(button(words, () => { if (began !== null) { halt(); worded(); } give(floor, measure.key, seconds); }, "act act-soft",
      { "aria-label": fill(gettext("{what}, lap {n}: {time}"), { what: measure.name, n: laps.childElementCount + 1, time: words }) }));
    worded();
  }

  function changed(value) {
    if (value === undefined && began === null) laps.replaceChildren();
    worded();
  }

  function running() {
    if (began === null) return undefined;
    const seconds = halt();
    laps.replaceChildren();
    worded();
    return seconds;
  }

  return made;
}

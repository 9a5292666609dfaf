// What every number has: its name, its reading with the range that the protocol asks for, its controls, and a way to clear it.

import { fill, gettext, language } from "../../clinic/js/gettext.js";
import { button, h, put } from "./dom.js";

export const shownNumber = (value, digits = 2) => new Intl.NumberFormat(language(), { maximumFractionDigits: digits }).format(value);

export function give({ store, choose }, name, value) {
  const measures = { ...store.get().chosen.measures };
  if (value === undefined) delete measures[name];
  else measures[name] = value;
  choose({ measures });
}

// Whether a value lies where the protocol wants it; null where it wants nothing.
export function inRange({ low, high }, value) {
  if (value === undefined || (low === null && high === null)) return null;
  return (low === null || value >= low) && (high === null || value <= high);
}

// `changed(value)` is called when the value is another one than before; `running()` gives a measurement under way, and ends it;
// `runs()` says whether one is.
export function pad(floor, measure, controls, { changed = () => {}, running, runs, cls = "" } = {}) {
  const read = h("b", {});
  const verdict = h("span", { class: "pad-verdict small" });
  const clear = button(gettext("Clear"), () => give(floor, measure.key, undefined), "act act-soft pad-clear", { hidden: true, "aria-label": fill(gettext("Clear {what}"), { what: measure.name }) });
  const element = h("div", { class: `pad ${cls}`, role: "group", "aria-label": measure.name },
    h("p", { class: "label" }, measure.name, measure.range ? h("span", { class: "pad-range" }, measure.range) : null),
    h("p", { class: "read", role: "status" }, read, verdict), h("div", { class: "pad-keys" }, controls, clear));
  let before = null;

  function show(value) {
    if (before !== null && before.value === value) return;
    before = { value };
    put(read, value === undefined ? "–" : `${shownNumber(value, measure.places)}${measure.suffix}`);
    const fits = inRange(measure, value);
    put(verdict, { true: gettext("in range"), false: gettext("out of range") }[fits] ?? "");
    element.dataset.fits = String(fits);
    clear.hidden = value === undefined;
    changed(value);
  }

  return { element, show, running, runs, read };
}

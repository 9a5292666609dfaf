// Numbers as optional taps: two scales, a stopwatch, a counter, a tape, the edge under the foot. Only those that the skill asks for.

import { fill, gettext } from "../../clinic/js/gettext.js";
import { counter } from "./counter.js";
import { button, h } from "./dom.js";
import { keypad } from "./keypad.js";
import { give, pad, shownNumber } from "./pad.js";
import { scales } from "./scales.js";
import { stopwatch } from "./stopwatch.js";

const live = new WeakMap(); // the pads of each Floor as they stand now: { name, words, element, read, show(value), running(), runs() }

export function pads(floor, skill) {
  if (!live.has(floor)) floor.store.on((state) => show(live.get(floor), state.chosen.measures));
  const made = skill.measures.map((measure) => ({ name: measure.key, words: measure.name, ...(MADE[measure.key] ?? plain)(floor, measure) }));
  live.set(floor, made);
  show(made, floor.store.get().chosen.measures);
  return made.map(({ element }) => element);
}

function show(made = [], measures) {
  for (const each of made) each.show(measures[each.name]);
}

// What is being measured at this moment: the result that is tapped while a stopwatch runs stops it and takes its time.
export function runningNow(floor) {
  const found = (live.get(floor) ?? []).map(({ name, running }) => [name, running?.()]);
  return Object.fromEntries(found.filter(([, value]) => value !== undefined));
}

// What goes with the next result, in words, as it stands on the pads.
export function readings(floor) {
  const { measures } = floor.store.get().chosen;
  return (live.get(floor) ?? []).flatMap(({ name, words, read, runs }) => {
    if (runs?.()) return [fill(gettext("{what} (the stopwatch runs)"), { what: words })];
    return measures[name] === undefined ? [] : [`${words} ${read.textContent}`];
  });
}

// Numbers as they are recorded.
export const rounded = (measures) => Object.fromEntries(Object.entries(measures).map(([name, value]) => [name, Math.round(value * 1000) / 1000]));

function tape(floor, measure) {
  const fields = [gettext("Prosthetic step, cm"), gettext("Sound step, cm")].map((label) => ({ label, least: 1, most: 200 }));
  const read = () => keypad(gettext("Step lengths"), fields, (mine, other) => give(floor, measure.key, mine / other));
  return pad(floor, measure, button(gettext("Measure"), read, "act act-soft", { "aria-label": fill(gettext("Measure: {what}"), { what: measure.name }) }));
}

function contact(floor, measure) {
  const each = (value) => {
    const words = `${shownNumber(value)} %`;
    return button(words, () => give(floor, measure.key, value), "act act-soft", { "aria-label": `${measure.name}: ${words}` });
  };
  return pad(floor, measure, h("span", { class: "keys" }, [0, 25, 50, 75, 100].map(each)));
}

function plain(floor, measure) {
  const read = () => keypad(measure.name, [{ label: measure.name, least: 0, most: 9999 }], (value) => give(floor, measure.key, value));
  return pad(floor, measure, button(gettext("Key in"), read, "act act-soft", { "aria-label": fill(gettext("Key in: {what}"), { what: measure.name }) }));
}

const MADE = { load_share: scales, step_ratio: tape, held_s: stopwatch, steps: counter, foot_contact: contact };

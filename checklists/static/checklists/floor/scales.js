// Two scales, one foot on each: two sliders for kilograms, and the share that the prosthesis carries, in figures and as a beam
// with the range that the protocol asks for. Where the person's weight is known, one scale tells the other.

import { fill, gettext, language } from "../../clinic/js/gettext.js";
import { button, h, put } from "./dom.js";
import { beam } from "./beam.js";
import { keypad } from "./keypad.js";
import { give, pad, shownNumber } from "./pad.js";

const MOST_KG = 200; // on one foot; a body weight in the record stays below 400
const STEP_KG = 0.5;
const SAME_SHARE = 0.001; // to what a share is rounded when it is recorded

export function scales(floor, measure) {
  const { side, weight } = floor.config;
  const names = side === "both" ? [gettext("Left foot, kg"), gettext("Right foot, kg")] : [gettext("Prosthesis, kg"), gettext("Other foot, kg")];
  const most = weight ? Math.ceil(weight.kg) : MOST_KG;
  const picture = beam(measure, side === "right");
  let values = [null, null];
  let told = [false, false]; // which of the two was read off, not worked out
  let given;
  let before = null; // what stood on the scales when they were emptied

  const rows = names.map((name, index) => row(name, index));
  const keys = button(gettext("Key in"), () => keypad(gettext("Two scales"), names.map((label) => ({ label, least: 0, most: MOST_KG })), (...both) => { told = [true, true]; values = both; settle(); }),
    "act act-soft", { "aria-label": gettext("Key in: two scales") });
  const known = weight ? h("p", { class: "small quiet scale-known" }, fill(gettext("The rest of {kg} kg, weighed {day}, fills in the other foot."), { kg: shownNumber(weight.kg), day: weight.day })) : null;
  const made = pad(floor, measure, [h("div", { class: "scales" }, picture.element, h("div", { class: "scale-row" }, rows.map(({ element }) => element), known)), keys], { changed, cls: "pad-scales" });
  return made;

  function row(name, index) {
    const out = h("output", { class: "scale-kg" }, "–");
    const slider = h("input", { type: "range", min: 0, max: most, step: STEP_KG, value: most / 2, "aria-label": name, class: "scale-slider" });
    const read = () => Number(slider.value);
    slider.addEventListener("input", () => { take(index, read()); show(); });
    slider.addEventListener("change", () => { take(index, read()); settle(); });
    slider.addEventListener("click", () => { if (values[index] === null) { take(index, read()); settle(); } }); // a tap on where it stood
    const by = (step) => () => { take(index, Math.min(most, Math.max(0, (values[index] ?? read()) + step))); settle(); };
    const less = button("−", by(-STEP_KG), "act act-soft", { "aria-label": `${name} − ½` });
    const more = button("+", by(STEP_KG), "act act-soft", { "aria-label": `${name} + ½` });
    return { element: h("div", { class: "scale" }, h("p", { class: "label" }, name), out, h("div", { class: "scale-keys" }, less, slider, more)), out, slider };
  }

  function take(index, kg) {
    values[index] = kg;
    told[index] = true;
    const other = 1 - index;
    if (weight && !told[other]) values[other] = Math.max(0, Math.round((weight.kg - kg) * 10) / 10);
  }

  function share() {
    const [mine, other] = values;
    return mine === null || other === null || mine + other === 0 ? undefined : (100 * mine) / (mine + other);
  }

  function settle() {
    show();
    given = share();
    give(floor, measure.key, given);
  }

  function show() {
    rows.forEach(({ out, slider }, index) => {
      const kg = values[index];
      put(out, kg === null ? "–" : new Intl.NumberFormat(language(), { minimumFractionDigits: 1, maximumFractionDigits: 1 }).format(kg));
      slider.classList.toggle("untouched", kg === null);
      if (kg !== null) slider.value = kg;
      slider.setAttribute("aria-valuetext", kg === null ? gettext("not read yet") : `${shownNumber(kg)} kg`);
    });
    const now = share();
    picture.show(now);
    if (made && now !== undefined) put(made.read, `${shownNumber(now, measure.places)}${measure.suffix}`);
  }

  // Cleared, or taken with an attempt: the scales stand empty again. The share comes back where the attempt is recorded anew
  // with another result; the kilograms that it was read from come with it.
  function changed(value) {
    if (value === undefined && (given !== undefined || values[0] === null)) {
      if (given !== undefined) before = { values, told, given };
      [values, told, given] = [[null, null], [false, false], undefined];
      for (const { slider } of rows) slider.value = most / 2;
    } else if (values[0] === null && before && Math.abs(before.given - value) < SAME_SHARE) {
      ({ values, told, given } = before);
    }
    rows.length && show();
  }
}

// What was measured or seen and no result is tapped for: it would go with the next attempt. Whoever does what loses it is asked first.

import { fill, gettext, ngettext } from "../../clinic/js/gettext.js";
import { ask, dismiss } from "./ask.js";
import { button, h } from "./dom.js";
import { readings, runningNow } from "./pads.js";

function unrecorded(floor) {
  const { skill, deviations } = floor.store.get().chosen;
  return skill ? [...readings(floor), ...deviations.map(floor.words.deviation)] : [];
}

/** Go on where nothing is lost by it, or where it is said to be left out; `back` is called where they stay. */
export function leaveNothing(floor, goOn, back = () => {}) {
  const open = unrecorded(floor);
  if (!open.length) return goOn();
  let left = false;
  const leave = () => {
    left = true;
    runningNow(floor);
    floor.choose({ deviations: [], measures: {} });
    dismiss(dialog);
  };
  const sentence = ngettext("{what} is not recorded: tap a result first.", "{what} are not recorded: tap a result first.", open.length);
  const dialog = ask(gettext("Not recorded yet"), h("div", { class: "asks" },
    h("p", { class: "ask-big" }, fill(sentence, { what: open.join(", ") })),
    h("p", { class: "acts" }, button(gettext("Leave it out"), leave, "act act-stop"))), { cls: "ask-near", close: gettext("Back to it"), closeCls: "act act-main" });
  dialog.addEventListener("close", () => (left ? goOn() : back()));
  return undefined;
}

/** Links that lead to another page, and the page itself when it is closed or loaded anew: there the browser asks. */
export function watchLinks(floor) {
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href]");
    const elsewhere = event.defaultPrevented || event.button || event.ctrlKey || event.metaKey || event.shiftKey;
    if (!link || elsewhere || link.target || link.getAttribute("href").startsWith("#") || !unrecorded(floor).length) return;
    event.preventDefault();
    leaveNothing(floor, () => location.assign(link.href));
  });
  addEventListener("beforeunload", (event) => unrecorded(floor).length && event.preventDefault());
}

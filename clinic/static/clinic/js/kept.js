// A form that was kept is put back into the page's own form, where the page has one for the same address.
import { gettext } from "./gettext.js";

function put(form, name, values) {
  const fields = [...form.elements].filter((field) => field.name === name && field.type !== "hidden" && field.type !== "file");
  let placed = false;
  for (const field of fields) {
    if (field.type === "radio" || field.type === "checkbox") {
      field.checked = values.includes(field.value);
      placed = true;
    } else if (field.tagName === "SELECT") {
      for (const option of field.options) option.selected = values.includes(option.value);
      placed = true;
    } else if (values.length) {
      field.value = values.shift();
      placed = true;
    }
    field.dispatchEvent(new Event("change", { bubbles: true }));
  }
  return placed;
}

export function fillKept() {
  const plate = document.querySelector("[data-kept]");
  if (!plate) return;
  const own = [...document.querySelectorAll("main form[method=post]")].find(
    (form) => new URL(form.action, location.href).pathname + new URL(form.action, location.href).search === plate.dataset.kept);
  if (!own) {
    plate.querySelector("[data-kept-form]").open = true;
    return;
  }
  const kept = new Map();
  for (const [name, value] of new FormData(plate.querySelector("[data-typed]"))) {
    if (name !== "csrfmiddlewaretoken") kept.set(name, [...(kept.get(name) ?? []), value]);
  }
  let placed = 0;
  for (const [name, values] of kept) placed += put(own, name, [...values]) ? 1 : 0;
  if (!placed) return;
  for (const holder of own.querySelectorAll("details")) holder.open = true;
  own.closest("details")?.setAttribute("open", "");
  plate.querySelector("[data-kept-form]").remove();
  plate.querySelector("[data-kept-said]").textContent =
    gettext("You were signed out before it was taken, and nothing was recorded. It stands filled in below: look through it and send it.");
}

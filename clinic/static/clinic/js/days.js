// Beside a field for a day stands the day in words, in the page's language: the browser writes such fields in its own manner, in
// which 03/04 is read in two ways. Without this script the field works as before.

const { lang } = document.documentElement;
const words = new Intl.DateTimeFormat(lang, { dateStyle: "full", timeZone: "UTC" });
const DAYS = 'input[type="date"][data-day]';

function say(field) {
  const day = field.valueAsDate;
  let said = field.nextElementSibling;
  if (!said?.matches("[data-day-said]")) {
    if (!day) return;
    said = document.createElement("output");
    said.className = "field-help";
    said.dataset.daySaid = "";
    said.htmlFor = field.id;
    field.after(said);
  }
  said.textContent = day ? words.format(day) : "";
}

export function sayDays() {
  for (const field of document.querySelectorAll(DAYS)) say(field);
  document.addEventListener("input", ({ target }) => {
    if (target.matches?.(DAYS)) say(target);
  });
}

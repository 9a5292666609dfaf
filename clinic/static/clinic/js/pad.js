// Digits to tap for a PIN, so that no keyboard covers the page. Without this script the tablet's own number keys do.
import { gettext } from "./gettext.js";

for (const pad of document.querySelectorAll("[data-pad]")) {
  const field = document.getElementById(pad.dataset.pad);
  const key = (words, act, label) => {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "act";
    button.textContent = words;
    if (label) button.setAttribute("aria-label", label);
    button.addEventListener("click", act);
    return button;
  };
  const digit = (number) => key(String(number), () => {
    if (field.value.length < field.maxLength) field.value += number;
  });
  pad.replaceChildren(
    ...[1, 2, 3, 4, 5, 6, 7, 8, 9].map(digit),
    key(gettext("Clear"), () => { field.value = ""; }),
    digit(0),
    key("←", () => { field.value = field.value.slice(0, -1); }, gettext("Take the last digit back")),
  );
  pad.hidden = false;
  if (matchMedia("(pointer: coarse)").matches) field.inputMode = "none"; // the digits below stand in for the keyboard
}

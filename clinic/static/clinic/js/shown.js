// A password field marked data-shown gets a key that shows what was typed: long passwords are typed better when seen.
import { fill, gettext } from "./gettext.js";

for (const field of document.querySelectorAll("input[type=password][data-shown]")) {
  const key = document.createElement("button");
  key.type = "button";
  key.className = "act act-soft field-key";
  key.setAttribute("aria-pressed", "false");
  key.textContent = gettext("Show");
  key.addEventListener("click", () => {
    const shown = field.type === "password";
    field.type = shown ? "text" : "password";
    key.textContent = shown ? gettext("Hide") : gettext("Show");
    key.setAttribute("aria-pressed", String(shown));
    field.focus();
  });
  key.setAttribute("aria-label", fill(gettext("Show the password in ‘{field}’"), { field: field.labels[0]?.textContent.trim() ?? "" }));
  field.form.addEventListener("submit", () => { field.type = "password"; });
  const holder = document.createElement("span");
  holder.className = "field-with-key";
  field.before(holder);
  holder.append(field, key);
}

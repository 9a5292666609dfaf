// A password field marked data-shown gets a key that shows what was typed: long passwords are typed better when seen.
for (const field of document.querySelectorAll("input[type=password][data-shown]")) {
  const key = document.createElement("button");
  key.type = "button";
  key.className = "act act-soft field-key";
  key.setAttribute("aria-pressed", "false");
  key.textContent = "Show";
  key.addEventListener("click", () => {
    const shown = field.type === "password";
    field.type = shown ? "text" : "password";
    key.textContent = shown ? "Hide" : "Show";
    key.setAttribute("aria-pressed", String(shown));
    field.focus();
  });
  key.setAttribute("aria-label", `Show the password in ‘${field.labels[0]?.textContent.trim()}’`);
  field.form.addEventListener("submit", () => { field.type = "password"; });
  const holder = document.createElement("span");
  holder.className = "field-with-key";
  field.before(holder);
  holder.append(field, key);
}

// A row of a sheet that may be several things shows the fields of what it is said to be, and sends no others. Without this script it
// shows all of them.

function show(row, kind) {
  for (const part of row.querySelectorAll("[data-of]")) {
    const of = part.dataset.of.split(" ").filter(Boolean);
    part.hidden = of.length > 0 && !of.includes(kind) && !of.includes(kind.split(":")[0]);
    for (const field of part.querySelectorAll("[name]")) field.disabled = part.hidden;
  }
}

for (const select of document.querySelectorAll("[data-row-kind]")) {
  const row = select.closest("[data-row]");
  show(row, select.value);
  select.addEventListener("change", () => show(row, select.value));
}

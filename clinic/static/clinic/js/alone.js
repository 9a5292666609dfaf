// An answer that stands alone ("not known yet") is let go when another is ticked, and lets the others go. Without this script both
// are sent, and refused with the reason.

export function standAlone() {
  document.addEventListener("change", ({ target }) => {
    const alone = target.dataset?.alone?.split(" ");
    if (!alone || !target.checked) return;
    for (const other of target.form.elements) {
      if (other.name === target.name && other !== target && (alone.includes(target.value) || alone.includes(other.value))) other.checked = false;
    }
  });
}

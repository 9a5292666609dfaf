// Two minutes before an unused session ends the page says so, with one key that keeps it (WCAG 2.2, 2.2.1: at least 20 seconds, a simple action).
import { gettext, ngettext, fill } from "./gettext.js";

const WARN = 120; // seconds
let note = null;

function words(seconds) {
  const minutes = Math.max(1, Math.round(seconds / 60));
  return fill(ngettext("Nobody has used this page for a while. You will be signed out in about {n} minute.",
    "Nobody has used this page for a while. You will be signed out in about {n} minutes.", minutes), { n: minutes });
}

function put(address) {
  note = document.createElement("div");
  note.className = "ending no-print";
  note.setAttribute("role", "alert");
  const said = document.createElement("p");
  const act = document.createElement("button");
  act.className = "act act-main";
  act.type = "button";
  act.textContent = gettext("Stay signed in");
  act.addEventListener("click", async () => {
    const answer = await fetch(address, { headers: { Accept: "text/html" } }).catch(() => null);
    if (answer?.ok) away();
  });
  note.append(said, act);
  document.body.append(note);
}

function away() {
  note?.remove();
  note = null;
}

/** What the server said about the session with an answer to a page that asked by itself: seconds, or null. */
export function heardOfEnd(seconds, address) {
  if (seconds === null || document.body.dataset.worksWithoutSignal !== undefined) return;
  if (Number(seconds) > WARN) return away();
  if (!note) put(address);
  const said = words(Number(seconds));
  if (note.firstChild.textContent !== said) note.firstChild.textContent = said;
}

// A page that came from this device's store says so: what stands on it was so then, and the server was not asked.

import { fill, gettext } from "../js/gettext.js";

export function sayAsOf() {
  const [navigation] = performance.getEntriesByType("navigation");
  const kept = navigation?.serverTiming?.find((timing) => timing.name === "kept")?.duration;
  const main = document.getElementById("main");
  if (!kept || !main) return;
  document.body.dataset.fromDevice = "";
  if (main.classList.contains("gym")) return; // the Floor carries its own copy of the record on, and says what is not sent
  const at = new Date(kept).toLocaleTimeString(document.documentElement.lang, { hour: "2-digit", minute: "2-digit" });
  const line = document.createElement("p");
  line.className = "as-of no-print";
  line.setAttribute("role", "status");
  main.prepend(line);
  line.textContent = fill(gettext("From this tablet, as of {time}: the server is not in reach."), { time: at });
}

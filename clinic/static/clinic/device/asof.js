// A page that came from this device's store says so: what stands on it was so then. As soon as the server answers anything, it says
// that instead, and offers the page as it is now.

import { fill, gettext } from "../js/gettext.js";

export const clock = (time) => new Date(time).toLocaleTimeString(document.documentElement.lang, { hour: "2-digit", minute: "2-digit" });

function words(kept, sent, late) {
  const when = fill(gettext("From this tablet, as of {time}."), { time: clock(kept) });
  const why = late ? gettext("The server has not answered yet.") : gettext("The server is not in reach.");
  const twice = sent ? fill(gettext("What you recorded, signed or filled in at {sent} is not shown here yet: do not do it twice."), { sent: clock(sent) }) : "";
  return [when, why, twice].filter(Boolean).join(" ");
}

function offer(line, kept) {
  const again = document.createElement("a");
  again.href = "";
  again.textContent = gettext("Show it as it is now");
  again.addEventListener("click", (event) => {
    event.preventDefault();
    location.reload(); // which the worker takes for the wish to wait (worker/navigations.js)
  });
  line.replaceChildren(`${fill(gettext("From this tablet, as of {time}."), { time: clock(kept) })} ${gettext("The server answers.")} `, again);
}

export function sayAsOf() {
  const [navigation] = performance.getEntriesByType("navigation");
  const told = new Map(navigation?.serverTiming?.map((timing) => [timing.name, timing.duration]));
  const kept = told.get("kept");
  const main = document.getElementById("main");
  if (!kept || !main) return;
  document.body.dataset.fromDevice = "";
  if (main.classList.contains("gym")) return; // the Floor carries its own copy of the record on, and says what is not sent
  const line = document.createElement("p");
  line.className = "as-of no-print";
  line.setAttribute("role", "status");
  main.prepend(line);
  line.textContent = words(kept, told.get("sent"), told.has("late"));
  document.addEventListener("clinic:heard", () => offer(line, kept), { once: true });
}

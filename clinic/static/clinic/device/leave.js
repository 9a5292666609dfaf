// Coming and going on a device that several people use. Whoever signs out takes the key along: with it goes everything that was
// kept for reading. So it does when somebody else signs in, and when the device was revoked. What was recorded and is not sent
// outlives that as sealed copies, which are brought to the server by whoever is signed in next (passed.js).

import { fill, gettext, ngettext } from "../js/gettext.js";
import { REVOKED } from "./call.js";
import { passOn } from "./passed.js";
import { sayPassed } from "./passedwords.js";
import { keepSealingKey } from "./sealing.js";
import { destroy, open, unsealed, whose } from "./vault.js";

const PATIENCE = 3000; // milliseconds: nobody is kept from leaving by a slow store

const atMost = (work) => Promise.race([work, new Promise((resolve) => setTimeout(resolve, PATIENCE))]);

/** Destroy what the key opens. False where somebody would rather stay than lose what cannot be sealed. */
export async function leave() {
  const lost = (await atMost(unsealed().catch(() => 0))) ?? 0;
  const sentence = ngettext(
    "{n} mark is not sent and cannot be sealed: it is lost when you leave now. Leave all the same?",
    "{n} marks are not sent and cannot be sealed: they are lost when you leave now. Leave all the same?",
    lost,
  );
  if (lost && !globalThis.confirm(fill(sentence, { n: lost }))) return false;
  await atMost(destroy().catch(() => {}));
  return true;
}

// Forms by which somebody leaves. The Floor asks more before it hands over (floor/handover.js).
function watchForms() {
  if (document.body.classList.contains("p-floor")) return;
  for (const form of document.querySelectorAll("form[data-leaves]")) {
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      if (await leave()) form.submit();
    });
  }
}

/** Somebody is signed in here: whatever was somebody else's goes, and what they could not send is passed on. */
async function arrive(staff) {
  await keepSealingKey();
  const before = await whose();
  if (before && before !== staff) await open(staff);
  if (document.getElementById("floor-config")) return; // where a page keeps facts itself, it passes them on itself
  sayPassed(await passOn(staff), staff);
}

/** On every page of somebody signed in. */
export function watchLeaving() {
  const { signedIn } = document.body.dataset;
  watchForms();
  addEventListener(REVOKED, async () => {
    await atMost(destroy().catch(() => {}));
    location.replace("/sign-in/"); // which says what became of it
  }, { once: true });
  if (signedIn) arrive(signedIn).catch(() => {}); // no store, or no network: nothing is here, or it stays where it is
}

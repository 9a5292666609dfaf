// The screen stays on while a session is open. The browser lets go of the lock when the page is out of sight: it is taken again
// when the page comes back.

import * as view from "./view.js";

export function keepAwake({ store }) {
  let lock = null;
  let asking = false;
  let wanted = false;

  async function see() {
    if (!wanted) {
      lock?.release().catch(() => {});
      lock = null;
      return;
    }
    if (lock || asking || document.visibilityState !== "visible" || !navigator.wakeLock) return;
    asking = true;
    try {
      const got = await navigator.wakeLock.request("screen");
      got.addEventListener("release", () => { if (lock === got) lock = null; });
      lock = got;
    } catch {
      // a battery that runs low, say: the device decides; it is asked again at the next sight of the page
    } finally {
      asking = false;
    }
    if (!wanted) see(); // closed meanwhile
  }

  store.on((state) => {
    const { open } = view.session(state);
    if (open === wanted) return;
    wanted = open;
    see();
  });
  document.addEventListener("visibilitychange", see);
}

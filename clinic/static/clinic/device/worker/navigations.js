// Pages: the server's answer where it comes within a moment, else the one that this device keeps.

import { dropOld, keepPage, keptPage, mayBeKept } from "../pages.js";

const PATIENCE = 600; // milliseconds; the server's own answer takes less than a tenth of it

const after = (time) => new Promise((resolve) => setTimeout(resolve, time));

export function makePages({ hours, pages }, statics) {
  async function answer(event) {
    const { request } = event;
    const { pathname, search } = new URL(request.url);
    const asked = Date.now();
    // The copy is made before anybody reads the answer; keeping it goes on after the page was answered.
    const network = fetch(request).then((response) => [response, !search && mayBeKept(response) ? response.clone() : null]);
    event.waitUntil(network.then(([, copy]) => copy && keepPage(pathname, copy, asked)).catch(() => {}));
    const fresh = network.then(([response]) => response);
    const kept = search ? Promise.resolve(null) : keptPage(pathname, hours).catch(() => null);
    const late = after(PATIENCE).then(() => kept).then((page) => page ?? fresh);
    try {
      const first = await Promise.race([fresh, late]);
      return first.status < 500 ? first : ((await kept) ?? first);
    } catch {
      return (await kept) ?? statics.page(pages.noSignal);
    }
  }

  return { answer, tidy: () => dropOld(hours).catch(() => {}) };
}

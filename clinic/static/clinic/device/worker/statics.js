// Static files: one cache a version. Older ones stay for a while, since pages that are open, or kept on the device, name their
// files; with the digest of its content in a file's name no two versions of it can be mistaken.

import { after } from "./after.js";

const PREFIX = "files-";
const KEPT = 3; // caches, the present one among them
const AT_ONCE = 6;
const TRIES = 3; // a signal that is weak loses one of two hundred files, and the next page load may be a day away
const PAUSE = 1_000; // milliseconds before the next try, and twice as long before the last
const HASHED = /\.[0-9a-f]{12}\.\w+$/; // with the digest of its content in its name

export function makeStatics({ version, statics, files, pages }) {
  const name = `${PREFIX}${version}`;
  const shown = Object.values(pages);

  // The last `install` may have been a moment ago: a file that has its digest in its name need not be fetched again.
  async function one(cache, address) {
    const hashed = HASHED.test(address);
    const had = hashed ? await caches.match(address) : undefined;
    await cache.put(address, had ?? (await fetched(address, hashed ? "default" : "no-cache")));
  }

  async function fetched(address, how, tries = 1) {
    const response = await fetch(address, { cache: how, credentials: "omit" }).catch(() => null);
    if (response?.status === 200 && !response.redirected) return response;
    if (tries === TRIES) throw new Error(`${address} is not to be had`);
    await after(tries * PAUSE);
    return fetched(address, how, tries + 1);
  }

  // Everything of this version; without one of its files the version is not taken, and the one before goes on.
  async function gather() {
    const cache = await caches.open(name);
    const left = [...files, ...shown];
    const some = async () => {
      while (left.length) await one(cache, left.pop());
    };
    await Promise.all(Array.from({ length: AT_ONCE }, some)).finally(() => { left.length = 0; }); // where one is not to be had, no more are asked for
  }

  // A browser that can looks into the cache by itself, without waking the worker for each of a page's hundred files.
  function shortCut(event) {
    const pattern = globalThis.URLPattern && new URLPattern({ pathname: `${statics}*` });
    const source = files.every((address) => HASHED.test(address)) ? "cache" : { cacheName: name };
    return pattern && event.addRoutes?.({ condition: { urlPattern: pattern, requestMethod: "GET" }, source });
  }

  async function tidy() {
    const old = (await caches.keys()).filter((key) => key.startsWith(PREFIX) && key !== name);
    await Promise.all(old.slice(0, Math.max(0, old.length - KEPT + 1)).map((key) => caches.delete(key)));
  }

  async function stored(request) {
    const cache = await caches.open(name);
    return (await cache.match(request)) ?? (await caches.match(request));
  }

  return {
    gather,
    shortCut,
    tidy,
    answer: async (request) => (await stored(request)) ?? fetch(request),
    // One of the two pages that are nobody's.
    page: async (address) => (await stored(address)) ?? Response.error(),
    isStatic: (path) => path.startsWith(statics),
  };
}

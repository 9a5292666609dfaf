// Static files: one cache a version. Older ones stay for a while, since pages that are open, or kept on the device, name their
// files; with the digest of its content in a file's name no two versions of it can be mistaken.

const PREFIX = "files-";
const KEPT = 3; // caches, the present one among them
const AT_ONCE = 6;
const HASHED = /\.[0-9a-f]{12}\.\w+$/; // with the digest of its content in its name

export function makeStatics({ version, statics, files, pages }) {
  const name = `${PREFIX}${version}`;
  const shown = Object.values(pages);

  // The last `install` may have been a moment ago: a file that has its digest in its name need not be fetched again.
  async function one(cache, address) {
    const hashed = HASHED.test(address);
    const had = hashed ? await caches.match(address) : undefined;
    const response = had ?? (await fetch(address, { cache: hashed ? "default" : "no-cache", credentials: "omit" }));
    if (response.status !== 200 || response.redirected) throw new Error(`${address} is not to be had`);
    await cache.put(address, response);
  }

  // Everything of this version; without one of its files the version is not taken, and the one before goes on.
  async function gather() {
    const cache = await caches.open(name);
    const left = [...files, ...shown];
    const some = async () => {
      while (left.length) await one(cache, left.pop());
    };
    await Promise.all(Array.from({ length: AT_ONCE }, some));
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

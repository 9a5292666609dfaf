// Lets the browser take our worker, which answers while the server is not in reach. One address is a worker's, and no other can
// be made one: the page's policy names this one rule of trusted types, and the rule admits this one text.

const WORKER = "/sw.js";

function admitted(address) {
  if (address !== WORKER) throw new TypeError("there is one worker");
  return address;
}

export async function registerWorker() {
  if (!navigator.serviceWorker) return; // over plain HTTP, say: the pages work while the server does
  const rule = globalThis.trustedTypes?.createPolicy("worker-address", { createScriptURL: admitted });
  try {
    await navigator.serviceWorker.register(rule ? rule.createScriptURL(WORKER) : WORKER, { type: "module", updateViaCache: "none" });
  } catch {
    // no room, or a browser that takes no module as a worker: the pages work while the server does
  }
}

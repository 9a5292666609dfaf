// Sends what is kept, in batches, until the server has it. A failed send, an expired session or an answer that is not the
// server's own keeps everything as it is: shown, and tried again.

const BATCH = 100;
const LONGEST_WAIT = 30_000;

// For whom this page speaks: were somebody else signed in by now, the server takes nothing from it under their name.
const speaks = JSON.parse(document.getElementById("floor-config")?.textContent ?? "{}").staff?.reference;

function token() {
  const cookie = document.cookie.split("; ").find((part) => /^(__Host-)?csrftoken=/.test(part)); // `__Host-` under HTTPS
  return cookie ? decodeURIComponent(cookie.slice(cookie.indexOf("=") + 1)) : document.body.dataset.csrf;
}

// One request to the server. `kind`: ok · signed_out · refused (it will never be taken as it is) · unreachable.
export async function call(address, body) {
  let response;
  try {
    response = await fetch(address, {
      method: body === undefined ? "GET" : "POST",
      redirect: "manual", // a redirect is the sign-in page: no answer about any fact
      headers: {
        Accept: "application/json", "Content-Type": "application/json", "X-CSRFToken": token(), ...(speaks ? { "X-Speaks-For": speaks } : {}),
      },
      body: body === undefined ? undefined : JSON.stringify(body),
    });
  } catch {
    return { kind: "unreachable" };
  }
  if (response.type === "opaqueredirect" || response.status === 401) return { kind: "signed_out" };
  let answer;
  try {
    answer = await response.json();
  } catch {
    return { kind: response.status === 403 ? "signed_out" : "unreachable" };
  }
  if (response.ok) return { kind: "ok", answer };
  const sentence = answer.detail ?? answer.title ?? "The server did not take it.";
  if (response.status >= 500 || response.status === 429) return { kind: "unreachable", sentence };
  return { kind: response.status === 403 && answer.code !== "denied" ? "signed_out" : "refused", sentence };
}

// `next()` gives the kept rows still to be sent; `settle(rows, verdicts)` and `failed(kind, sentence, rows)` say how it went.
export function makeSender({ next, settle, failed }) {
  let busy = false;
  let asked = false;
  let wait = 1000;
  let timer;

  async function round(size) {
    const rows = next().slice(0, size);
    if (!rows.length) return false;
    const { kind, answer, sentence } = await call(rows[0].address, { entries: rows.map((row) => row.entry) });
    if (kind === "ok" && Array.isArray(answer.verdicts)) {
      await settle(rows, answer);
      wait = 1000;
      return true;
    }
    if (kind === "refused" && rows.length > 1) return round(1); // one of them spoils the batch: send them one by one
    await failed(kind === "ok" ? "unreachable" : kind, sentence, rows);
    if (kind === "refused") return true;
    timer = setTimeout(kick, wait);
    wait = Math.min(wait * 2, LONGEST_WAIT);
    return false;
  }

  async function kick() {
    clearTimeout(timer);
    asked = true;
    if (busy) return;
    busy = true;
    try {
      while (asked) {
        asked = false;
        while (await round(BATCH));
      }
    } finally {
      busy = false;
    }
  }

  addEventListener("online", kick);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && kick());
  return { kick, busy: () => busy };
}

// One request of a page to its server. Every answer also says what time it is there, and whether this device was revoked.

const listeners = [];

/** `listener(serverNow, sent, got)` at every answer that tells the server's time; the device's own times in milliseconds. */
export const heard = (listener) => listeners.push(listener);

/** Told on the window when the server says that this device is a revoked one. */
export const REVOKED = "device-revoked";

// For whom this page speaks: were somebody else signed in by now, the server takes nothing from it under their name.
const speaks = () => globalThis.document?.body?.dataset.signedIn || null;

function token() {
  const cookie = document.cookie.split("; ").find((part) => /^(__Host-)?csrftoken=/.test(part)); // `__Host-` under HTTPS
  return cookie ? decodeURIComponent(cookie.slice(cookie.indexOf("=") + 1)) : document.body.dataset.csrf;
}

function listen(response, sent) {
  const now = response.headers.get("X-Now");
  if (now) for (const listener of listeners) listener(now, sent, Date.now());
  if (response.headers.get("X-Device") === "revoked") globalThis.dispatchEvent?.(new Event(REVOKED));
}

/** `kind`: ok · signed_out · refused (it will never be taken as it is) · unreachable. */
export async function call(address, body) {
  let response;
  const sent = Date.now();
  try {
    response = await fetch(address, {
      method: body === undefined ? "GET" : "POST",
      redirect: "manual", // a redirect is the sign-in page: no answer about any fact
      headers: {
        Accept: "application/json", "Content-Type": "application/json", "X-CSRFToken": token(), ...(speaks() ? { "X-Speaks-For": speaks() } : {}),
      },
      body: body === undefined ? undefined : JSON.stringify(body),
    });
  } catch {
    return { kind: "unreachable" };
  }
  listen(response, sent);
  if (response.type === "opaqueredirect" || response.status === 401) return { kind: "signed_out" };
  if (response.status === 204) return { kind: "ok", answer: null };
  let answer;
  try {
    answer = await response.json();
  } catch {
    return { kind: response.status === 403 ? "signed_out" : "unreachable" };
  }
  if (response.ok) return { kind: "ok", answer };
  const sentence = answer.detail ?? answer.title;
  if (response.status >= 500 || response.status === 429) return { kind: "unreachable", sentence };
  return { kind: response.status === 403 && answer.code !== "denied" ? "signed_out" : "refused", sentence };
}

// Passkeys. A form marked data-passkey asks for one in place of what it has fields for; one marked data-new-passkey has
// the browser make one before it is sent. The address in the mark gives the question; the answer goes into a hidden field.
import { fill, gettext } from "./gettext.js";

const bytes = (text) => Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (one) => one.charCodeAt(0));
const text = (buffer) => btoa(String.fromCharCode(...new Uint8Array(buffer)))
  .replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
const named = (list) => (list ?? []).map((one) => ({ ...one, id: bytes(one.id) }));

async function question(form, address) {
  const answer = await fetch(address, {
    method: "POST",
    headers: { "X-CSRFToken": form.elements.csrfmiddlewaretoken.value, Accept: "application/json" },
    redirect: "error",
  });
  if (!answer.ok) throw new Error(fill(gettext("The server did not answer ({status})."), { status: answer.status }));
  const { publicKey } = await answer.json();
  return { ...publicKey, challenge: bytes(publicKey.challenge) };
}

function told(credential) {
  const said = credential.response;
  const fields = ["clientDataJSON", "attestationObject", "authenticatorData", "signature", "userHandle"];
  const response = Object.fromEntries(fields.filter((name) => said[name]).map((name) => [name, text(said[name])]));
  return JSON.stringify({ id: credential.id, rawId: text(credential.rawId), type: credential.type, response, clientExtensionResults: {} });
}

async function used(form) {
  const asked = await question(form, form.dataset.passkey);
  const publicKey = { ...asked, allowCredentials: named(asked.allowCredentials) };
  form.elements.passkey.value = told(await navigator.credentials.get({ publicKey }));
}

async function made(form) {
  const asked = await question(form, form.dataset.newPasskey);
  const publicKey = { ...asked, user: { ...asked.user, id: bytes(asked.user.id) }, excludeCredentials: named(asked.excludeCredentials) };
  form.elements.made.value = told(await navigator.credentials.create({ publicKey }));
}

function said(form, fault) {
  const place = form.querySelector("[data-passkey-said]");
  place.textContent = fault.name === "NotAllowedError" ? gettext("The passkey was not used. Try again.") : fault.message;
}

async function go(form, first) {
  try {
    await first(form);
  } catch (fault) {
    said(form, fault);
    return;
  }
  form.noValidate = true;
  form.requestSubmit();
}

if (window.PublicKeyCredential) {
  for (const key of document.querySelectorAll("[data-use-passkey]")) {
    key.hidden = false;
    key.addEventListener("click", () => go(key.form, used));
  }
  for (const form of document.querySelectorAll("form[data-new-passkey]")) {
    form.addEventListener("submit", (event) => {
      if (form.elements.made.value) return;
      event.preventDefault();
      go(form, made);
    });
  }
}

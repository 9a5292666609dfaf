// The session has ended: cover the page, so that nobody reads it over a shoulder. What stands typed in a form stays in it.
import { gettext } from "./gettext.js";

let covered = false;

function typed() {
  return [...document.querySelectorAll("main form[method=post]")].find((form) =>
    [...form.elements].some((field) => field.name && !["hidden", "password", "submit"].includes(field.type) && field.value !== field.defaultValue && field.type !== "radio" && field.type !== "checkbox" || field.checked !== field.defaultChecked));
}

export function coverPage() {
  if (covered || document.body.dataset.worksWithoutSignal !== undefined) return;
  covered = true;
  const form = typed();
  const cover = document.createElement("dialog");
  cover.className = "cover";
  cover.setAttribute("aria-labelledby", "cover-head");
  const head = document.createElement("h2");
  head.id = "cover-head";
  head.textContent = gettext("You are signed out");
  const why = document.createElement("p");
  why.textContent = form
    ? gettext("Nobody used this page for a while. What you typed is still here: sign in again and it comes back, not yet sent.")
    : gettext("Nobody used this page for a while. Sign in again to go on where you were.");
  const act = document.createElement("button");
  act.className = "act act-main";
  act.textContent = gettext("Sign in");
  act.addEventListener("click", () => {
    // A form with something in it is posted: the server keeps it for its author and asks who it is. It records nothing.
    if (form) { form.noValidate = true; form.submit(); } else location.reload();
  });
  cover.append(head, why, act);
  cover.addEventListener("cancel", (event) => event.preventDefault());
  document.body.append(cover);
  cover.showModal();
}

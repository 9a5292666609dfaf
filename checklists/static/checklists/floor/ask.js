// A question in front of the page. What stands behind a modal dialog is inert, and for that the browser works out anew how
// every element of the page looks, when it opens and when it closes: longer than the tap may take to be answered. So a tap
// is answered first: the question is seen, or is gone, in the next picture, and the page behind follows after it.

import { gettext } from "../../clinic/js/gettext.js";
import { button, h, nextPicture } from "./dom.js";
import { uuid } from "./uuid.js";

// Open a dialog made for one question; it is taken out of the page when it closes. One that has to be answered is modal at once.
// The focus stands on its question first: on a field it would call the system's keyboard up.
export function ask(title, content, { closable = true, cls = "", close = gettext("Cancel"), closeCls = "act act-soft" } = {}) {
  const id = `ask-${uuid()}`;
  const dialog = h("dialog", { class: `ask ${cls}`, "aria-labelledby": id }, h("h2", { id, tabindex: "-1", autofocus: true }, title), content);
  dialog.addEventListener("close", () => dialog.remove());
  if (closable) dialog.append(h("p", { class: "acts ask-close" }, button(close, () => dismiss(dialog), closeCls)));
  else dialog.addEventListener("cancel", (event) => event.preventDefault());
  document.body.append(dialog);
  if (closable) {
    dialog.open = true; // floor-log.css: until it is modal it covers what lies behind it
    const early = ({ key }) => { if (key === "Escape") dismiss(dialog); }; // which only a modal one hears by itself
    document.addEventListener("keydown", early);
    nextPicture().then(() => { document.removeEventListener("keydown", early); dialog.open = false; dialog.showModal(); });
  } else {
    dialog.showModal();
  }
  return dialog;
}

/** Answered: out of sight with the next picture, and closed after it, with what `close` then says to those who listen. Until
 * it is closed, which can be waited for, nothing behind a modal one can be tapped. */
export function dismiss(dialog, answer) {
  dialog.hidden = true;
  return nextPicture().then(() => dialog.close(answer));
}

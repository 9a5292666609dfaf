// The words of the scripts in the reader's language. A page whose language is not English loads that language's catalogue
// (clinic/static/clinic/words/, made by `manage.py words`) as a module before every other script: it leaves itself at
// `globalThis.words`. Without one, in a worker and in Node the English text stands, which is also the key.
//
//   gettext("Saved")    pgettext("of a knee", "Locked")    fill(ngettext("{n} mark", "{n} marks", n), {n})

const ENGLISH = { language: "en-GB", plural: (n) => Number(n !== 1), texts: {}, counted: {} };
const SEPARATOR = "\u0004"; // between context and text, as in gettext's own files

const catalogue = () => globalThis.words ?? ENGLISH;

const own = (table, key) => (Object.hasOwn(table, key) ? table[key] : undefined);

/** The tag of the language that the catalogue speaks: for Intl. */
export const language = () => catalogue().language;

/** A text in the reader's language; English where the catalogue has none. */
export const gettext = (text) => own(catalogue().texts, text) ?? text;

/** The same for a text that means different things in different places. */
export const pgettext = (context, text) => own(catalogue().texts, context + SEPARATOR + text) ?? text;

/** The form for `n` things. */
export function ngettext(one, many, n) {
  const forms = own(catalogue().counted, one) ?? [one, many];
  return forms[catalogue().plural(n)] ?? forms[forms.length - 1];
}

/** Put values into `{name}` places; a name without a value stays as it is written, so that it is seen. */
export const fill = (text, values) =>
  text.replace(/\{(\w+)\}/g, (place, name) => (Object.hasOwn(values, name) ? String(values[name]) : place));

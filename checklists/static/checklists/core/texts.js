// Texts as characters (code points), where JavaScript counts halves of them: length, order, and how a refusal quotes one.

const ASCII = /^[\x00-\x7f]*$/;
const LONE = /\p{Surrogate}/u; // in this mode a pair is one character, so that only a half of one matches
const HIDDEN = /[\p{C}\p{Zl}\p{Zp}\p{Zs}\\]/u;

export const isAscii = (text) => ASCII.test(text);

// Whether a text holds half of a character, which UTF-8 cannot write.
export const hasLoneSurrogate = (text) => LONE.test(text);

// The number of characters.
export function lengthOf(text) {
  return isAscii(text) ? text.length : [...text].length;
}

// The first characters of a text.
export function cut(text, most) {
  return isAscii(text) ? text.slice(0, most) : [...text].slice(0, most).join("");
}

// The order of texts by their characters: -1, 0 or 1. UTF-16 orders those beyond U+FFFF before some that come first.
export function compareTexts(a, b) {
  if (a === b) return 0;
  if (isAscii(a) || isAscii(b)) return a < b ? -1 : 1;
  const [left, right] = [[...a], [...b]];
  for (let i = 0; i < left.length && i < right.length; i += 1) {
    const difference = left[i].codePointAt(0) - right[i].codePointAt(0);
    if (difference) return difference < 0 ? -1 : 1;
  }
  return left.length < right.length ? -1 : 1;
}

const SHORT = { "\n": "\\n", "\r": "\\r", "\t": "\\t", "\\": "\\\\" };

// A text in quotation marks, with everything in it visible: 'skill', "it's", 'a\nb'.
export function repr(text) {
  const mark = text.includes("'") && !text.includes('"') ? '"' : "'";
  let written = "";
  for (const one of text) {
    if (one === mark) written += `\\${one}`;
    else written += one !== " " && HIDDEN.test(one) ? hidden(one) : one;
  }
  return mark + written + mark;
}

function hidden(one) {
  if (SHORT[one]) return SHORT[one];
  const code = one.codePointAt(0);
  const hex = code.toString(16);
  if (code <= 0xff) return `\\x${hex.padStart(2, "0")}`;
  return code <= 0xffff ? `\\u${hex.padStart(4, "0")}` : `\\U${hex.padStart(8, "0")}`;
}

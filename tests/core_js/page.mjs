// The page in which a browser answers what tests/core_js/deck.py deals.

import { compared } from "./compared.mjs";

let answers = null;

/** Begins with these and returns at once: the page works on them while the core in Python works on the same. */
globalThis.begin = (dealt) => {
  answers = new Promise((done) => {
    setTimeout(() => done(dealt.map(compared)));
  });
};

/** What came out of the last ones. */
globalThis.answered = () => answers;
document.title = "ready";

// The page in which a browser answers what tests/core_js/deck.py deals.

import { compared } from "./compared.mjs";

globalThis.answers = (dealt) => dealt.map(compared);
document.title = "ready";

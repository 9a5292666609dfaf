// Sends what is kept, in batches, until the server has it. A failed send, an expired session or an answer that is not the
// server's own keeps everything as it is: shown, and tried again.

import { call } from "../../clinic/device/call.js";
import { noteFactsSent } from "../../clinic/device/pages.js";

export { call };

const BATCH = 100;
const LONGEST_WAIT = 30_000;

// Facts of one record, and what this device had judged of them.
function posted(rows) {
  const judged = Object.fromEntries(rows.filter((row) => row.judged).map((row) => [row.id, row.judged]));
  return { entries: rows.map((row) => row.entry), ...(Object.keys(judged).length ? { judged } : {}) };
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
    const { kind, answer, sentence } = await call(rows[0].address, posted(rows));
    if (kind === "ok" && Array.isArray(answer?.verdicts)) {
      await noteFactsSent().catch(() => {}); // a page that is kept from before shall not be taken for the present one
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

// The time on the wall, by the server's clock.

import { clockTime, now } from "./clock.js";

export function clockFace({ config }, root) {
  const tell = () => { root.textContent = clockTime(now(), config.zone); };
  tell();
  setInterval(tell, 5_000);
}

// What every page does for who is signed in: the tally of open alerts, the cover when the session has ended, the kept form, the watch.
import { watchAlerts } from "./tally.js";
import { fillKept } from "./kept.js";
import { watchServer } from "./watch.js";

watchAlerts();
fillKept();
watchServer();

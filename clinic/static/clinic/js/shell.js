// What every page does for who is signed in: the tally of open alerts, the cover when the session has ended, the kept form, the watch,
// days in words, answers that stand alone; and what becomes of this device's store when somebody else comes or they go.
import { sayAsOf } from "../device/asof.js";
import { watchLeaving } from "../device/leave.js";
import { registerWorker } from "../device/register.js";
import { standAlone } from "./alone.js";
import { watchAlerts } from "./tally.js";
import { sayDays } from "./days.js";
import { fillKept } from "./kept.js";
import { watchServer } from "./watch.js";

watchAlerts();
fillKept();
watchServer();
sayDays();
standAlone();
watchLeaving();
sayAsOf();
registerWorker();

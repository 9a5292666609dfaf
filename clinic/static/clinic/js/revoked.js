// The door of a device that a lead has revoked: nothing that was kept for reading stays on it.
import { destroy } from "../device/vault.js";

await destroy().catch(() => {});
document.documentElement.dataset.emptied = "";

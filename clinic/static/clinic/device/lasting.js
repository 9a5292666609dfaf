// Whether what this device keeps stays when its disk is full. A browser promises it to an app that is installed, or much used,
// and clears the store of any other when it needs room.

/** Ask for the promise: true, false, or null where this browser knows no such thing. */
export async function lasting() {
  try {
    return (await navigator.storage?.persist?.()) ?? null;
  } catch {
    return null;
  }
}

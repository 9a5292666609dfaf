// What was recorded and is not yet in the server's hands: kept in IndexedDB, by fact, with whose it is. A fact leaves only
// when the server has said what became of it.

const NAME = "floor";
const STORE = "kept";

function opened() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => request.result.createObjectStore(STORE, { keyPath: "id" });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

async function within(mode, work) {
  const database = await opened();
  try {
    return await new Promise((resolve, reject) => {
      const transaction = database.transaction(STORE, mode, { durability: "strict" });
      const request = work(transaction.objectStore(STORE));
      transaction.oncomplete = () => resolve(request?.result);
      transaction.onerror = () => reject(transaction.error);
      transaction.onabort = () => reject(transaction.error);
    });
  } finally {
    database.close();
  }
}

// { id, entry, staff, staffName, episode, person, address, state: waiting | refused, error }
export const keep = (rows) => within("readwrite", (store) => rows.map((row) => store.put(row)).at(-1));
export const letGo = (ids) => within("readwrite", (store) => ids.map((id) => store.delete(id)).at(-1));
export const everything = () => within("readonly", (store) => store.getAll());

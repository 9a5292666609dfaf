// This device's own store: one database of the browser's (IndexedDB), made and grown here and nowhere else. Page and worker
// use it alike: no document in sight.
//
//   keys   { staff, key, made }                      the key of whoever is signed in: one row (vault.js)
//   kept   { id, staff, episode, state, at, … }      what was recorded (floor/queue.js); no version of this file ever drops it
//   pages  { address, staff, kept_at, iv, box }      pages to be shown without signal
//   packs  { episode, … }                            the records behind them
//   notes  { name, value }                           small plain settings: nothing about a person
//
// A later version adds a step to STEPS, and changes nothing of those before it.

const NAME = "floor";
const PATIENCE = 5000; // milliseconds for a tab of an older version to let go

const STEPS = [
  (database) => {
    database.createObjectStore("kept", { keyPath: "id" });
  },
  (database, kept) => {
    kept.createIndex("owner", ["staff", "episode"]);
    database.createObjectStore("keys", { keyPath: "staff" });
    database.createObjectStore("pages", { keyPath: "address" });
    database.createObjectStore("packs", { keyPath: "episode" });
    database.createObjectStore("notes", { keyPath: "name" });
  },
];

/** The version that this file knows. */
export const VERSION = STEPS.length;

/** The store cannot be had: not there, blocked by another tab, or broken. `name` says which. */
export class NoStore extends Error {
  constructor(name, message) {
    super(message);
    this.name = name;
  }
}

let connection = null; // a promise of the open database; null after it was closed, by us or by the browser

function grow(request, from) {
  const database = request.result;
  for (const step of STEPS.slice(from)) {
    step(database, database.objectStoreNames.contains("kept") ? request.transaction.objectStore("kept") : null);
  }
}

// Let go at once where a newer version, or somebody who empties the browser, asks for it: the next use opens it anew.
function watched(database) {
  const forget = () => {
    connection = null;
  };
  database.onversionchange = () => {
    database.close();
    forget();
  };
  database.onclose = forget;
  return database;
}

function opened(version) {
  return new Promise((resolve, reject) => {
    if (typeof indexedDB === "undefined") return reject(new NoStore("NoStore", "this browser has no store"));
    const request = version === null ? indexedDB.open(NAME) : indexedDB.open(NAME, version);
    let timer = null;
    let late = false;
    request.onupgradeneeded = (event) => grow(request, event.oldVersion);
    // Another tab, of an older version, is in the middle of something: it is waited for, but not for ever. What cannot be
    // kept meanwhile stays in the page, which says so.
    request.onblocked = () => {
      timer ??= setTimeout(() => {
        late = true;
        reject(new NoStore("Blocked", "another tab holds the store"));
      }, PATIENCE);
    };
    request.onsuccess = () => {
      clearTimeout(timer);
      if (late) request.result.close();
      else resolve(watched(request.result));
    };
    request.onerror = () => {
      clearTimeout(timer);
      reject(request.error);
    };
  });
}

// A tab of a newer version may have grown the store beyond what this one knows: stores are only ever added, so that an old
// tab goes on with those that it knows instead of keeping nothing.
async function open() {
  try {
    return await opened(VERSION);
  } catch (error) {
    if (error?.name !== "VersionError") throw error;
    return opened(null);
  }
}

function connected() {
  if (connection === null) {
    const mine = open();
    connection = mine;
    mine.catch(() => {
      if (connection === mine) connection = null;
    });
  }
  return connection;
}

/** The answer of one request, for use inside `work`. */
export const asked = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

async function begun(names, mode, durability) {
  for (let again = true; ; again = false) {
    const database = await connected();
    try {
      return database.transaction(names, mode, { durability });
    } catch (error) {
      if (!again || error.name !== "InvalidStateError") throw error; // it was closed under our hands: once more
      connection = null;
    }
  }
}

/**
 * One transaction over `stores` (a name, or several). `work` is given their object stores in that order and returns a request,
 * a list of them, or a value; it may be async, but must await nothing except `asked(…)`, or the transaction ends under it.
 * Resolves after the commit: on the disk, not merely on its way to it, unless `durability` says "relaxed" for what can be had
 * again. Whatever goes wrong undoes all of it and rejects.
 */
export async function within(stores, mode, work, { durability = "strict" } = {}) {
  const names = [stores].flat();
  const transaction = await begun(names, mode, durability);
  return new Promise((resolve, reject) => {
    let given;
    let broken = null;
    const undo = (error) => {
      broken = error;
      try {
        transaction.abort();
      } catch {
        reject(error); // it was over already
      }
    };
    transaction.oncomplete = () => Promise.resolve(given).then(resolve, reject);
    transaction.onabort = () => reject(broken ?? transaction.error ?? new NoStore("AbortError", "the store undid it"));
    try {
      given = answers(work(...names.map((name) => transaction.objectStore(name))));
      given?.catch?.(undo);
    } catch (error) {
      undo(error);
    }
  });
}

function answers(given) {
  if (given instanceof IDBRequest) return asked(given);
  if (Array.isArray(given)) return Promise.all(given.map(answers));
  return given;
}

/** One of the small plain settings; `fallback` where there is none. */
export async function note(name, fallback = null) {
  const row = await within("notes", "readonly", (notes) => notes.get(name));
  return row === undefined ? fallback : row.value;
}

/** Write one of them down. */
export const putNote = (name, value) => within("notes", "readwrite", (notes) => notes.put({ name, value }));

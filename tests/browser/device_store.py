"""The store of a device as it lies there, read past the programme."""

from __future__ import annotations

# How many rows of each kind: of `kept` those with something that a key opens, and those that only the server can open.
IN_STORE = """() => new Promise((done) => { const opened = indexedDB.open("floor"); opened.onsuccess = async () => {
    const all = (name) => new Promise((ok) => {
        const asked = opened.result.transaction(name).objectStore(name).getAll();
        asked.onsuccess = () => ok(asked.result); });
    const kept = await all("kept");
    const many = (is) => kept.filter(is).length;
    const found = { readable: many((row) => row.box || row.entry), sealed: many((row) => row.sealed) };
    for (const name of ["keys", "pages", "packs"]) found[name] = (await all(name)).length;
    opened.result.close(); done(found); }; })"""

# Every row of every store as one text; bytes as the letters that they would be.
RAW = """() => new Promise((done) => { const opened = indexedDB.open("floor"); opened.onsuccess = async () => {
    const said = [];
    const letters = (bytes) => Array.from(new Uint8Array(bytes), (one) => String.fromCharCode(one)).join("");
    const plain = (key, value) =>
        value instanceof ArrayBuffer ? letters(value) : ArrayBuffer.isView(value) ? letters(value.buffer) : value;
    for (const name of opened.result.objectStoreNames) said.push(await new Promise((ok) => {
        const asked = opened.result.transaction(name).objectStore(name).getAll();
        asked.onsuccess = () => ok(name + JSON.stringify(asked.result, plain)); }));
    opened.result.close(); done(said.join("\\n")); }; })"""

# A store of the first version, with rows as that version wrote them; in place of whatever is there.
AS_VERSION_ONE = """(rows) => new Promise((done) => { const gone = indexedDB.deleteDatabase("floor");
    gone.onsuccess = () => {
    const opened = indexedDB.open("floor", 1);
    opened.onupgradeneeded = () => opened.result.createObjectStore("kept", { keyPath: "id" });
    opened.onsuccess = () => { const all = opened.result.transaction("kept", "readwrite");
        rows.forEach((row) => all.objectStore("kept").put(row));
        all.oncomplete = () => { opened.result.close(); done(); }; }; }; })"""

# A tab of a version that is not written yet makes the store grow.
GROWN = """() => new Promise((done, failed) => { const opened = indexedDB.open("floor", 99);
    opened.onupgradeneeded = () => opened.result.createObjectStore("later"); opened.onblocked = () => failed("blocked");
    opened.onsuccess = () => { opened.result.close(); done(); }; })"""

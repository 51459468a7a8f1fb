// ---- IndexedDB -----------------------------------------------------------
// "out" holds what was written and not yet acknowledged, "blobs" photos by
// their SHA-256, "meta" everything small.

/** @type {Promise<IDBDatabase> | null} */
let opened = null;

function database() {
  opened ??= new Promise((resolve, reject) => {
    const ask = indexedDB.open("settlemark", 1);
    ask.onupgradeneeded = () => {
      ask.result.createObjectStore("out", { keyPath: "key" });
      ask.result.createObjectStore("blobs");
      ask.result.createObjectStore("meta");
    };
    ask.onsuccess = () => {
      // Signing out clears the database; a page that holds it open must let go.
      ask.result.onversionchange = () => (ask.result.close(), (opened = null));
      ask.result.onclose = () => (opened = null);
      resolve(ask.result);
    };
    ask.onerror = () => reject(ask.error);
  });
  return opened;
}

/**
 * Runs work in one transaction and waits until it is on the disk: "relaxed"
 * only promises that the operating system has it, and a flat battery is the
 * case that matters.
 * @template T
 * @param {string[]} stores
 * @param {IDBTransactionMode} mode
 * @param {(tx: IDBTransaction) => T} work
 * @returns {Promise<T>}
 */
async function transact(stores, mode, work) {
  const tx = (await database()).transaction(stores, mode, { durability: mode === "readwrite" ? "strict" : "default" });
  return new Promise((resolve, reject) => {
    const out = work(tx);
    tx.oncomplete = () => resolve(out);
    tx.onabort = tx.onerror = () => reject(tx.error);
  });
}

/** @param {IDBRequest} ask @returns {Promise<any>} */
const result = (ask) => new Promise((resolve, reject) => {
  ask.onsuccess = () => resolve(ask.result);
  ask.onerror = () => reject(ask.error);
});

/** @param {string} store @param {unknown} value @param {IDBValidKey} [key] */
const put = (store, value, key) => transact([store], "readwrite", (tx) => void tx.objectStore(store).put(value, key));
/** @param {string} store @param {IDBValidKey} key */
const remove = (store, key) => transact([store], "readwrite", (tx) => void tx.objectStore(store).delete(key));
/** @param {string} store @param {IDBValidKey} key @returns {Promise<any>} */
const get = async (store, key) => result((await database()).transaction(store).objectStore(store).get(key));
/** @param {string} store @returns {Promise<any[]>} */
const every = async (store) => result((await database()).transaction(store).objectStore(store).getAll());


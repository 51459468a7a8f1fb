// ---- the outbox ----------------------------------------------------------
// What is saved while the server can't be reached is written here first, on the
// disk, before the page says that it is saved. A record is written once: its
// bytes are digested, and the next one carries the digest.

/**
 * @typedef {{ key: string, order: number, run: string, unit: string, by: string, name: string, zone?: string, n: number, body: string,
 *   type: string, data: Record<string, string>, at: number, state: "pencil" | "ink" | "refused" | "aside", why: string }} Row
 */

const app = import.meta.url.match(/-(\w+)\.js/)?.[1] ?? "";
const tab = hex(crypto.getRandomValues(new Uint8Array(4)));
const pauses = [2, 5, 15, 30, 60]; // seconds
let failures = 0;
let pause = 0;
let signInNeeded = false;
/** Something of this tablet has become ink since the page was opened. */
let inked = false;
/** This tab is sending. */
let sending = false;

/** @param {ArrayBuffer | Uint8Array} bytes */
function hex(bytes) {
  return [...new Uint8Array(bytes)].map((b) => b.toString(16).padStart(2, "0")).join("");
}

/** @param {string | ArrayBuffer} what */
const sha256 = async (what) => hex(await crypto.subtle.digest("SHA-256", typeof what === "string" ? new TextEncoder().encode(what) : what));

/** A new id in order of time: UUIDv7, RFC 9562. */
function newID() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  const time = Date.now();
  for (let i = 0; i < 6; i++) bytes[i] = Math.floor(time / 2 ** (40 - 8 * i)) % 256;
  bytes[6] = (bytes[6] & 15) | 0x70;
  bytes[8] = (bytes[8] & 63) | 0x80;
  return hex(bytes).replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
}

/** @returns {Promise<Row[]>} all that is here, in the order in which it was written */
const rows = async () => (await every("out")).sort((a, b) => a.order - b.order);
/** @param {Row} row */
const unsent = (row) => row.state === "pencil" || row.state === "refused";

/**
 * Writes one entry, and with it its photo. Two tabs write one after the other.
 * @param {{ id: string, run: HTMLElement, type: string, data: Record<string, string>, photo?: Blob }} entry
 * @returns {Promise<Row>}
 */
function write({ id, run: page, type, data, photo }) {
  return navigator.locks.request("settlemark-write", async () => {
    const run = page.dataset.run ?? "", lane = `lane ${person} ${run}`;
    const device = (await get("meta", "device")) ?? "tablet " + hex(crypto.getRandomValues(new Uint8Array(4)));
    const { n, prev } = (await get("meta", lane)) ?? { n: 0, prev: "" };
    const order = ((await get("meta", "order")) ?? 0) + 1;
    const dev = Date.now();
    const body = JSON.stringify({
      key: id, device, n: n + 1, prev, run, type, data, by: person, revision: Number(page.dataset.revision), seen: seenSeq(),
      dev, mono: mono(), off: offset, jump: jump(), tab, app, schema: 2,
    });
    const digest = await sha256(body);
    /** @type {Row} */
    const row = { key: id, order, run, unit: page.dataset.unit ?? "", by: person, name: sayings.name ?? "", zone: sayings.zone, n: n + 1, body, type, data, at: serverNow(), state: "pencil", why: "" };
    await transact(["out", "meta", "blobs"], "readwrite", (tx) => {
      tx.objectStore("out").put(row);
      if (photo) tx.objectStore("blobs").put(photo, data.photo);
      const meta = tx.objectStore("meta");
      meta.put({ n: n + 1, prev: digest }, lane);
      meta.put(order, "order");
      meta.put(device, "device");
    });
    return row;
  });
}

/** Newest entry that the page has shown. */
const seenSeq = () => Math.max(0, ...all("[data-seq]").map((e) => Number(e.dataset.seq)));

/** Sends what waits: one tab at a time, in order, and nothing is skipped. */
async function flush() {
  if (!person || !navigator.locks) return;
  await navigator.locks.request("settlemark-outbox", { ifAvailable: true }, async (lock) => {
    if (!lock) return;
    clearTimeout(pause);
    sending = true;
    const done = await sendAll().finally(() => (sending = false));
    failures = done ? 0 : failures + 1;
    if (!done) pause = setTimeout(flush, 1000 * pauses[Math.min(failures, pauses.length) - 1] * (0.75 + Math.random() / 2));
  });
  await changed();
}

/** @returns {Promise<boolean>} false when it is to be tried again */
async function sendAll() {
  const mine = (await rows()).filter((row) => unsent(row) && row.by === person);
  if (mine.length === 0) return true;
  if (!(await contact())) return false;
  const stopped = new Set();
  for (const row of mine) {
    if (row.state === "refused") stopped.add(row.run);
    if (stopped.has(row.run)) continue; // other runs go on
    const outcome = await send(row);
    if (outcome === "later") return false;
    if (outcome === "refused") stopped.add(row.run);
  }
  return true;
}

/**
 * Sends one record and stores the answer before anything is said about it.
 * @param {Row} row
 * @param {string} [how] "after-gap" when this tablet has no record before it, "leave" to give it up
 * @returns {Promise<"ink" | "refused" | "later">}
 */
async function send(row, how = "") {
  try {
    const hand = () => post(`${row.run}/pencil`, row.body, "application/json", how);
    let said = await hand();
    if (said?.photo) {
      const taken = await get("blobs", row.data.photo);
      said = taken ? await post(`${row.run}/photos/${row.data.photo}`, taken, "image/jpeg") : { problem: say("noPhoto") };
      if (said?.ok || (said && how === "leave")) said = await hand();
    }
    if (!said) return "later";
    if (said.wanted && how !== "after-gap") return await send(row, "after-gap");
    const state = said.ok ? (said.aside ? "aside" : "ink") : "refused";
    await put("out", { ...row, state, why: said.aside ?? said.problem ?? "" });
    await changed();
    if (state !== "refused") inked = true;
    if (state === "ink") await forget(row);
    return state === "refused" ? "refused" : "ink";
  } catch {
    setReached(false);
    return "later";
  }
}

/**
 * The answer of the server; null when it is to be asked again.
 * @param {string} path under the runs @param {string | Blob} body @param {string} type @param {string} [how]
 */
async function post(path, body, type, how = "") {
  const headers = { "Content-Type": type, "Settlemark-Tablet": "1", "Settlemark-Clock": JSON.stringify(sample), "Settlemark-How": how };
  const patience = AbortSignal.timeout(body instanceof Blob ? 180_000 : 20_000);
  const answer = await fetch("/runs/" + path, { method: "POST", body, headers, cache: "no-store", signal: patience });
  signInNeeded = answer.status === 401;
  if (signInNeeded || answer.status === 429 || answer.status >= 500) return null;
  return { ...(await answer.json()), ok: answer.ok };
}

/** @param {Row} row */
const forget = (row) => transact(["out", "blobs"], "readwrite", (tx) => {
  tx.objectStore("out").delete(row.key);
  if (row.data.photo) tx.objectStore("blobs").delete(row.data.photo);
});

/** Tells this tab and the others that something is another way now. */
async function changed() {
  await shown();
  tabs.postMessage("changed");
}

async function shown() {
  await showPencil();
  if (document.querySelector("[data-on-tablet]")) await (await rare()).showTablet();
}

const tabs = new BroadcastChannel("settlemark");
tabs.onmessage = shown;

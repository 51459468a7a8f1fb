// ---- pages taken along ---------------------------------------------------

/** @typedef {{ run: string, unit: string, number: string, person: string, name: string, zone?: string, pages: string[], at: number }} Taken */

const frame = () => /** @type {HTMLElement | null} */ (document.querySelector("[data-run]"));
const person = sayings.person ?? "";
const seenAt = Number(document.documentElement.dataset.seen ?? 0);

/** When the server made this page, by its clock. */
const madeAt = Number(document.documentElement.dataset.now ?? 0);

/** @returns {Promise<Record<string, Taken>>} */
const takenRuns = async () => (await get("meta", "taken")) ?? {};

/**
 * Puts pages and what they are made of into the cache. All or nothing of each.
 * @param {string[]} pages addresses, the run's own first
 */
async function keep(pages) {
  const cache = await caches.open("kept");
  const assets = new Set();
  for (const page of pages) {
    const answer = await fetch(page + (page.includes("?") ? "&" : "?") + "kept=1", { cache: "no-store", redirect: "error" });
    if (!answer.ok) throw new Error(page + " answered " + answer.status);
    const text = await answer.clone().text();
    for (const [asset] of text.matchAll(/\/assets\/[\w.-]+/g)) assets.add(asset);
    await cache.put(page, answer);
  }
  for (const entry of performance.getEntriesByType("resource")) {
    const { pathname } = new URL(entry.name);
    if (pathname.startsWith("/assets/")) assets.add(pathname); // fonts are named by the sheets
  }
  for (const asset of assets) {
    if (!(await cache.match(asset))) await cache.add(asset);
  }
}

/** Takes the run of this page along. */
async function take() {
  const run = frame();
  if (!run) return;
  const { run: id = "", unit = "", number = "", pages = "" } = run.dataset;
  const list = pages.split(" ");
  await keep(list);
  await keepList();
  const taken = await takenRuns();
  const first = Object.keys(taken).length === 0;
  taken[id] = { run: id, unit, number, person, name: sayings.name ?? "", zone: sayings.zone, pages: list, at: serverNow() };
  await put("meta", taken, "taken");
  if (first && navigator.storage?.persist) await put("meta", await navigator.storage.persist(), "persisted");
}

/** Takes a run's pages off this tablet again. What was written stays. */
async function leave(id) {
  const taken = await takenRuns();
  const cache = await caches.open("kept");
  for (const page of taken[id]?.pages ?? []) await cache.delete(page);
  delete taken[id];
  await put("meta", taken, "taken");
}

/** The list of my runs, as it was seen last. */
async function keepList() {
  const cache = await caches.open("kept");
  const answer = await fetch("/runs", { cache: "no-store", redirect: "error" });
  if (answer.ok) await cache.put("/runs", answer);
}

/** Pages that somebody else took along are not for whoever signs in after. */
async function leaveOthers() {
  if (!person) return;
  const taken = await takenRuns();
  for (const [id, run] of Object.entries(taken)) {
    if (run.person !== person) await leave(id);
  }
  const cache = await caches.open("kept");
  const owner = await get("meta", "list");
  if (owner !== person) {
    await cache.delete("/runs");
    await put("meta", person, "list");
  }
}

/** Shows the button, and what it did. */
async function showTaken() {
  const button = /** @type {HTMLButtonElement | null} */ (document.querySelector("[data-take]"));
  const run = frame();
  if (!button || !run?.dataset.run) return;
  const taken = (await takenRuns())[run.dataset.run];
  button.hidden = false;
  button.toggleAttribute("data-taken", Boolean(taken));
  const words = button.querySelector("span");
  if (words) words.textContent = taken ? say("taken", { time: siteTime(taken.at) }) : say("take");
}

let refreshing = 0;

/** Makes the copies anew, a moment after the page was opened or changed by its reader. */
function keepLater() {
  clearTimeout(refreshing);
  refreshing = setTimeout(async () => {
    const run = frame()?.dataset.run ?? "";
    const taken = await takenRuns();
    if (!taken[run] || !reached) return;
    try {
      await keep(taken[run].pages);
      taken[run].at = serverNow();
      await put("meta", taken, "taken");
      await showTaken();
    } catch {
      setReached(false);
    }
  }, 3000);
}


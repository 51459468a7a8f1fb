// ---- the server's clock --------------------------------------------------
// The offset of this tablet's clock is measured at each contact; of an hour the
// sample with the shortest way there and back is kept, in IndexedDB, so that it
// survives a killed browser.

/** @typedef {{ ms: number, rtt: number, at: number }} Offset server minus tablet; at: by the tablet's clock */

const hour = 3_600_000;
const slack = 2000; // two samples that differ by more are of two clocks

/** Whether the server answered when it was last asked; navigator.onLine is no use. */
let reached = true;
/** @type {Offset | null} */
let offset = null;
/** @type {number | null} how far this clock was apart from the one that nobody can turn, when it was measured last */
let steady = null;
/** @type {Offset | null} the newest sample, however long its way was */
let sample = null;

/** Now, by the clock that nobody can turn. */
const mono = () => performance.timeOrigin + performance.now();

/** By how much the clock was turned since it was measured. A tablet that slept looks the same. */
const jump = () => (steady === null ? 0 : Math.round(Date.now() - mono() - steady));

/** The page itself is the first answer, unless it is a copy. */
async function arrived() {
  const [way] = /** @type {PerformanceNavigationTiming[]} */ (performance.getEntriesByType("navigation"));
  if (seenAt || !madeAt || !way?.responseStart) return contact();
  await answered(madeAt, way.requestStart, way.responseStart);
}

/** Asks for the time; false when the server can't be reached. */
async function contact() {
  const began = performance.now();
  try {
    const answer = await fetch("/clock", { cache: "no-store", signal: AbortSignal.timeout(2500) });
    if (!answer.ok) throw new Error(String(answer.status));
    const { now } = await answer.json();
    await answered(now, began, performance.now());
  } catch {
    setReached(false);
  }
  return reached;
}

/**
 * @param {number} now by the server's clock
 * @param {number} began when it was asked, since this page began
 * @param {number} ended when it answered
 */
async function answered(now, began, ended) {
  const rtt = ended - began, between = performance.now() - ended;
  await measured({ ms: Math.round(now + rtt / 2 + between - Date.now()), rtt: Math.ceil(rtt), at: Date.now() });
  setReached(true);
}

/** @param {Offset} fresh */
async function measured(fresh) {
  sample = fresh;
  const old = offset;
  const apart = old ? Math.abs(fresh.ms - old.ms) - (fresh.rtt + old.rtt) / 2 : 0;
  if (!old || apart > slack || fresh.rtt <= old.rtt || fresh.at - old.at > hour || fresh.at < old.at) offset = fresh;
  const apartNow = Date.now() - mono();
  if (steady === null || Math.abs(apartNow - steady) > 200) await put("meta", (steady = apartNow), "steady");
  if (offset !== old) await put("meta", offset, "offset");
  dispatchEvent(new CustomEvent("clock:measured", { detail: { old, fresh, changed: apart > slack } }));
}

/** @param {boolean} now */
function setReached(now) {
  const before = reached;
  reached = now;
  document.documentElement.toggleAttribute("data-alone", !now);
  if (before !== now) dispatchEvent(new Event(now ? "server:back" : "server:gone"));
}

/** Now by the server's clock, as well as this tablet knows it. */
const serverNow = () => Date.now() + (offset?.ms ?? 0);


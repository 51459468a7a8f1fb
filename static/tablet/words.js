// What makes a tablet of use without the server: the service worker, the
// server's clock, pages taken along, and the outbox of what was written
// meanwhile. The server renders all text; sentences that can't be rendered
// before stand in the template #tablet.

const sayings = /** @type {HTMLElement | null} */ (document.getElementById("tablet"))?.dataset ?? {};

/**
 * A sentence of the page with its figures in place.
 * @param {string} name
 * @param {Record<string, string | number>} [figures]
 */
function say(name, figures = {}) {
  return (sayings["say" + name[0].toUpperCase() + name.slice(1)] ?? "").replace(/\{(\w+)\}/g, (_, key) => String(figures[key] ?? ""));
}

/**
 * An instant as the site's clock shows it; with the offset in the hour that a clock set back shows twice.
 * @param {number} ms
 * @param {string} [zone] of the page's site, unless another is meant
 * @param {boolean} [seconds]
 */
function siteTime(ms, zone = sayings.zone, seconds = false) {
  const clock = new Intl.DateTimeFormat("en-GB", { timeZone: zone || "UTC", hour: "2-digit", minute: "2-digit", second: seconds ? "2-digit" : undefined });
  const text = clock.format(ms);
  return [ms - hour, ms + hour].some((other) => clock.format(other) === text) ? text + " " + siteOffset(ms, zone) : text;
}

/** How far the site's clock is from UTC at that instant: "UTC+1". @param {number} ms @param {string} [zone] */
function siteOffset(ms, zone) {
  const named = new Intl.DateTimeFormat("en-GB", { timeZone: zone || "UTC", timeZoneName: "shortOffset" }).format(ms);
  return "UTC" + (named.split("GMT")[1] || "+0");
}

/** What few pages need, and what they need only without the server: a module of its own. */
const rare = () => import(sayings.rare ?? "");

/**
 * @param {string} selector
 * @returns {HTMLElement[]}
 */
const all = (selector) => [...document.querySelectorAll(selector)];


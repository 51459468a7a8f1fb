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
 * An instant as the site's clock shows it.
 * @param {number} ms
 * @param {string} [zone] of the page's site, unless another is meant
 */
function siteTime(ms, zone = sayings.zone) {
  return new Intl.DateTimeFormat("en-GB", { timeZone: zone || "UTC", hour: "2-digit", minute: "2-digit" }).format(ms);
}

/** What few pages need, and what they need only without the server: a module of its own. */
const rare = () => import(sayings.rare ?? "");

/**
 * @param {string} selector
 * @returns {HTMLElement[]}
 */
const all = (selector) => [...document.querySelectorAll(selector)];


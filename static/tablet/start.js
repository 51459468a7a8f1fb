// ---- what a page does when it opens ---------------------------------------

/** Says that the page is a copy, or that nothing was heard since. */
function dateStrip() {
  const strip = /** @type {HTMLElement | null} */ (document.querySelector("[data-as-of]"));
  if (!strip) return;
  const at = seenAt || Number(frame()?.dataset.now ?? 0);
  const show = seenAt > 0 || (!reached && at > 0);
  strip.hidden = !show;
  if (show) strip.querySelector("span").textContent = say("asOf", { time: siteTime(at) });
}

/** One sentence on top of the page, for eyes and ears. @param {string} sentence */
function announce(sentence) {
  const strip = /** @type {HTMLElement | null} */ (document.querySelector("[data-announce]"));
  if (!strip) return;
  strip.hidden = false;
  strip.textContent = sentence;
}

async function register() {
  if (!navigator.serviceWorker) return;
  const registration = await navigator.serviceWorker.register("/sw.js", { updateViaCache: "none" });
  const offer = () => void takeOver(registration);
  registration.addEventListener("updatefound", () => registration.installing?.addEventListener("statechange", offer));
  offer();
}

/**
 * Lets a waiting worker take over, but never under somebody's hands: only
 * while nothing is begun on the page and nothing waits to be sent.
 * @param {ServiceWorkerRegistration} registration
 */
async function takeOver(registration) {
  if (registration.waiting && registration.active && betweenSteps()) registration.waiting.postMessage("take over");
}

/** Nothing is typed into any form of the page. */
const betweenSteps = () => ![...document.querySelectorAll("form.entry")].some((form) => [.../** @type {HTMLFormElement} */ (form).elements].some((e) =>
  (e instanceof HTMLInputElement && e.type !== "hidden" && !["radio", "checkbox"].includes(e.type) && e.value !== e.defaultValue) ||
  (e instanceof HTMLTextAreaElement && e.value !== e.defaultValue)));

async function begin() {
  offset = (await get("meta", "offset")) ?? null;
  document.addEventListener("click", async (event) => {
    const button = event.target instanceof Element ? event.target.closest("[data-take]") : null;
    if (!(button instanceof HTMLButtonElement)) return;
    button.disabled = true;
    const failed = await take().then(() => "", () => say("takeFailed"));
    button.disabled = false;
    await showTaken();
    if (failed) announce(failed);
  });
  for (const event of ["server:gone", "server:back"]) {
    addEventListener(event, dateStrip);
    addEventListener(event, showTablet);
  }
  if (seenAt) dispatchEvent(new PopStateEvent("popstate")); // the section of the address, not the one of the copy
  await contact();
  dateStrip();
  await leaveOthers();
  await showTaken();
  await showTablet();
  keepLater();
  if (reached && location.pathname === "/runs" && person && !seenAt) await keepList();
  setInterval(() => document.visibilityState === "visible" && void contact(), 20_000);
}

void register();
void begin();

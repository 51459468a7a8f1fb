// ---- what a page does when it opens ---------------------------------------

/** Says that the page is a copy, or that the server went away since. */
function dateStrip() {
  const strip = /** @type {HTMLElement | null} */ (document.querySelector("[data-as-of]"));
  if (!strip) return;
  const text = /** @type {HTMLElement} */ (strip.querySelector("span"));
  const at = seenAt || madeAt;
  if (reached && !seenAt) text.textContent = "";
  else text.textContent = at ? say("asOf", { time: siteTime(at) }) : say("notReached");
}

let quiet = 0;

/** One sentence on top of the page, for eyes and ears. @param {string} sentence @param {string} [href] */
function announce(sentence, href = "") {
  const strip = /** @type {HTMLElement | null} */ (document.querySelector("[data-announce]"));
  if (!strip || (strip.textContent === sentence && !strip.hidden)) return;
  strip.hidden = false;
  strip.classList.toggle("over", !href); // so that nothing moves under a finger
  clearTimeout(quiet);
  if (!href) quiet = setTimeout(() => (strip.hidden = true), 12_000);
  const link = document.createElement(href ? "a" : "span");
  if (link instanceof HTMLAnchorElement) link.href = href;
  link.textContent = sentence;
  strip.replaceChildren(link);
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
  if (registration.waiting && registration.active && betweenSteps() && !(await rows()).some(unsent)) registration.waiting.postMessage("take over");
}

/** Nothing is typed into any form of the page. */
const betweenSteps = () => ![...document.querySelectorAll("form.entry")].some((form) => [.../** @type {HTMLFormElement} */ (form).elements].some((e) =>
  (e instanceof HTMLInputElement && e.type !== "hidden" && !["radio", "checkbox"].includes(e.type) && e.value !== e.defaultValue) ||
  (e instanceof HTMLTextAreaElement && e.value !== e.defaultValue)));

/** A copy, and a page whose pencil became ink, is replaced by what the server has now. */
function refresh() {
  if (reached && !signInNeeded && !sending && (seenAt > 0 || inked) && betweenSteps()) location.reload();
}

/** What needs the server says so on the spot. @param {MouseEvent} event */
async function needsServer(event) {
  const link = event.target instanceof Element ? event.target.closest("a[href], button[formaction]") : null;
  if (reached || !(link instanceof HTMLAnchorElement) || link.origin !== location.origin) return;
  const kept = /^\/(offline|runs(\/[0-9a-f-]{36}(\/(reading|fault|more|pen|cup))?)?)$/;
  if (kept.test(link.pathname) || (link.hash && link.pathname === location.pathname)) return;
  event.preventDefault();
  event.stopPropagation();
  if (await contact()) location.assign(link.href);
  else announce(say("needs", { what: (link.querySelector("b, span") ?? link).textContent?.trim() ?? "" }));
}

/** The first answer decides; the server is asked again every 20 s while the page is seen. */
async function begin() {
  document.addEventListener("submit", onSubmit, true);
  document.addEventListener("click", needsServer, true);
  document.addEventListener("click", onTake);
  document.querySelector("[data-try]")?.addEventListener("click", () => void flush());
  document.addEventListener("input", keepDraft);
  document.body.addEventListener("htmx:sendError", onLost);
  document.body.addEventListener("htmx:sseMessage", showPencil);
  for (const event of ["server:gone", "server:back"]) addEventListener(event, () => (dateStrip(), void changed()));
  addEventListener("server:back", () => void flush());
  addEventListener("online", () => void flush());
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && void flush());
  document.body.addEventListener("htmx:sseOpen", () => void flush());

  offset = (await get("meta", "offset")) ?? null;
  steady = (await get("meta", "steady")) ?? null;
  await known;
  if (seenAt) {
    setReached(false); // until it answers
    dateStrip();
    for (const id of all("form.entry input[name=id]")) /** @type {HTMLInputElement} */ (id).value = newID(); // those of the copy may be used
    dispatchEvent(new PopStateEvent("popstate")); // the section of the address, not the one of the copy
  }
  await restoreDrafts();
  await changed();
  await arrived();
  dateStrip();
  await leaveOthers();
  await showTaken();
  await flush();
  refresh();
  if (reached && location.pathname === "/runs" && person && !seenAt) await keepList();
  keepLater();
  setInterval(async () => {
    if (document.visibilityState !== "visible") return;
    await contact();
    await flush();
    refresh();
  }, 20_000);
}

/** @param {Event} event */
async function onTake(event) {
  const button = event.target instanceof Element ? event.target.closest("[data-take]") : null;
  if (!(button instanceof HTMLButtonElement)) return;
  button.disabled = true;
  const failed = await take().then(() => "", () => say("takeFailed"));
  button.disabled = false;
  along ||= !failed;
  await showTaken();
  if (failed) announce(failed);
}

/** The answer to a form was lost on the way: it goes into the outbox. @param {Event} event */
function onLost(event) {
  const form = event.target instanceof Element ? event.target.closest("form.entry[data-form]") : null;
  const run = frame();
  setReached(false);
  if (along && run && form instanceof HTMLFormElement) void savePencil(form, run);
}

void register();
void begin();

export { all, say, siteTime, words, get, put, forget, rows, unsent, send, flush, takenRuns, frame, serverNow, person, reached, signInNeeded };

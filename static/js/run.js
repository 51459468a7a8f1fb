// The page of a run. The server has rendered everything; this script shows and
// hides sections without a request, counts minutes down between two messages
// of the server, and speaks at few moments. It invents nothing.

// A refused form replaces the whole body, so the run is looked up each time.
const theRun = () => /** @type {HTMLElement | null} */ (document.querySelector("[data-run]"));
const spokenAt = [30, 15, 5, 1];
/** @type {{ word: string, minutes: number }} */
let heard = { word: "", minutes: Infinity };
let seen = { now: 0, at: 0 };

if (theRun()) {
	document.addEventListener("click", follow);
	addEventListener("popstate", () => open(sectionOf(location.href)));
	for (const event of ["htmx:afterSwap", "htmx:sseMessage", "htmx:oobAfterSwap"]) {
		document.body.addEventListener(event, refresh);
	}
	document.addEventListener("input", tick);
	refresh();
	setInterval(count, 1000);
	isBack();
	setInterval(isBack, 5000);
	document.querySelector("a:target")?.focus(); // back from the pad
}

/** Says where the work stood to somebody who was away from this page for more than 3 minutes. */
function isBack() {
	if (document.hidden) return;
	const key = "seen " + theRun()?.dataset.run;
	const seen = Number(localStorage.getItem(key));
	if (seen && Date.now() - seen > 180_000) document.querySelector("[data-were-here]")?.removeAttribute("hidden");
	localStorage.setItem(key, String(Date.now()));
}

/** What a new piece of page brings with it. */
function refresh() {
	mark();
	count();
	speak();
	penGone();
	for (const strip of document.querySelectorAll("[data-undo]:not([data-timed])")) {
		strip.setAttribute("data-timed", "");
		setTimeout(() => strip.contains(document.activeElement) || strip.remove(), 8000);
	}
}

/** Says to who held the pen when the page was made that it has gone over. */
function penGone() {
	const run = theRun(), holder = /** @type {HTMLElement | null} */ (document.querySelector("[data-held] [data-pen]"))?.dataset.pen;
	if (!run || !holder) return;
	run.dataset.wrote ??= holder;
	const gone = run.dataset.wrote !== holder;
	for (const part of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-held], [data-held] [data-gone]"))) part.hidden = !gone;
}

/**
 * Plain links to a section of this run open it on the spot.
 * @param {MouseEvent} e
 */
function follow(e) {
	const link = e.target instanceof Element ? e.target.closest("a") : null;
	if (!link || e.defaultPrevented || e.button || e.metaKey || e.ctrlKey || e.shiftKey) return;
	if (link.origin !== location.origin || link.pathname !== location.pathname || !link.search.includes("section=")) return;
	if (!open(sectionOf(link.href))) return;
	e.preventDefault();
	history.pushState(null, "", link.href);
	const line = link.hash ? document.querySelector(link.hash) : null;
	if (line instanceof HTMLDetailsElement) line.open = true;
	(line ?? document.getElementById("main"))?.scrollIntoView({ block: "start" });
	document.getElementById("main")?.focus({ preventScroll: true });
}

/** @param {string} href */
function sectionOf(href) {
	return new URL(href).searchParams.get("section") ?? theRun()?.dataset.shown ?? "0";
}

/**
 * Shows one section; false when this page has none.
 * @param {string} section
 */
function open(section) {
	const cards = /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll(".card[data-section]"));
	const wanted = [...cards].find((c) => c.dataset.section === section);
	if (!wanted) return false;
	for (const c of cards) c.hidden = c !== wanted;
	const hold = /** @type {HTMLElement | null} */ (document.querySelector("[data-hold]"));
	if (hold) hold.hidden = !wanted.hasAttribute("data-with-hold");
	mark();
	return true;
}

/** Marks the section shown in the stick, which every message draws anew. */
function mark() {
	const run = theRun();
	if (!run) return;
	const card = /** @type {HTMLElement | null} */ (document.querySelector(".card[data-section]:not([hidden])"));
	if (card) run.dataset.shown = card.dataset.section;
	const here = /** @type {HTMLElement | null} */ (document.querySelector("[data-here]"))?.dataset.here;
	run.toggleAttribute("data-at-here", card != null && here === run.dataset.shown);
	for (const link of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll(".stick a[data-section]"))) {
		if (card && link.dataset.section === run.dataset.shown) link.setAttribute("aria-current", "step");
		else link.removeAttribute("aria-current");
	}
}

/** The server's clock: what it last said, and what has passed since. A copy was told long ago. */
function now() {
	if (seenAt) return serverNow();
	const said = Number(document.documentElement.dataset.now);
	if (said && said !== seen.now) seen = { now: said, at: performance.now() };
	return seen.now ? seen.now + performance.now() - seen.at : Date.now();
}

/** Counts down, and only down, to what the server has said. */
function count() {
	const t = now();
	const big = /** @type {HTMLElement | null} */ (document.querySelector("[data-ready]"));
	const number = big?.querySelector("[data-minutes]");
	if (big?.dataset.ready && number) {
		const left = Math.max(1, Math.ceil((Number(big.dataset.ready) - t) / 60000));
		if (left < Number(number.textContent)) {
			number.textContent = String(left);
			big.setAttribute("aria-label", left === 1 ? big.dataset.one : big.dataset.many.replace("{n}", left));
			speak();
		}
	}
	const next = /** @type {HTMLElement | null} */ (document.querySelector("[data-next]"));
	const due = Number(next?.dataset.next ?? 0) - t;
	if (next?.dataset.next && due > 0) {
		const s = Math.ceil(due / 1000);
		const figure = next.querySelector("b");
		if (figure) figure.textContent = `${Math.floor(s / 60)}:${String(s % 60).padStart(2, "0")}`;
	} else if (next?.dataset.next && next.dataset.due) {
		next.textContent = next.dataset.due;
	}
	clocks(t);
}

/**
 * Site time, by the server's clock.
 * @param {number} t
 */
function clocks(t) {
	for (const el of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-clock]"))) {
		const text = siteTime(t, el.dataset.clock);
		if (el.textContent !== text) el.textContent = text;
	}
}

/** Speaks at 30, 15, 5 and 1 min, and when the state changes. No more. */
function speak() {
	const region = document.querySelector("[data-speak]");
	const word = document.querySelector("[data-word]")?.textContent ?? "";
	const minutes = Number(document.querySelector("[data-minutes]")?.textContent ?? Infinity);
	if (!region || !word) return;
	const changed = heard.word !== "" && heard.word !== word;
	const passed = spokenAt.some((m) => minutes <= m && heard.minutes > m && heard.minutes !== Infinity);
	if (changed) region.textContent = word;
	else if (passed) region.textContent = document.querySelector("[role=timer]")?.getAttribute("aria-label") ?? "";
	heard = { word, minutes };
}

/**
 * Typing into the fields of a replacement means to use them.
 * @param {Event} e
 */
function tick(e) {
	const fold = e.target instanceof Element ? e.target.closest("[data-replace]") : null;
	const box = fold?.querySelector("input[type=checkbox]");
	if (box instanceof HTMLInputElement && box !== e.target) box.checked = true;
}

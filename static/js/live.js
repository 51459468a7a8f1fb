// The stream of a page: keeps the site's clock going, and says "not live" when
// nothing was heard for too long. Silence must never look like health.
const silentAfter = 30_000;

if (document.querySelector("[sse-connect]")) {
	let heard = Date.now(); // by this device's clock, which also goes on while it sleeps
	let last = ""; // by the server's
	const look = () => {
		if (Date.now() - heard < silentAfter) return;
		document.body.classList.add("not-live");
		for (const el of document.querySelectorAll("[data-live]")) {
			write(el, last ? say(el, "silent", siteTime(Date.parse(last), el.dataset.live)) : say(el, "deaf"));
		}
	};
	// The time now, and when what is shown last changed; "" before it does.
	const beat = (event) => {
		const [now, changed] = event.data.split(" ");
		heard = Date.now();
		last = now;
		document.documentElement.dataset.now = String(Date.parse(now));
		document.body.classList.remove("not-live");
		for (const clock of document.querySelectorAll("time[data-zone]")) {
			if (sameMinute(clock.dateTime, now)) continue; // the page's first minute needs no formatter, which takes long to make
			clock.dateTime = now;
			write(clock, siteTime(Date.parse(now), clock.dataset.zone).slice(0, 5)); // its offset stands beside it
			const offset = clock.parentElement.querySelector("[data-offset]");
			if (offset) write(offset, siteOffset(Date.parse(now), clock.dataset.zone));
		}
		for (const el of document.querySelectorAll("[data-live]")) {
			write(el, changed ? say(el, "changed", siteTime(Date.parse(changed), el.dataset.live, true)) : say(el, "same"));
		}
	};
	const opened = document.querySelector("[data-record]")?.textContent.trim();
	const compare = () => {
		const now = document.querySelector("[data-record]")?.textContent.trim();
		const moved = document.querySelector("[data-moved]");
		if (moved && now !== opened) moved.hidden = false;
	};
	document.body.addEventListener("htmx:sseOpen", (event) => {
		event.detail.source.addEventListener("beat", beat);
		// A screen in the hall that is shut out shows nothing any more.
		event.detail.source.addEventListener("over", () => document.querySelector(".hall") && location.reload());
	});
	document.body.addEventListener("htmx:sseMessage", compare);
	// A stream begins with every piece; what stands there already stays there.
	const parsed = document.createElement("template");
	document.body.addEventListener("htmx:sseBeforeMessage", (event) => {
		parsed.innerHTML = event.detail.data;
		// Which section is shown is marked here, not there.
		if (parsed.innerHTML === event.target.innerHTML.replace(' aria-current="step"', "")) event.preventDefault();
	});
	document.addEventListener("visibilitychange", look);
	setInterval(look, 1000);
}

/** @param {string} a @param {string} b instants */
function sameMinute(a, b) {
	return Math.floor(Date.parse(a) / 60_000) === Math.floor(Date.parse(b) / 60_000);
}

/** A sentence that the server wrote beside the element, with its time in place. */
function say(el, name, time = "") {
	return el.getAttribute("data-say-" + name).replace("{time}", time);
}

/** Leaves alone what says it already, so that nothing is spoken twice. */
function write(el, text) {
	if (el.textContent !== text) el.textContent = text;
}

// The script of being told comes only to a device that asked for it.
const told = document.querySelector("[data-notices]");
if (told && localStorage.getItem("settlemark-tell")) import(told.dataset.script);

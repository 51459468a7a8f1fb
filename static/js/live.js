// The stream of a page: keeps the site's clock going, and says "not live" when
// nothing was heard for too long. Silence must never look like health.
const silentAfter = 35_000;
const source = document.querySelector("[sse-connect]");

/** @param {string} at @param {string} zone @param {boolean} seconds */
function siteTime(at, zone, seconds) {
	const options = { hour: "2-digit", minute: "2-digit", timeZone: zone };
	if (seconds) options.second = "2-digit";
	return new Intl.DateTimeFormat("en-GB", options).format(new Date(at));
}

if (source) {
	let timer = 0;
	const stale = () => {
		document.body.classList.add("not-live");
		for (const el of document.querySelectorAll("[data-live]")) {
			el.textContent = "Not live since " + (el.dataset.last || "the page opened");
		}
	};
	const wait = () => {
		clearTimeout(timer);
		timer = setTimeout(stale, silentAfter);
	};
	const beat = (event) => {
		document.body.classList.remove("not-live");
		for (const clock of document.querySelectorAll("time[data-zone]")) {
			clock.dateTime = event.data;
			clock.textContent = siteTime(event.data, clock.dataset.zone, false);
		}
		for (const el of document.querySelectorAll("[data-live]")) {
			el.dataset.last = siteTime(event.data, el.dataset.live, true);
			el.textContent = "Live at " + el.dataset.last;
		}
		wait();
	};
	document.body.addEventListener("htmx:sseOpen", (event) => {
		event.detail.source.addEventListener("beat", beat);
	});
	wait();
}

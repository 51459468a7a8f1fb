// Locks the screen when nobody touched it for a while: covers the page, which
// goes on underneath, and says no more than the minutes left. The server refuses
// everything but the streams until somebody proves to be there. The tabs of one
// browser lock and unlock together.

// A refused form replaces the whole body, so what stands in it is looked up each time.
const lock = () => /** @type {HTMLDialogElement | null} */ (document.getElementById("lock"));
const part = (selector) => lock().querySelector(selector);
const touchedKey = "settlemark-touched";
const lockedKey = "settlemark-locked";
const title = document.title;
let touched = Date.now();
let told = false;

const shared = () => Number(localStorage.getItem(touchedKey)) || 0;

function touch() {
	if (!lock() || lock().open) return;
	touched = Date.now();
	if (touched - shared() > 2000) localStorage.setItem(touchedKey, String(touched));
}

/** Covers the page; what was in the middle of being typed stays as it is. */
function cover() {
	if (!lock() || lock().open) return;
	document.documentElement.toggleAttribute("data-locked", true);
	document.title = lock().dataset.sayLocked;
	say("");
	lock().showModal();
	part("input:not([type=hidden])").focus();
	minutes();
}

function uncover() {
	localStorage.removeItem(lockedKey);
	localStorage.setItem(touchedKey, String(Date.now()));
	touched = Date.now();
	told = false;
	document.documentElement.toggleAttribute("data-locked", false);
	document.title = title;
	empty();
	if (lock()?.open) lock().close(); // gives the focus back to where it was
}

/** Tells the server, again while it can't be reached. */
async function tell() {
	if (told) return;
	told = true;
	try {
		const answer = await fetch(lock().dataset.lock, { method: "POST", redirect: "error" });
		if (answer.ok) localStorage.setItem(lockedKey, lock().dataset.person + " told");
		else told = answer.status < 500; // a sign-in that ended is locked enough
	} catch {
		told = false;
	}
}

/** The minutes left of the hold, as the page under the cover has them. */
function minutes() {
	const parts = document.querySelector("[data-lock-shows]")?.children ?? [];
	const shown = [...parts].map((one) => one.textContent.trim()).join(" ");
	const left = part(".lock-left");
	left.hidden = !shown;
	if (left.textContent !== shown) left.textContent = shown;
}

function look() {
	if (!lock()) return;
	if (lock().open) {
		minutes();
		tell();
	} else if (Date.now() - Math.max(touched, shared()) >= Number(lock().dataset.after) * 1000) {
		localStorage.setItem(lockedKey, lock().dataset.person);
		cover();
		tell();
	}
}

const say = (sentence) => part("[role=alert]").textContent = sentence;

function empty() {
	for (const field of lock()?.querySelectorAll("input:not([name=person])") ?? []) field.value = "";
}

/** Asks the server, with what stands in the form. */
const ask = (form) => fetch(form.action, {
	method: "POST", headers: { "HX-Request": "true" }, body: new URLSearchParams(new FormData(form)), redirect: "error",
});

async function unlock(form) {
	try {
		const answer = await ask(form);
		if (answer.status === 204) return uncover();
		const page = new DOMParser().parseFromString(await answer.text(), "text/html");
		say((page.querySelector("#summary li") ?? page.querySelector("main p"))?.textContent.trim() || lock().dataset.sayRefused);
	} catch {
		say(lock().dataset.sayAway);
	}
	empty();
}

/** After a reload: what was locked stays so, unless it was unlocked elsewhere. */
async function again() {
	told = localStorage.getItem(lockedKey).endsWith(" told");
	cover();
	if (!told) return;
	const answer = await ask(part("form")).catch(() => null);
	if (answer?.status === 204) uncover();
}

if (lock()) {
	for (const kind of ["pointerdown", "pointermove", "keydown", "wheel"]) addEventListener(kind, touch, { capture: true, passive: true });
	document.addEventListener("submit", (event) => {
		if (event.target !== part("form")) return;
		event.preventDefault();
		unlock(event.target);
	}, true);
	document.addEventListener("cancel", (event) => event.target === lock() && event.preventDefault(), true);
	document.addEventListener("close", (event) => {
		if (event.target === lock() && document.documentElement.hasAttribute("data-locked")) lock().showModal();
	}, true);
	addEventListener("storage", (event) => {
		if (event.key === lockedKey) event.newValue ? cover() : uncover();
	});
	document.addEventListener("settlemark:locked", cover);
	if (localStorage.getItem(lockedKey)?.split(" ")[0] === lock().dataset.person) again();
	setInterval(look, 1000);
}

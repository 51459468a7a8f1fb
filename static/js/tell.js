// Being told on this device: a sound, a buzz, a notification, and a screen that
// stays on. What is wanted is kept on the device, since each can do something
// else; the server says what happened, and once.
const kept = "settlemark-tell";
/** @type {Record<string, any>} */
const wanted = JSON.parse(localStorage.getItem(kept) ?? "{}");

/** Hertz, and how long each tone lasts in seconds; a pattern of its own for each event. */
const tones = {
	stopped: [[880, 0.25], [440, 0.25], [880, 0.25], [440, 0.5]],
	check: [[660, 0.15], [660, 0.15]],
	ready: [[523, 0.2], [659, 0.2], [784, 0.5]],
	waiting: [[587, 0.2], [494, 0.4]],
};
const buzzes = { stopped: [400, 100, 400, 100, 400], check: [150, 100, 150], ready: [600], waiting: [200, 100, 400] };

/** @type {AudioContext | undefined} */
let audio;
/** @type {WakeLockSentinel | undefined} */
let lock;

/** A browser gives sound only to whoever has touched the page. */
function awaken() {
	if (!wanted.sound || !("AudioContext" in window)) return;
	audio ??= new AudioContext();
	if (audio.state === "suspended") audio.resume();
}

/** What each way does; false when it can't do it here and now. */
const ways = {
	async sound(event) {
		if (!("AudioContext" in window)) return false;
		audio ??= new AudioContext();
		await Promise.race([audio.resume(), new Promise((done) => setTimeout(done, 500))]);
		if (audio.state !== "running") return false;
		let at = audio.currentTime;
		for (const [pitch, lasts] of tones[event]) {
			const tone = audio.createOscillator();
			tone.frequency.value = pitch;
			tone.connect(audio.destination);
			tone.start(at);
			tone.stop(at + lasts - 0.03);
			at += lasts;
		}
		return true;
	},
	async buzz(event) {
		return "vibrate" in navigator && navigator.vibrate(buzzes[event]);
	},
	async note(event, text, id) {
		if (!("Notification" in window) || Notification.permission !== "granted") return false;
		const options = { tag: "settlemark-" + id, body: text };
		const worker = await navigator.serviceWorker?.getRegistration();
		if (worker?.active) await worker.showNotification("Settlemark", options);
		else new Notification("Settlemark", options);
		return true;
	},
	async awake() {
		if (!("wakeLock" in navigator) || document.visibilityState !== "visible") return false;
		lock ??= await navigator.wakeLock.request("screen");
		lock.addEventListener("release", () => { lock = undefined; });
		return true;
	},
};

/** Says what happened in every way that is wanted. */
function tell(event, text, id, loud) {
	for (const way of loud ? ["sound", "buzz", "note"] : ["note"]) {
		if (wanted[way]) ways[way](event, text, id).catch(() => {});
	}
}

const day = 24 * 3600_000;
/** The one run of which this device tells, while that choice holds. @returns {{ id: string, name: string, at: number } | undefined} */
function only() {
	return wanted.only && Date.now() - wanted.only.at < day ? wanted.only : undefined;
}

// What was kept before this tab began to listen is old news; from then on each
// notice is heard once, on whichever page it comes and however late the script
// begins. They do not always come in the order of their numbers, and one that
// was being kept while the page was written is a little older than the page.
const slack = 10_000;
const notices = /** @type {HTMLElement | null} */ (document.querySelector("[data-notices]"));
const reader = document.getElementById("tablet")?.dataset.person;
/** @type {{ since: number, heard: string[] }} */
const session = JSON.parse(sessionStorage.getItem(kept) ?? "null") ?? { since: Number(notices?.dataset.now) - slack, heard: [] };
function listen() {
	const loud = new Set();
	for (const n of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-notice]"))) {
		const { notice, told, run, event, people } = n.dataset;
		if (Number(told) < session.since || session.heard.includes(notice)) continue;
		session.heard.push(notice);
		if (!people.split(" ").includes(reader) || wanted["not-" + event] || (only() && only().id !== run)) continue;
		tell(event, n.textContent.trim(), notice, !loud.has(event));
		loud.add(event); // one noise for twenty units that stop together
	}
	session.heard = session.heard.slice(-200);
	sessionStorage.setItem(kept, JSON.stringify(session));
}
if (notices) listen();
document.body.addEventListener("htmx:sseMessage", listen);
document.addEventListener("pointerdown", awaken);
document.addEventListener("keydown", awaken);

// The system lets the lock go when the page is hidden.
function stayAwake() {
	if (wanted.awake && notices) ways.awake().catch(() => {});
}
document.addEventListener("visibilitychange", stayAwake);
stayAwake();

// The page on which this is chosen.
for (const box of document.querySelectorAll("input[data-tell]")) {
	const name = box.dataset.tell;
	box.checked = name.startsWith("not-") ? !wanted[name] : Boolean(wanted[name]);
	box.addEventListener("change", async () => {
		wanted[name] = name.startsWith("not-") ? !box.checked : box.checked;
		localStorage.setItem(kept, JSON.stringify(wanted));
		if (name === "note" && box.checked && "Notification" in window) await Notification.requestPermission();
		standing();
	});
}
const one = /** @type {HTMLInputElement | null} */ (document.querySelector("input[data-only]"));
if (one && (one.dataset.only || only())) {
	const name = one.closest("label").querySelector("[data-only-name]");
	const run = one.dataset.only ? { id: one.dataset.only, name: name.textContent } : only();
	name.textContent = run.name;
	one.checked = only()?.id === run.id;
	one.closest("label").hidden = false;
	one.addEventListener("change", () => {
		wanted.only = one.checked ? { id: run.id, name: run.name, at: Date.now() } : undefined;
		localStorage.setItem(kept, JSON.stringify(wanted));
	});
}
for (const button of document.querySelectorAll("button[data-try]")) {
	button.addEventListener("click", async () => {
		const way = button.dataset.try;
		if (way === "note" && "Notification" in window) await Notification.requestPermission();
		const done = await ways[way]("ready", document.title, "try").catch(() => false);
		say(way, done ? "done" : "fails");
	});
}

/** @param {string} way @param {"can" | "none" | "denied" | "done" | "fails"} how */
function say(way, how) {
	const place = document.querySelector(`[data-works=${way}]`);
	if (place) place.textContent = place.dataset[how];
}

/** What can work at all on this device, before it is tried. */
function standing() {
	const there = {
		sound: "AudioContext" in window, buzz: "vibrate" in navigator, note: "Notification" in window, awake: "wakeLock" in navigator,
	};
	for (const [way, can] of Object.entries(there)) {
		say(way, !can ? "none" : way === "note" && Notification.permission === "denied" ? "denied" : "can");
		for (const e of document.querySelectorAll(`input[data-tell=${way}], button[data-try=${way}]`)) e.disabled = !can;
	}
}
if (document.querySelector("[data-works]")) standing();

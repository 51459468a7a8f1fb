// The keys of the reading pad. The field under them is a real one: a keyboard,
// paste and a screen reader work on it, and without this script it is all
// there is.

const pad = document.querySelector("[data-pad]");
const field = /** @type {HTMLInputElement | null} */ (pad?.querySelector("[data-value]"));
if (pad && field) start(pad, field);

/**
 * @param {HTMLElement} pad
 * @param {HTMLInputElement} field
 */
function start(pad, field) {
	const keys = /** @type {HTMLElement | null} */ (document.querySelector("[data-keys]"));
	const unit = /** @type {HTMLSelectElement} */ (pad.querySelector("[data-unit]:not([data-pad])"));
	let last = field.value;
	const typed = () => {
		const why = refuse(pad, field.value, placesOf(pad, unit));
		if (why) field.value = last;
		last = field.value;
		say(pad, why);
		show(pad, field, unit);
	};
	field.inputMode = "none";
	field.addEventListener("input", typed);
	unit.addEventListener("change", typed);
	if (keys) {
		keys.hidden = false;
		keys.addEventListener("click", (e) => {
			const key = e.target instanceof Element ? e.target.closest("[data-key]") : null;
			if (!(key instanceof HTMLElement)) return;
			field.value = key.dataset.key === "delete" ? field.value.slice(0, -1) : field.value + key.dataset.key;
			typed();
		});
	}
	document.addEventListener("keydown", (e) => {
		const cancel = pad.querySelector("[data-cancel]");
		if (e.key === "Escape" && cancel instanceof HTMLAnchorElement) cancel.click();
	});
	show(pad, field, unit);
}

/**
 * The number of decimals is the quantity's own; in another unit it is open.
 * @param {HTMLElement} pad
 * @param {HTMLSelectElement} unit
 */
function placesOf(pad, unit) {
	return unit.value === pad.dataset.unit ? Number(pad.dataset.places) : 5;
}

/**
 * A sentence of the pad with its figures in place.
 * @param {HTMLElement} pad
 * @param {string} name
 * @param {Record<string, string | number>} [figures]
 */
function sentence(pad, name, figures = {}) {
	return pad.getAttribute("data-say-" + name).replace(/\{(\w+)\}/g, (_, key) => String(figures[key]));
}

/**
 * Says why a text cannot be the start of a number, "" when it can.
 * @param {HTMLElement} pad
 * @param {string} text
 * @param {number} places
 */
function refuse(pad, text, places) {
	if (text === "") return "";
	if (!/^-?[\d.,]*$/.test(text)) return sentence(pad, "digits");
	const [whole, ...rest] = text.replace("-", "").split(/[.,]/);
	if (rest.length > 1) return sentence(pad, "mark");
	if (whole === "" && rest.length) return sentence(pad, "zero");
	if (/^0\d/.test(whole)) return sentence(pad, "leading");
	if (rest.length && places === 0) return sentence(pad, "whole");
	if (rest.length && rest[0].length > places) return sentence(pad, places === 1 ? "place" : "places", { n: places });
	if (whole.length > 6) return sentence(pad, "long");
	return "";
}

/**
 * @param {HTMLElement} pad
 * @param {string} why
 */
function say(pad, why) {
	const line = pad.querySelector("[data-why]");
	if (line) line.textContent = why;
}

/**
 * Verdict in words, the mark on the ruler, and the number on the button.
 * @param {HTMLElement} pad
 * @param {HTMLInputElement} field
 * @param {HTMLSelectElement} unit
 */
function show(pad, field, unit) {
	const value = field.value === "" ? NaN : Number(field.value.replace(",", "."));
	const own = unit.value === pad.dataset.unit && !Number.isNaN(value);
	const save = pad.querySelector("[data-save]");
	if (save) save.textContent = field.value === "" ? sentence(pad, "save") : sentence(pad, "save-value", { value: field.value });
	const verdict = /** @type {HTMLElement} */ (pad.querySelector("[data-verdict]"));
	const [lower, target, upper] = ["lower", "target", "upper"].map((k) => (pad.dataset[k] ? Number(pad.dataset[k]) : NaN));
	const known = own && !Number.isNaN(lower) && !Number.isNaN(upper);
	verdict.hidden = !known;
	mark(pad, known ? (value - lower) / (upper - lower) : NaN);
	if (!known) return;
	const inside = value >= lower && value <= upper;
	verdict.classList.toggle("out", !inside);
	/** @type {HTMLElement} */ (verdict.querySelector("[data-verdict-in]")).hidden = !inside;
	/** @type {HTMLElement} */ (verdict.querySelector("[data-verdict-out]")).hidden = inside;
	/** @type {HTMLElement} */ (verdict.querySelector("[data-verdict-words]")).textContent = verdictOf(pad, value, lower, target, upper);
}

/**
 * @param {HTMLElement} pad
 * @param {number} value
 * @param {number} lower
 * @param {number} target
 * @param {number} upper
 */
function verdictOf(pad, value, lower, target, upper) {
	let place = sentence(pad, "in");
	if (value < lower) place = sentence(pad, "below");
	if (value > upper) place = sentence(pad, "above");
	if (Number.isNaN(target) || target === 0) return place;
	const off = Math.round(Math.abs((100 * (value - target)) / target));
	if (off === 0) return sentence(pad, "on-target", { place });
	return sentence(pad, value < target ? "under-target" : "over-target", { place, off });
}

/**
 * Moves the mark on the ruler. Where the limits stand is read off the drawing.
 * @param {HTMLElement} pad
 * @param {number} share of the way from the lower to the upper limit
 */
function mark(pad, share) {
	const svg = pad.querySelector("[data-ruler] svg");
	if (!(svg instanceof SVGSVGElement)) return;
	svg.querySelector("[data-mark]")?.remove();
	const limits = svg.querySelectorAll("path.l-limit");
	if (Number.isNaN(share) || limits.length < 2) return;
	const [x0, x1] = [limits[0], limits[1]].map((l) => /** @type {SVGGraphicsElement} */ (l).getBBox().x);
	const x = Math.min(Math.max(x0 + share * (x1 - x0), 14), svg.viewBox.baseVal.width - 14);
	const diamond = document.createElementNS("http://www.w3.org/2000/svg", "path");
	diamond.setAttribute("d", `M${x} 28l11 14-11 14-11-14z`);
	diamond.setAttribute("class", share < 0 || share > 1 ? "f-sheet l-ink" : "f-ink");
	diamond.setAttribute("stroke-width", "2.4");
	diamond.dataset.mark = "";
	svg.append(diamond);
}

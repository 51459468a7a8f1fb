// Gloves bounce: a second tap on the same target right after the first is not
// meant. Digits are typed twice on purpose, so keys wait for a bounce only.
const bounce = 80;
const again = 400;
let tapped = { target: null, at: -Infinity };
document.addEventListener("click", (event) => {
	const target = event.target instanceof Element ? event.target.closest("a[href], button, summary") : null;
	if (!target || event.detail === 0) return; // by keyboard, or by a script
	const wait = target.matches("[data-key]") ? bounce : again;
	if (target === tapped.target && event.timeStamp - tapped.at < wait) {
		event.preventDefault();
		event.stopImmediatePropagation();
		return;
	}
	tapped = { target, at: event.timeStamp };
}, { capture: true });

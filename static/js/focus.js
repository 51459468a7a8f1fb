// What the stream sends replaces pieces of the page; the keyboard stays where it
// was in them.
let kept = null;
document.body.addEventListener("htmx:sseBeforeMessage", (event) => {
	const box = event.target;
	const at = document.activeElement;
	const inside = [...box.querySelectorAll("a, button, summary, [tabindex]")];
	kept = inside.includes(at) && { box, place: inside.indexOf(at), href: at.getAttribute("href") };
});
document.body.addEventListener("htmx:sseMessage", () => {
	if (!kept || document.activeElement !== document.body) return;
	const now = [...kept.box.querySelectorAll("a, button, summary, [tabindex]")];
	const same = now.find((e) => kept.href && e.getAttribute("href") === kept.href) ?? now[kept.place];
	same?.focus({ preventScroll: true });
});

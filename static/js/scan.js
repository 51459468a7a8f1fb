// Reads tags by camera: by the browser's own reader, else by a worker that is
// loaded only now. What was read fills the form that the button stands in;
// whoever changes it by hand has typed it.
const offer = () => {
	if (!navigator.mediaDevices) return; // a page without https
	for (const button of document.querySelectorAll("[data-scan][hidden]")) button.hidden = false;
};
offer();
document.addEventListener("htmx:afterSwap", offer);
document.addEventListener("click", (event) => {
	const button = event.target instanceof Element ? event.target.closest("[data-scan]") : null;
	if (button) scan(button.closest("form"), button);
});
document.addEventListener("input", (event) => {
	const via = event.isTrusted && event.target.form?.elements.via;
	if (via && /^(fluid|fluid_again|lot|expires)$/.test(event.target.name)) via.value = "";
});

async function scan(form, button) {
	const box = form.querySelector("[data-scanner]");
	const video = box.querySelector("video");
	const say = box.querySelector("[role=status]");
	let stream;
	try {
		stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
	} catch {
		box.hidden = false;
		video.hidden = true;
		say.textContent = button.dataset.none;
		return;
	}
	const stop = () => {
		for (const track of stream.getTracks()) track.stop();
		box.hidden = true;
	};
	box.querySelector("[data-stop]").onclick = stop;
	box.hidden = false;
	video.hidden = false;
	say.textContent = button.dataset.hold;
	video.srcObject = stream;
	await video.play();
	const read = await reader(button.dataset.decoder);
	while (stream.active && form.isConnected) {
		const text = await read(video);
		const refused = text && fill(form, text, button);
		if (refused) say.textContent = refused;
		if (text && !refused) break;
		await new Promise((next) => setTimeout(next, 120));
	}
	stop();
	form.querySelector(form.elements.level_percent ? "[name=level_percent]" : "[name=procedure]")?.focus();
}

/** Gives what reads one picture of a video: its text, "" when it shows none. */
async function reader(decoder) {
	if ("BarcodeDetector" in window && (await BarcodeDetector.getSupportedFormats()).includes("qr_code")) {
		const native = new BarcodeDetector({ formats: ["qr_code"] });
		return async (video) => (await native.detect(video))[0]?.rawValue ?? "";
	}
	const worker = new Worker(decoder);
	const canvas = document.createElement("canvas").getContext("2d", { willReadFrequently: true });
	return (video) => {
		const [width, height] = [video.videoWidth, video.videoHeight];
		Object.assign(canvas.canvas, { width, height });
		canvas.drawImage(video, 0, 0);
		return new Promise((done) => {
			worker.onmessage = ({ data }) => done(data);
			worker.postMessage(canvas.getImageData(0, 0, width, height));
		});
	};
}

/** Fills the form; answers why not, "" when it did. */
function fill(form, text, button) {
	const unit = /\/units\/([^/]+)$|^settlemark:unit\/([^/]+)$/.exec(text);
	const lot = /^settlemark:fluid\/([^/]+)\/([^/]+)\/(\d{4}-\d\d-\d\d)$/.exec(text);
	const set = (name, value) => {
		const field = form.elements[name];
		field.value = decodeURIComponent(value);
		field.dispatchEvent(new Event("input", { bubbles: true }));
	};
	if (button.dataset.scan === "unit" && unit) {
		set("unit", unit[1] ?? unit[2]);
		return "";
	}
	if (button.dataset.scan !== "fluid" || !lot) return button.dataset.other;
	const takes = button.dataset.takes;
	const code = decodeURIComponent(lot[1]);
	if (takes && takes !== code) return button.dataset.wrong.replace("%s", code);
	set("fluid", lot[1]);
	set("fluid_again", lot[1]);
	set("lot", lot[2]);
	set("expires", lot[3]);
	form.elements.via.value = "scan";
	return "";
}

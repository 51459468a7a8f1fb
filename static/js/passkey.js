// Passkeys. A box with data-passkey is shown where the browser has them; its
// button asks the device and sends the box's form with the answer. Everything
// works without this, by password and code.

/** @param {ArrayBuffer} bytes */
const text = (bytes) => btoa(String.fromCharCode(...new Uint8Array(bytes))).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");

/** @param {string} base64url */
const bytes = (base64url) => Uint8Array.from(atob(base64url.replaceAll("-", "+").replaceAll("_", "/")), (c) => c.charCodeAt(0));

// Browsers make no passkeys for a bare address, nor where nothing is encrypted.
const possible = Boolean(window.PublicKeyCredential) && window.isSecureContext && !/^[\d.]+$|:/.test(location.hostname);

const hash = (...pieces) => new Blob(pieces).arrayBuffer().then((all) => crypto.subtle.digest("SHA-256", all));

// What a signature is over: what the page shows, what was typed beside it, and
// the form, by its nonce. The server makes the same of what it receives.
/** @param {HTMLElement} box */
async function signed(box) {
	const form = new FormData(box.closest("form"));
	const typed = box.dataset.typed.split(" ").filter(Boolean).map((name) => form.getAll(name).join(",").replaceAll("\r\n", "\n").trim());
	let content = bytes(box.dataset.shown);
	if (typed.join("")) content = await hash("typed/1\0", content, ...typed.map((text) => "\0" + text));
	return hash("sign/1\0", content, form.get("nonce"));
}

/** @param {HTMLElement} box */
async function challengeOf(box) {
	if (box.dataset.shown) return signed(box);
	const answer = await fetch(box.dataset.ask, { method: "POST" });
	if (!answer.ok) throw new Error("no challenge");
	return bytes((await answer.json()).challenge);
}

/** @param {HTMLElement} box */
async function answers(box) {
	const challenge = await challengeOf(box);
	const ids = (box.dataset.ids || "").split(" ").filter(Boolean);
	const said = await navigator.credentials.get({ publicKey: {
		challenge, rpId: box.dataset.rp, userVerification: "required", timeout: 120000,
		allowCredentials: ids.map((id) => ({ type: "public-key", id: bytes(id) })),
	} });
	return {
		credential: said.id, client_data: text(said.response.clientDataJSON),
		authenticator_data: text(said.response.authenticatorData), signature: text(said.response.signature),
	};
}

/** @param {HTMLElement} box */
async function makes(box) {
	const challenge = await challengeOf(box);
	const made = await navigator.credentials.create({ publicKey: {
		challenge, rp: { id: box.dataset.rp, name: "Settlemark" },
		user: { id: new TextEncoder().encode(box.dataset.user), name: box.dataset.login, displayName: box.dataset.name },
		pubKeyCredParams: box.dataset.algorithms.split(" ").map((alg) => ({ type: "public-key", alg: Number(alg) })),
		authenticatorSelection: { residentKey: "preferred", userVerification: "required" },
		excludeCredentials: (box.dataset.ids || "").split(" ").filter(Boolean).map((id) => ({ type: "public-key", id: bytes(id) })),
		attestation: "none", timeout: 120000,
	} });
	return { credential: made.id, client_data: text(made.response.clientDataJSON), attestation: text(made.response.attestationObject) };
}

/** @param {HTMLElement} box */
async function press(box) {
	const field = box.querySelector("input");
	const says = box.querySelector("[role=status]");
	try {
		const said = box.dataset.passkey === "make" ? await makes(box) : await answers(box);
		field.value = JSON.stringify(said);
		box.closest("form").requestSubmit();
	} catch {
		says.textContent = says.dataset.sayFailed;
	}
}

if (possible) {
	for (const box of document.querySelectorAll("[data-passkey]")) {
		box.hidden = false;
		box.querySelector("button").addEventListener("click", () => press(box));
	}
}

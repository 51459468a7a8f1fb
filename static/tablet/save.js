// ---- saving a form -------------------------------------------------------
// While the server answers, forms go to it as they do without this script. When
// it does not, the same fields go into the outbox, under the same id.

/** Whether the run of this page was taken along; null until the disk has said. */
let along = /** @type {boolean | null} */ (null);
const known = (async () => {
  along = Boolean((await takenRuns())[frame()?.dataset.run ?? ""]);
})().catch(() => (along = false));

/** @param {SubmitEvent} event */
function onSubmit(event) {
  const form = /** @type {HTMLFormElement} */ (event.target);
  const run = frame();
  if (form.matches("form.entry[data-form]")) draftSent(form);
  if (form.hasAttribute("data-direct")) return form.removeAttribute("data-direct");
  if (along === null && run && form.matches("form.entry[data-form]")) {
    event.preventDefault();
    event.stopImmediatePropagation();
    void known.then(() => form.requestSubmit(event.submitter));
    return;
  }
  const leaving = /\/sign-out(-everywhere)?$/.test(form.action);
  const entry = along && run && form.matches("form.entry[data-form]") && /\/(entries|photos)$/.test(form.action);
  if (!leaving && !entry && (reached || form.method !== "post")) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  if (leaving) void signOut(form, event.submitter);
  else if (entry) void save(form, event.submitter, run);
  else void online(form, event.submitter);
}

/** Sends a form that needs the server. @param {HTMLFormElement} form @param {HTMLElement | null} submitter */
async function online(form, submitter) {
  if (await contact()) return direct(form, submitter);
  announce(say(form.matches(".entry[data-form]") ? "notAlong" : "needs", { what: submitter?.textContent?.trim() ?? "" }));
}

/** @param {HTMLFormElement} form @param {HTMLElement | null} submitter */
function direct(form, submitter) {
  form.setAttribute("data-direct", "");
  form.requestSubmit(submitter);
}

/**
 * Signing out clears the tablet, so not while entries are only here. Whoever
 * must go can leave them and take only the sign-in and the copies away.
 * @param {HTMLFormElement} form @param {HTMLElement | null} submitter
 */
async function signOut(form, submitter) {
  const n = (await rows()).filter(unsent).length;
  if (n > 0) {
    if (!(await sure(say(n === 1 ? "signOut1" : "signOut", { n }), "stay", "keepHere"))) return;
    const keepHere = document.createElement("input");
    Object.assign(keepHere, { type: "hidden", name: "keep", value: "yes" });
    form.append(keepHere);
    await caches.delete("kept");
    await remove("meta", "taken");
  }
  await online(form, submitter);
}

/** @param {HTMLFormElement} form @param {HTMLElement | null} submitter @param {HTMLElement} run */
async function save(form, submitter, run) {
  if (form.hasAttribute("data-saving")) return; // a second tap
  form.setAttribute("data-saving", "");
  try {
    // Nothing overtakes what waits: its run goes on in pencil until all is ink.
    const before = (await rows()).some((row) => unsent(row) && row.run === run.dataset.run);
    if (reached && !before && (await contact())) {
      direct(form, submitter);
    } else {
      await savePencil(form, run);
    }
  } finally {
    form.removeAttribute("data-saving");
  }
}

/** @param {HTMLFormElement} form @param {HTMLElement} run */
async function savePencil(form, run) {
  const wrong = flaw(form, run);
  if (wrong) return complain(form, wrong);
  const doubt = doubtOf(form);
  if (doubt && !(await sure(doubt))) return;
  const { id, kind = "photo", photo: file, ...data } = /** @type {Record<string, any>} */ (Object.fromEntries(new FormData(form)));
  let photo, row;
  if (file) {
    photo = await (await rare()).shrink(file).catch(() => undefined);
    if (!photo) return complain(form, say("noPicture"));
    data.photo = await sha256(await photo.arrayBuffer());
  }
  try {
    row = await write({ id, run, type: kind, data, photo });
  } catch (error) {
    return complain(form, say(error instanceof DOMException && error.name === "QuotaExceededError" ? "noRoom" : "notKept"));
  }
  await forgetDraft(form);
  complain(form, "");
  /** @type {HTMLInputElement} */ (form.elements.namedItem("id")).value = newID();
  form.reset();
  await changed();
  goOn(form, row);
  void flush();
}

/** Why a form can't be taken, "" when it can. The server asks again, and more. */
function flaw(form, run) {
  for (const field of form.elements) {
    if (!(field instanceof HTMLInputElement || field instanceof HTMLTextAreaElement || field instanceof HTMLSelectElement) || field.type === "hidden") continue;
    const label = field.labels?.[0]?.firstChild?.textContent?.trim() ?? "";
    const value = field instanceof HTMLInputElement && field.type === "radio" ? (new FormData(form).get(field.name) ?? "") : field.value.trim();
    if (field.required && value === "") return say("fill", { label: field.type === "radio" ? (field.closest("fieldset")?.querySelector("legend")?.textContent ?? label) : label });
    if (field.inputMode === "decimal" && value !== "" && !/^-?\d+([.,]\d+)?$/.test(String(value))) return say("noNumber", { value: String(value) });
  }
  const data = new FormData(form), text = (name) => String(data.get(name) ?? "").trim();
  if (text("fluid") !== text("fluid_again") && data.has("fluid_again")) return say("codesDiffer");
  if (data.has("fluid") && !(run.dataset.fluids ?? "").split(" ").includes(text("fluid"))) return say("unknownCode", { code: text("fluid") });
  if (text("taken_at") && !/^([01]?\d|2[0-3]):[0-5]\d(:[0-5]\d)?$/.test(text("taken_at"))) return say("noTime", { value: text("taken_at") });
  if (text("taken_at") && !text("taken_why")) return say("fill", { label: form.querySelector("[name=taken_why]")?.labels?.[0]?.firstChild?.textContent?.trim() ?? "" });
  return "";
}

/** A reading far from the one before may be a slip: 15 %, as the server asks. */
function doubtOf(form) {
  const pad = /** @type {HTMLElement | null} */ (document.querySelector("[data-pad]"));
  const data = new FormData(form), value = Number(String(data.get("value") ?? "").replace(",", ".")), last = Number(pad?.dataset.last);
  if (!pad?.dataset.last || !data.has("value") || data.get("unit") !== pad.dataset.unit || !last) return "";
  return Math.abs(value - last) > 0.15 * Math.abs(last) ? say("farOff", { value: String(data.get("value")), last: pad.dataset.lastSaid }) : "";
}

/**
 * Asks a question with two equal answers.
 * @param {string} question @param {string} [no] @param {string} [yes]
 * @returns {Promise<boolean>}
 */
function sure(question, no = "typeAgain", yes = "asItIs") {
  const dialog = /** @type {HTMLDialogElement} */ (document.getElementById("sure"));
  /** @type {HTMLElement} */ (dialog.querySelector("p")).textContent = question;
  [no, yes].forEach((name, i) => (dialog.querySelectorAll("button")[i].textContent = say(name)));
  dialog.returnValue = "";
  dialog.showModal();
  return new Promise((resolve) => dialog.addEventListener("close", () => resolve(dialog.returnValue === "yes"), { once: true }));
}

/** The one sentence above a form that was not taken. @param {HTMLFormElement} form @param {string} sentence */
function complain(form, sentence) {
  form.querySelector("[data-complaint]")?.remove();
  if (!sentence) return;
  const note = document.createElement("p");
  note.className = "note bad";
  note.role = "alert";
  note.dataset.complaint = "";
  note.textContent = sentence;
  form.prepend(note);
  note.scrollIntoView({ block: "nearest" });
}

/** To the next line, or back to where the form was opened from. @param {HTMLFormElement} form @param {Row} row */
function goOn(form, row) {
  const card = /** @type {HTMLElement | null} */ (form.closest(".card[data-section]"));
  if (!card) {
    if (document.querySelector("[data-pad]")) location.assign(`/runs/${row.run}`);
    else announce(say("inPencil"));
    return;
  }
  const open = [...card.querySelectorAll("details.line.todo:not(.in-pencil)")];
  const next = open[0] ?? null;
  if (next instanceof HTMLDetailsElement) {
    next.open = true;
    /** @type {HTMLElement | null} */ (next.querySelector("summary"))?.focus();
    return;
  }
  form.closest("details.line")?.removeAttribute("open");
  if (shutNext(card)) announce(say("sectionInPencil"));
}


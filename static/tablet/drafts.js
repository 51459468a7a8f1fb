// ---- what is being typed -------------------------------------------------
// Every key press of a form is kept until it is saved, with the form's id: sent
// twice it is stored once.

/** @param {HTMLFormElement} form */
const draftName = (form) => `draft ${person} ${location.pathname} ${form.dataset.form} ${new FormData(form).get("quantity") ?? ""}`;

/** Forms that somebody has begun on this page. @type {WeakSet<HTMLFormElement>} */
const begun = new WeakSet();

/** @param {Event} event */
function keepDraft(event) {
  const form = event.target instanceof Element ? event.target.closest("form.entry[data-form]") : null;
  if (!(form instanceof HTMLFormElement) || !person) return;
  begun.add(form);
  const values = Object.fromEntries([...new FormData(form)].filter(([, value]) => typeof value === "string"));
  void put("meta", { values, at: serverNow() }, draftName(form));
}

/** @param {HTMLFormElement} form */
const forgetDraft = (form) => remove("meta", draftName(form));

// The draft of the form that was sent last: it goes once a page says that its
// entry is stored, else the next entry would take its id and be no new one.
const sentDraft = "settlemark-sent-draft";

/** @param {HTMLFormElement} form */
const draftSent = (form) => sessionStorage.setItem(sentDraft, draftName(form));

async function forgetSent() {
  const name = sessionStorage.getItem(sentDraft);
  if (!name || !(document.querySelector("[data-undo]") || /[?&]saved=/.test(location.search))) return;
  sessionStorage.removeItem(sentDraft);
  await remove("meta", name);
}

/** Puts what was typed back into forms that are still as they were rendered. */
async function restoreDrafts() {
  await forgetSent();
  for (const form of /** @type {HTMLFormElement[]} */ (all("form.entry[data-form]"))) {
    const draft = await get("meta", draftName(form));
    if (!draft || begun.has(form)) continue;
    if (document.querySelector("[data-undo]") || serverNow() - draft.at > 12 * hour) {
      await forgetDraft(form); // it was saved, or is of another shift
      continue;
    }
    if (form.querySelector("[aria-invalid=true]")) continue; // the server shows it again
    for (const [name, value] of Object.entries(draft.values)) restore(form, name, value);
    form.closest("details")?.setAttribute("open", "");
  }
}

/** @param {HTMLFormElement} form @param {string} name @param {string} value */
function restore(form, name, value) {
  const field = form.elements.namedItem(name);
  if (field instanceof RadioNodeList) {
    field.value = value;
  } else if (field instanceof HTMLInputElement || field instanceof HTMLTextAreaElement || field instanceof HTMLSelectElement) {
    if (["checkbox", "radio"].includes(field.type)) /** @type {HTMLInputElement} */ (field).checked = field.value === value;
    else field.value = value;
    if (field.type !== "hidden") field.dispatchEvent(new Event("input", { bubbles: true }));
  }
}


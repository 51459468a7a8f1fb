// ---- pencil on the page --------------------------------------------------
// The script adds marks to what the server has drawn; it draws nothing anew.

/** Shows what of this tablet is not ink yet. */
async function showPencil() {
  const here = await rows();
  const waiting = here.filter(unsent);
  for (const chip of all("[data-pencil]")) {
    chip.hidden = waiting.length === 0;
    chip.textContent = waiting.length === 1 ? say("onlyHere1") : say("onlyHere", { n: waiting.length });
  }
  const others = waiting.filter((row) => row.by !== person || signInNeeded);
  const first = others[0];
  if (first && reached) announce(say(others.length === 1 ? "signInAs1" : "signInAs", { name: first.name, n: others.length }), signIn());
  const run = frame()?.dataset.run;
  for (const line of all(".line.in-pencil")) line.classList.remove("in-pencil");
  for (const old of all("[data-pencil-mark]")) old.remove();
  const inPencil = here.filter((row) => row.run === run && row.state !== "ink");
  for (const place of all("[data-after-photo]")) place.hidden = !inPencil.some((row) => row.data.photo && row.data.step === place.dataset.afterPhoto);
  inPencil.forEach(markRow);
  if (inPencil.length > 0) void rare().then(({ draw }) => draw(), () => {});
  for (const card of all(".card[data-section]")) shutNext(card);
}

/** Where to sign in, "" where the reader is there or is signed in as somebody else. */
const signIn = () => ((person && !signInNeeded) || location.pathname === "/sign-in" ? "" : "/sign-in?then=" + encodeURIComponent(location.pathname + location.search));

/** @param {Row} row */
function markRow(row) {
  const line = row.data.step ? document.getElementById("line-" + row.data.step) : null;
  // A sample is answered by its code, not by the photo that comes before.
  if (line && !(row.data.photo && document.getElementById(row.data.step + "-text"))) line.classList.add("in-pencil");
  const place = row.data.step ? document.getElementById("found-" + row.data.step) : null;
  const mark = document.createElement("span");
  mark.className = "pencil-mark";
  mark.dataset.pencilMark = "";
  const what = document.createElement("b"), when = document.createElement("small");
  what.textContent = words(row);
  when.textContent = row.state === "pencil" ? say("onTablet", { time: siteTime(row.at) }) : say(row.state, { why: row.why });
  mark.append(what, when);
  if (row.data.photo) mark.dataset.photo = row.data.photo;
  if (place) place.append(mark);
  else if (row.type === "reading") tableRow(row);
}

/** What was written, in a few words. @param {Row} row */
function words({ type, data }) {
  const value = data.value ? `${data.value} ${(data.unit ?? "").replace(".", "·")}` : data.volume_ml ? `${data.volume_ml} mL` : "";
  return value || data.text || data.choice || data.fluid || data.fault || data.how || data.route || data.state || say("kind" + type[0].toUpperCase() + type.slice(1)) || type;
}

/** A reading in pencil, above those that are recorded. @param {Row} row */
function tableRow(row) {
  const body = document.querySelector("#entries tbody");
  if (!body || row.data.quantity !== frame()?.dataset.viscosity) return;
  const line = document.createElement("tr");
  line.dataset.pencilMark = "";
  line.className = "pencil-mark";
  for (const text of [siteTime(row.at), row.data.value ?? "", "", say("onTablet", { time: siteTime(row.at) }), row.name]) {
    const cell = document.createElement("td");
    cell.textContent = text;
    line.append(cell);
  }
  body.prepend(line);
}

/**
 * Opens the card after one whose lines are all answered, in ink or in pencil. A
 * gate opens nothing here: the server judges it. True when nothing opened.
 * @param {HTMLElement} card
 */
function shutNext(card) {
  const next = card.nextElementSibling;
  const lines = [...card.querySelectorAll(".line")];
  if (card.hasAttribute("data-shut") || !(next instanceof HTMLElement) || !next.hasAttribute("data-shut") || card.hasAttribute("data-with-hold")) return true;
  if (!lines.every((l) => l.matches(".done, .ruling, .in-pencil"))) return true;
  next.removeAttribute("data-shut");
  next.querySelector(".note.locked")?.remove();
  const link = document.querySelector(`.stick a[data-section="${next.dataset.section}"]`);
  if (link instanceof HTMLElement && !card.hidden) link.click();
  return false;
}


// ---- the page "On this tablet" --------------------------------------------

/** @param {HTMLElement} place @param {unknown[]} rows @param {(row: HTMLElement, of: any) => void} fill */
function fillRows(place, rows, fill) {
  const list = place.querySelector("[data-rows]");
  const blank = place.querySelector("template");
  if (!list || !blank) return;
  place.hidden = rows.length === 0;
  list.replaceChildren(...rows.map((of) => {
    const row = /** @type {HTMLElement} */ (blank.content.firstElementChild?.cloneNode(true));
    fill(row, of);
    return row;
  }));
}

export async function showTablet() {
  const page = /** @type {HTMLElement | null} */ (document.querySelector("[data-on-tablet]"));
  if (!page) return;
  const contactLine = page.querySelector("[data-contact]");
  if (contactLine) contactLine.textContent = say(reached ? "reached" : "notReached");
  const taken = Object.values(await takenRuns());
  fillRows(/** @type {HTMLElement} */ (page.querySelector("[data-taken-runs]")), taken, (row, run) => {
    const link = /** @type {HTMLAnchorElement} */ (row.querySelector("[data-link]"));
    link.href = run.pages[0];
    link.textContent = say("runRow", run);
    /** @type {HTMLElement} */ (row.querySelector("[data-detail]")).textContent = say("runOf", { name: run.name, time: siteTime(run.at, run.zone) });
  });
  /** @type {HTMLElement} */ (page.querySelector("[data-nothing-taken]")).hidden = taken.length > 0;
  const here = await rows();
  fillRows(/** @type {HTMLElement} */ (page.querySelector("[data-entries]")), here, fillEntry);
  /** @type {HTMLElement} */ (page.querySelector("[data-no-entries]")).hidden = here.length > 0;
  /** @type {HTMLElement} */ (page.querySelector("[data-try]")).hidden = !here.some(unsent);
}

/** One entry, its age, and why it is still here. @param {HTMLElement} item @param {Row} row */
function fillEntry(item, row) {
  const part = (/** @type {string} */ name) => /** @type {HTMLElement} */ (item.querySelector(`[data-${name}]`));
  item.classList.add(row.state);
  part("what").textContent = `${row.unit}: ${words(row)}`;
  if (row.data.photo) void showPhoto(part("what"), row.data.photo);
  part("age").textContent = say("writtenBy", { name: row.name, time: siteTime(row.at, row.zone), age: Math.max(0, Math.round((serverNow() - row.at) / 60_000)) });
  part("why").textContent = row.state === "pencil"
    ? say(!reached ? "waits" : row.by === person && !signInNeeded ? "sending" : "waitsFor", { name: row.name })
    : say(row.state, { why: row.why });
  const mine = row.by === person && reached;
  act(part("again"), row.state === "refused" && mine, () => send(row));
  act(part("leave"), row.state === "refused" && mine, () => send(row, "leave"));
  act(part("done"), row.state === "aside", () => forget(row));
}

/** @param {HTMLElement} button @param {boolean} offered @param {() => Promise<unknown>} what */
function act(button, offered, what) {
  button.hidden = !offered;
  button.addEventListener("click", async () => {
    await what();
    await flush();
  });
}


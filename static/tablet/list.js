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

async function showTablet() {
  const page = /** @type {HTMLElement | null} */ (document.querySelector("[data-on-tablet]"));
  if (!page) return;
  const contactLine = page.querySelector("[data-contact]");
  if (contactLine) contactLine.textContent = say(reached ? "reached" : "notReached");
  const taken = Object.values(await takenRuns());
  fillRows(/** @type {HTMLElement} */ (page.querySelector("[data-taken-runs]")), taken, (row, run) => {
    const link = /** @type {HTMLAnchorElement} */ (row.querySelector("[data-link]"));
    link.href = run.pages[0];
    link.textContent = say("runRow", run);
    /** @type {HTMLElement} */ (row.querySelector("[data-detail]")).textContent = say("runOf", { name: run.name, time: siteTime(run.at) });
  });
  /** @type {HTMLElement} */ (page.querySelector("[data-nothing-taken]")).hidden = taken.length > 0;
}


// ---- pencil on the server's drawings ---------------------------------------

/** Draws what is only on this tablet, where the page stands now. */
export function draw() {
  for (const mark of all("[data-photo]")) void showPhoto(mark, mark.dataset.photo ?? "");
  void drawReadings();
}

let turn = 0;

async function drawReadings() {
  const mine = ++turn, page = frame();
  const here = (await rows()).filter((row) => row.run === page?.dataset.run && row.state !== "ink" && row.type === "reading" && row.data.quantity === page?.dataset.viscosity);
  if (mine !== turn) return; // a later one draws
  for (const old of all("[data-pencil-drawn]")) old.remove();
  for (const chart of all("svg[data-t0]")) for (const row of here) drawReading(chart, row);
  const line = document.querySelector(".biglabel"), last = here.at(-1);
  if (!line || !last) return;
  const words = document.createElement("span");
  words.className = "pencil-mark";
  words.textContent = say(here.length === 1 ? "check1" : "checks", { n: here.length, value: last.data.value ?? "", time: siteTime(last.at) });
  addMark(line, words);
}

/** @param {Element} place @param {Element} mark */
function addMark(place, mark) {
  mark.toggleAttribute("data-pencil-drawn", true);
  mark.toggleAttribute("data-pencil-mark", true);
  place.append(mark);
}

/**
 * A dashed hollow dot where the reading lies, at the edge if it lies beyond, and
 * a grey wedge on the hold bar. A value in another unit is in the table only.
 * @param {HTMLElement} chart  @param {Row} row
 */
function drawReading(chart, row) {
  const [t0, t1, x0, x1, v0, v1, y0, y1, bar] = ["t0", "t1", "x0", "x1", "v0", "v1", "y0", "y1", "bar"].map((name) => Number(chart.dataset[name]));
  const along = (/** @type {number} */ share) => Math.min(1, Math.max(0, share));
  const x = x0 + (x1 - x0) * along((row.at - t0) / (t1 - t0));
  const value = Number((row.data.value ?? "").replace(",", "."));
  if (row.data.unit === chart.dataset.unit && Number.isFinite(value)) {
    addMark(chart, shape("circle", { cx: x, cy: y0 + (y1 - y0) * along((value - v0) / (v1 - v0)), r: 6.5, class: "f-sheet l-ink-3", "stroke-width": 2.2, "stroke-dasharray": "3.5 2.5" }));
  }
  addMark(chart, shape("path", { d: `M${x - 5} ${bar}L${x} ${bar + 18}L${x + 5} ${bar}Z`, class: "f-ink-3" }));
}

/** @param {string} name @param {Record<string, string | number>} attributes */
function shape(name, attributes) {
  const e = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) e.setAttribute(key, String(value));
  return e;
}

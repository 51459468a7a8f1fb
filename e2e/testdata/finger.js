// What a person can see and touch. Every function answers null while the thing
// is not there yet; the test asks again.
const flat = (text) => text.replace(/\s+/g, " ").trim();
const visible = (e) => e.checkVisibility({ visibilityProperty: true, opacityProperty: true }) && e.getClientRects().length > 0;
const words = (e) => flat(e.getAttribute("aria-label") || e.innerText || e.textContent);

// The best element of a list for a label: the very words, else the beginning.
// "Engineer > every site" is the "every site" inside what begins with "Engineer".
const named = (elements, path) => {
  const [label, within] = path.split(" > ").reverse();
  const inside = (e) => { for (let p = e.parentElement; p && p.id !== "main"; p = p.parentElement) if (words(p).startsWith(within)) return true; };
  const shown = [...elements].filter((e) => visible(e) && (!within || inside(e)));
  return shown.find((e) => words(e) === label) || shown.find((e) => words(e).startsWith(label)) || null;
};

const sees = (text) => flat(document.body.innerText).includes(flat(text));

const textOf = (selector) => {
  const e = document.querySelector(selector);
  return e && flat(e.innerText);
};

// The stream is open: the page has heard from it.
const live = () => [...document.querySelectorAll("[data-live]")].some((e) => e.textContent.startsWith("Live, ")) || null;

// Every tile of a wall is dashed, and the page says since when.
const notLive = () => document.body.classList.contains("not-live")
  && [...document.querySelectorAll("[data-live]")].every((e) => /^Not live since \d\d:\d\d$/.test(e.textContent))
  && [...document.querySelectorAll(".tiles .tile")].every((e) => getComputedStyle(e).borderTopStyle === "dashed") || null;

const control = (label) => {
  const l = named(document.querySelectorAll("label"), label);
  return (l && l.control) || null;
};

const where = (label) => {
  const e = ["button:not([aria-disabled=true])", "a[href]", "summary", "label"]
    .map((kind) => named(document.querySelectorAll(kind), label)).find((found) => found);
  if (!e) return null;
  e.scrollIntoView({ block: "center", behavior: "instant" });
  const box = e.getClientRects()[0];
  const x = box.x + box.width / 2, y = box.y + box.height / 2;
  const top = document.elementFromPoint(x, y);
  if (!top || !(e.contains(top) || top.contains(e))) return null; // something lies over it
  return { x, y };
};

const ticked = (label) => control(label)?.checked || null;

const enter = (label) => {
  const field = control(label);
  if (!field || field.readOnly || field.disabled) return null;
  field.scrollIntoView({ block: "center", behavior: "instant" });
  field.focus();
  if (field.select) field.select();
  if (field.value) document.execCommand("delete");
  return document.activeElement === field;
};

const holds = (label, text) => control(label)?.value === text || null;

const choose = (label, option) => {
  const field = control(label);
  if (!field) return null;
  if (field.tagName === "SELECT") {
    const o = [...field.options].find((o) => flat(o.text) === option) || [...field.options].find((o) => flat(o.text).startsWith(option));
    if (!o) return null;
    field.value = o.value;
  } else {
    field.value = option;
  }
  field.dispatchEvent(new Event("input", { bubbles: true }));
  field.dispatchEvent(new Event("change", { bubbles: true }));
  return true;
};

const fieldID = (label) => control(label)?.id || null;

// mark and changed tell whether the page has become another since the tap.
const marks = () => [document.documentElement, ...document.querySelectorAll("#main > *")];
const mark = () => {
  if (document.readyState !== "complete") return null;
  for (const e of marks()) e.dataset.before = "tap";
  return true;
};
const changed = () => (document.readyState === "complete" && document.querySelector("#main, body") &&
  !document.querySelector("#main form.htmx-request") && marks().slice(1).every((e) => e.dataset.before !== "tap")) || null;

// flaws of a page that can be measured: sideways scroll, headings, targets.
const deskTarget = 44;
const keyTarget = 104;
const flaws = (least) => {
  const found = [];
  const root = document.documentElement;
  if (root.scrollWidth > root.clientWidth) {
    const wide = [...document.querySelectorAll("body *")].filter((e) => visible(e) && !e.closest("thead, .vh") && e.getBoundingClientRect().right > root.clientWidth + 1);
    found.push(`scrolls sideways by ${root.scrollWidth - root.clientWidth} px: ${wide.slice(-3).map(brief).join(", ")}`);
  }
  const headings = [...document.querySelectorAll("h1")].filter((e) => e.checkVisibility());
  if (headings.length !== 1) found.push(`has ${headings.length} h1: ${headings.map(words).join(" | ")}`);
  for (const e of document.querySelectorAll("a[href], button, input, select, textarea, summary")) {
    const target = e.matches("[type=checkbox], [type=radio]") ? e.closest("label") || e : e;
    const box = target.getBoundingClientRect();
    if (e.type === "hidden" || !visible(target) || box.width <= 1 || box.height <= 1 || inline(target) || target.matches(".skip")) continue;
    const need = target.matches(".key1") ? keyTarget : least;
    // The stick's notches share the width of a phone; the way on is below them.
    const width = target.closest(".stick") ? 24 : need === keyTarget ? need : Math.min(need, deskTarget);
    if (box.height < need - 0.5 || box.width < width - 0.5) {
      found.push(`target of ${Math.round(box.width)} × ${Math.round(box.height)}, needs ${need}: ${brief(target)}`);
    }
  }
  return found;
};

const brief = (e) => `<${e.tagName.toLowerCase()}${e.id ? "#" + e.id : ""}${typeof e.className === "string" && e.className ? "." + e.className.trim().replace(/\s+/g, ".") : ""}> ${words(e).slice(0, 40)}`;

// A link inside a sentence need not be large.
const inline = (e) => e.matches("a") && getComputedStyle(e).display === "inline";

const ready = () => (document.readyState === "complete" && document.fonts.status === "loaded" && !document.querySelector("[data-take][hidden]")) || null;

// standing is what a failure shows: where the page is, and what stands on it.
const standing = () => [
  document.readyState,
  ...[...document.querySelectorAll(".htmx-request, .htmx-swapping, .htmx-settling, [data-before]")].map((e) => "still waiting: " + brief(e)),
  document.body.innerText,
].join("\n");

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
const live = () => [...document.querySelectorAll("[data-live]")].some((e) => e.textContent.startsWith("Live at")) || null;

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
const changed = () => document.readyState === "complete" && !document.querySelector(".htmx-request, .htmx-swapping, .htmx-settling") &&
  (document.querySelector("#main, body") && marks().slice(1).every((e) => e.dataset.before !== "tap")) || null;

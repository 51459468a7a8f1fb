// What a page must keep to that can be measured. Each function answers a list
// of sentences, empty when all is well.

// axe's rules about colour are all that another light can break.
const colours = { runOnly: { type: "rule", values: ["color-contrast", "link-in-text-block"] } };
const broken = async (onlyColours) => {
  const options = { resultTypes: ["violations"], iframes: false, preload: false, ...(onlyColours ? colours : {}) };
  const { violations } = await axe.run(document, options);
  return violations.flatMap((v) => v.nodes.slice(0, 3).map((n) => `axe ${v.id}: ${flat(n.failureSummary.split("\n").slice(1, 3).join(" "))} at ${n.target} ${n.html.slice(0, 140)}`));
};

// In which light the page stands. The day is the one the browser is asked for.
const light = (name) => {
  document.documentElement.dataset.light = name;
  return true;
};

// The spacing that WCAG 1.4.12 lets a reader ask for.
const spacing = new CSSStyleSheet();
spacing.replaceSync("*{line-height:1.5!important;letter-spacing:.12em!important;word-spacing:.16em!important}p{margin-bottom:2em!important}");
const spread = (on) => {
  document.adoptedStyleSheets = on ? [spacing] : [];
  return true;
};

// Text that is cut off: its box ends inside one that hides what hangs out.
const clipped = () => {
  const found = new Set();
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node; (node = texts.nextNode()); ) {
    const e = node.parentElement;
    if (!flat(node.data) || !visible(e) || e.closest(".vh, svg, .skip, select, textarea")) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    const box = range.getBoundingClientRect();
    for (let p = e; p && p !== document.body; p = p.parentElement) {
      const style = getComputedStyle(p);
      if (style.clipPath === "inset(50%)") break; // for readers only
      if (style.webkitLineClamp !== "none") break; // ends in an ellipsis; all of it stands where the row leads
      const frame = p.getBoundingClientRect();
      const hides = (overflow) => overflow === "hidden" || overflow === "clip";
      if ((hides(style.overflowX) && (box.right > frame.right + 1.5 || box.left < frame.left - 1.5)) ||
          (hides(style.overflowY) && (box.bottom > frame.bottom + 2.5 || box.top < frame.top - 2.5))) {
        found.add(`cuts off "${flat(node.data).slice(0, 40)}" in ${brief(p)}`);
        break;
      }
      if (style.overflowX !== "visible" || style.position === "fixed") break; // it scrolls
    }
  }
  return [...found].slice(0, 5);
};

const sideways = () => {
  const root = document.documentElement;
  return root.scrollWidth > root.clientWidth ? [`scrolls sideways by ${root.scrollWidth - root.clientWidth} px`] : [];
};

// What the tab key must come by, in this order. A group of radio buttons is one.
const stops = () => {
  const groups = new Set();
  return [...document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex='0']")].filter((e) => {
    if (e.type === "hidden" || e.disabled || e.tabIndex < 0 || !e.checkVisibility({ visibilityProperty: true })) return false;
    if (e.type !== "radio") return true;
    const group = [...document.getElementsByName(e.name)].filter((r) => r.form === e.form);
    if (groups.has(group[0])) return false;
    groups.add(group[0]);
    return true;
  });
};

// Where the keyboard is, and whether a person sees that.
const focused = () => {
  const e = document.activeElement;
  if (!e || e === document.body || e === document.documentElement) return { at: -1, flaws: [] };
  const at = stops().findIndex((s) => s === e || (s.type === "radio" && s.name === e.name && s.form === e.form));
  const flaws = [];
  const ringed = (x) => {
    if (!x) return false;
    const style = getComputedStyle(x);
    return (style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2) || style.boxShadow !== "none";
  };
  if (![e, e.nextElementSibling, e.parentElement].some(ringed)) flaws.push(`no ring on ${brief(e)}`);
  const box = e.getBoundingClientRect();
  const top = document.elementFromPoint(Math.min(Math.max(box.x + box.width / 2, 0), innerWidth - 1), box.y + Math.min(box.height / 2, 40));
  if (!top || !(e.contains(top) || top.contains(e) || e.labels?.[0]?.contains(top))) flaws.push(`${brief(e)} is hidden under ${top ? brief(top) : "the edge"}`);
  return { at, flaws, stop: brief(e), parts: e.matches("[type=date]") };
};

// Where the signs and the edges of controls are, in what the window shows.
const signs = () => [...document.querySelectorAll("svg, .stick li, .tile, button, .btn, input:not([type=hidden]), select, summary")].flatMap((e) => {
  const box = e.getBoundingClientRect();
  const seen = visible(e) && !e.closest(".vh") && box.width >= 8 && box.height >= 8
    && box.left >= 0 && box.top >= 0 && box.right <= innerWidth && box.bottom <= innerHeight
    && e.contains(document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2));
  return seen ? [{ what: brief(e), x: box.x, y: box.y, width: box.width, height: box.height }] : [];
});

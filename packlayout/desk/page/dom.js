// Small helpers for the document. Text goes in as text: nothing from a file is ever read as markup.

const SVG = "http://www.w3.org/2000/svg";

function fill(node, props, kids) {
  for (const [name, value] of Object.entries(props)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (name === "checked" || name === "value" || name === "disabled" || name === "open") node[name] = value;
    else node.setAttribute(name, value === true ? "" : String(value));
  }
  node.append(...kids.flat().filter((kid) => kid !== null && kid !== undefined && kid !== false));
  return node;
}

export function el(tag, props = {}, ...kids) {
  return fill(document.createElement(tag), props, kids);
}

export function svg(tag, props = {}, ...kids) {
  return fill(document.createElementNS(SVG, tag), props, kids);
}

/** A finger on a node that things are dragged in is the node's alone: the run-out of a scroll would swallow the next tap. */
export function ownTouches(node) {
  const take = (event) => {
    event.preventDefault();
    node.focus({ preventScroll: true });
  };
  node.addEventListener("touchstart", take, { passive: false });
}

export const byId = (id) => document.getElementById(id);

/** Replace what a node holds and leave the keyboard focus where it was: by `data-key`. */
export function rebuild(node, ...kids) {
  const key = node.contains(document.activeElement) ? document.activeElement.dataset.key : undefined;
  node.replaceChildren(...kids.flat().filter((kid) => kid !== null && kid !== undefined && kid !== false));
  if (key === undefined) return;
  for (const other of node.querySelectorAll("[data-key]")) {
    if (other.dataset.key === key && !other.disabled) {
      other.focus({ preventScroll: true });
      return;
    }
  }
}

/** A figure for people: a true minus sign, no negative nought. */
export function figure(value, places = 1) {
  if (value === null || value === undefined) return "–";
  const text = (Math.round(value * 10 ** places) / 10 ** places + 0).toFixed(places);
  return text.replace("-", "−");
}

/** A change bears its sign. */
export function change(value, places = 1) {
  const text = figure(value, places);
  return Number(value.toFixed(places)) > 0 ? `+${text}` : text;
}

/** A value with its tolerance. */
export function withTolerance([value, tolerance], places = 1) {
  return tolerance ? `${figure(value, places)} ± ${figure(tolerance, places)}` : figure(value, places);
}

/** The sign and word of a verdict: colour is never the only one. */
export const VERDICTS = {
  fail: ["✕", "fails"],
  unknown: ["?", "not known"],
  marginal: ["!", "near its limit"],
  pass: ["✓", "holds"],
};

export function verdict(name) {
  const [sign, word] = VERDICTS[name];
  return el("span", { class: `verdict ${name}` }, el("span", { "aria-hidden": "true" }, sign), ` ${word}`);
}

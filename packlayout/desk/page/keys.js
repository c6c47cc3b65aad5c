// The keyboard: arrows push, other keys act on the chosen thing, undo and redo work everywhere.

import { byId } from "./dom.js";
import { nudge } from "./parts.js";
import { desk, select, tell, thing, things } from "./store.js";

const PLAN = { ArrowLeft: [-1, 0, 0], ArrowRight: [1, 0, 0], ArrowUp: [0, 1, 0], ArrowDown: [0, -1, 0], PageUp: [0, 0, 1], PageDown: [0, 0, -1] };
const SIDE = { ...PLAN, ArrowUp: [0, 0, 1], ArrowDown: [0, 0, -1], PageUp: [0, 1, 0], PageDown: [0, -1, 0] };
const STEPS = { 1: 1, 2: 5, 3: 25 };

function next(way) {
  const names = things().map((one) => one.name);
  if (!names.length) return;
  const at = names.indexOf(desk.selected);
  const name = names[(at + way + names.length) % names.length];
  select(name);
  const one = thing(name);
  byId("live").textContent = `${name}, ${one.kind}, in ${one.zone}, at ${one.lo.map((v) => Math.round(v)).join(", ")} mm${one.locked ? ", locked" : ""}`;
}

function act(link, event) {
  const one = desk.selected ? thing(desk.selected) : null;
  const target = desk.selected;
  switch (event.key) {
    case "n": case "N": next(1); return true;
    case "p": case "P": next(-1); return true;
    case "1": case "2": case "3":
      desk.step = STEPS[event.key];
      byId("live").textContent = `step ${desk.step} mm`;
      tell("selected");
      return true;
    case "r": case "R": if (one) link.ask("turn", { target, quarters: event.key === "R" ? -1 : 1 }); return true;
    case "l": case "L": if (one) link.ask("lock", { target, locked: !one.locked }); return true;
    case "s": case "S": if (one) link.ask("snap", { target }); return true;
    case "Delete": if (one) link.ask("take out", { target }); return true;
    default: return false;
  }
}

export function startKeys(link) {
  document.addEventListener("keydown", (event) => {
    const command = event.ctrlKey || event.metaKey;
    const writing = event.target.matches("input[type=number], input[type=text]");
    if (command && !event.altKey && event.key.toLowerCase() === "z" && !writing) {
      event.preventDefault();
      link.ask(event.shiftKey ? "redo" : "undo");
    } else if (command && !event.altKey && event.key.toLowerCase() === "y" && !writing) {
      event.preventDefault();
      link.ask("redo");
    }
  });
  for (const id of ["space-view", "plan-view", "side-view"]) {
    byId(id).addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      // with Shift the arrows turn the view in space
      const way = event.shiftKey && id === "space-view" ? null : (id === "side-view" ? SIDE : PLAN)[event.key];
      if (way) {
        event.preventDefault();
        nudge(way);
      } else if (act(link, event)) {
        event.preventDefault();
      }
    });
  }
}

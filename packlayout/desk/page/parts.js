// The table of things and the form of the one that is chosen.

import { byId, change, el, figure, rebuild } from "./dom.js";
import { desk, middle, on, select, size, tell, thing, things, whole } from "./store.js";

const AXES = ["x, rearward", "y, to the right", "z, up"];
const WAYS = [
  ["Forward", [-1, 0, 0], "x −"],
  ["Rearward", [1, 0, 0], "x +"],
  ["Left", [0, -1, 0], "y −"],
  ["Right", [0, 1, 0], "y +"],
  ["Up", [0, 0, 1], "z +"],
  ["Down", [0, 0, -1], "z −"],
];
let link;

const place = (one) => one.lo.map((value) => figure(value, 1)).join(", ");

function row(one, inner = false) {
  const chosen = desk.selected === one.name;
  const name = el(
    "button",
    {
      type: "button",
      class: "pick",
      "aria-pressed": String(chosen),
      "data-key": `thing ${one.name}`,
      onclick: () => select(one.name),
    },
    el("span", { class: "swatch", "data-kind": one.kind, "aria-hidden": "true" }),
    one.name,
  );
  return el(
    "tr",
    { class: [inner ? "inner" : "", chosen ? "chosen" : ""].join(" ").trim() || null },
    el("th", { scope: "row" }, name),
    el("td", {}, one.kind),
    el("td", {}, one.zone),
    el("td", {}, place(one)),
    el("td", {}, figure(one.mass_kg)),
    el("td", {}, one.locked ? "locked" : ""),
  );
}

function rows() {
  const open = whole(desk.selected);
  return things().flatMap((one) => [row(one), ...(open?.name === one.name ? one.modules.map((m) => row(m, true)) : [])]);
}

function paintSwatches(node) {
  for (const swatch of node.querySelectorAll(".swatch")) {
    swatch.style.background = desk.scene.colours.part[swatch.dataset.kind] ?? "#888888";
  }
}

function drawTable() {
  const body = byId("things");
  rebuild(body, ...rows());
  paintSwatches(body);
  const out = desk.state.out;
  byId("out-box").hidden = out.length === 0;
  rebuild(
    byId("out"),
    ...out.map((one) =>
      el(
        "li",
        {},
        `${one.name} (${one.kind}, ${figure(one.mass_kg)} kg) `,
        el("button", { type: "button", "data-key": `in ${one.name}`, onclick: () => link.ask("put in", { target: one.name }) }, "Put in", el("span", { class: "hidden-words" }, ` ${one.name}`)),
      ),
    ),
  );
}

function coordinates(one) {
  const form = el("form", { class: "coordinates", "aria-label": `Place of ${one.name}` });
  form.append(
    ...AXES.map((label, k) =>
      el(
        "label",
        {},
        `${label}, mm`,
        el("input", { type: "number", step: "any", name: "xyz"[k], value: String(Number(one.lo[k].toFixed(3))), "data-key": `at ${k}`, disabled: one.locked }),
      ),
    ),
    el("button", { type: "submit", "data-key": "put", disabled: one.locked }, "Put there"),
  );
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const at = ["x", "y", "z"].map((name) => form.elements[name].valueAsNumber);
    if (at.some((value) => !Number.isFinite(value))) {
      tell("say", "Type a number in mm for x, y and z.", true);
      return;
    }
    link.ask("put", { target: one.name, at });
  });
  return form;
}

function pad(one) {
  const step = (mm) =>
    el("label", { class: "choice" }, el("input", { type: "radio", name: "step", value: mm, checked: desk.step === mm, "data-key": `step ${mm}`, onchange: () => (desk.step = mm) }), `${mm} mm`);
  const push = ([word, way, axis]) =>
    el("button", { type: "button", "data-key": `push ${word}`, disabled: one.locked, onclick: () => nudge(way) }, word, el("span", { class: "axis" }, ` ${axis}`));
  return el("fieldset", {}, el("legend", {}, "Push by"), el("div", { class: "choices" }, [1, 5, 25].map(step)), el("div", { class: "pad" }, WAYS.map(push)));
}

/** Push the chosen thing by the step along a way. */
export function nudge(way) {
  if (!desk.selected) return tell("say", "Choose a thing first.", true);
  return link.ask("nudge", { target: desk.selected, by: way.map((v) => v * desk.step) });
}

function actions(one) {
  const button = (key, words, act, more = {}) => el("button", { type: "button", "data-key": key, onclick: act, ...more }, words);
  const target = one.name;
  const nodes = [
    button("turn", "Turn a quarter left", () => link.ask("turn", { target, quarters: 1 }), { disabled: one.locked }),
    button("turn back", "Turn a quarter right", () => link.ask("turn", { target, quarters: -1 }), { disabled: one.locked }),
    button("snap", "Snap to what is close", () => link.ask("snap", { target }), { disabled: one.locked }),
    button("lock", one.locked ? "Unlock" : "Lock", () => link.ask("lock", { target, locked: !one.locked })),
    button("out", "Take out", () => link.ask("take out", { target }), { disabled: one.locked }),
  ];
  if (one.ups.length > 1) {
    const pick = el("select", { "data-key": "up", disabled: one.locked, onchange: (event) => link.ask("stand", { target, up: event.target.value }) });
    pick.append(...one.ups.map((up) => el("option", { value: up }, up)));
    pick.value = one.up;
    nodes.push(el("label", {}, "Own axis that points up", pick));
  }
  const alike = desk.scene.catalogue.filter((offer) => offer.kind === one.kind && offer.key !== one.part);
  if (one.block === null && alike.length) {
    const pick = el("select", { "data-key": "exchange part", "aria-label": "Other part" }, alike.map((offer) => el("option", { value: offer.key }, `${offer.name}, ${figure(offer.mass_kg)} kg (${change(offer.mass_kg - one.mass_kg)})`)));
    nodes.push(el("div", { class: "joined" }, pick, button("exchange", "Exchange for it", () => link.ask("exchange", { target, part: pick.value }), { disabled: one.locked })));
  }
  return el("div", { class: "actions" }, nodes);
}

function facts(one) {
  const rows = [["stands in", one.zone], ["box", size(one).map((v) => figure(v, 0)).join(" × ") + " mm"], ["middle", middle(one).map((v) => figure(v, 0)).join(", ") + " mm"], ...(one.figures ?? [])];
  return el("dl", { class: "facts" }, rows.map(([name, value]) => el("div", {}, el("dt", {}, name), el("dd", {}, value))));
}

function drawChosen() {
  const box = byId("chosen");
  const one = desk.selected ? thing(desk.selected) : null;
  if (!one) {
    desk.selected = null;
    rebuild(box, el("p", {}, "Choose a thing in the view or in the table of parts."));
    return;
  }
  rebuild(
    box,
    el("p", { class: "name" }, el("strong", {}, one.name), one.title === one.name ? "" : `, ${one.title}`, one.maker ? `, ${one.maker}` : "", one.locked ? " (locked)" : ""),
    coordinates(one),
    pad(one),
    actions(one),
    el("details", { open: box.querySelector("details")?.open ?? false }, el("summary", { "data-key": "figures" }, "Its figures"), facts(one)),
  );
}

function drawHeld() {
  const one = desk.moved?.thing;
  if (!one) return;
  const held = desk.selected === one.name ? one : thing(desk.selected);
  if (!held) return;
  for (const [k, name] of ["x", "y", "z"].entries()) {
    const input = byId("chosen").querySelector(`input[name=${name}]`);
    if (input) input.value = String(Number(held.lo[k].toFixed(1)));
  }
}

export function startParts(to) {
  link = to;
  on("state", () => {
    drawTable();
    drawChosen();
  });
  on("selected", () => {
    drawTable();
    drawChosen();
  });
  on("moved", drawHeld);
}

// Axle and corner loads before and after, payload, count and energy.

import { byId, change, el, figure, rebuild, withTolerance } from "./dom.js";
import { desk, loadsOf, on, outdated } from "./store.js";

const ENDS = ["Front axle", "Rear axle"];
const CORNERS = ["Front left", "Front right", "Rear left", "Rear right"];

function bar(value, limit, scale) {
  const node = el("div", { class: "bar", "aria-hidden": "true" });
  const full = el("div", { class: value > limit ? "fill over" : "fill" });
  full.style.width = `${Math.max(0, Math.min(100, (100 * value) / scale))}%`;
  const mark = el("div", { class: "mark" });
  mark.style.left = `${Math.min(100, (100 * limit) / scale)}%`;
  node.append(full, mark);
  return node;
}

function axleRows(now, before) {
  const plated = desk.scene.plated;
  const scale = 1.15 * Math.max(...plated.axle, ...now.axle.map((a) => a[0]));
  const rows = ENDS.map((name, k) => {
    const over = now.axle[k][0] > plated.axle[k];
    return el(
      "tr",
      { "data-axle": k ? "rear" : "front" },
      el("th", { scope: "row" }, name),
      el("td", {}, withTolerance(before.axle[k])),
      el("td", { class: "now" }, withTolerance(now.axle[k])),
      el("td", {}, change(now.axle[k][0] - before.axle[k][0])),
      el("td", {}, over ? el("span", { class: "verdict fail" }, `✕ over ${figure(plated.axle[k], 0)}`) : figure(plated.axle[k], 0)),
      el("td", { class: "barcell" }, bar(now.axle[k][0], plated.axle[k], scale)),
    );
  });
  const gross = plated.gross;
  rows.push(
    el(
      "tr",
      {},
      el("th", { scope: "row" }, "Total"),
      el("td", {}, withTolerance(before.mass)),
      el("td", { class: "now" }, withTolerance(now.mass)),
      el("td", {}, change(now.mass[0] - before.mass[0])),
      el("td", {}, figure(gross, 0)),
      el("td", { class: "barcell" }, bar(now.mass[0], gross, 1.15 * Math.max(gross, now.mass[0]))),
    ),
  );
  return rows;
}

function head(...names) {
  return el("thead", {}, el("tr", {}, names.map((name) => (name ? el("th", { scope: "col" }, name) : el("td")))));
}

function cornerTable(now, before) {
  const rows = CORNERS.map((name, k) =>
    el(
      "tr",
      {},
      el("th", { scope: "row" }, name),
      el("td", {}, withTolerance(before.corner[k])),
      el("td", { class: "now" }, withTolerance(now.corner[k])),
      el("td", {}, change(now.corner[k][0] - before.corner[k][0])),
    ),
  );
  const axes = ["behind the front axle", "right of the middle", "above the ground"].map((name, k) =>
    el(
      "tr",
      {},
      el("th", { scope: "row" }, `Centre of gravity, ${name}, mm`),
      el("td", {}, withTolerance(before.cg[k], 0)),
      el("td", { class: "now" }, withTolerance(now.cg[k], 0)),
      el("td", {}, change(now.cg[k][0] - before.cg[k][0], 0)),
    ),
  );
  return el("table", {}, el("caption", {}, "Wheels, kg, and centre of gravity"), head("", "Before", "Now", "Change"), el("tbody", {}, rows, axes));
}

export function drawLoads() {
  const { state } = desk;
  if (!state) return;
  const names = state.loads.map((row) => row.name);
  if (!names.includes(desk.loadState)) desk.loadState = names[0];
  const now = loadsOf(desk.loadState);
  const before = state.original;
  const pick = byId("load-state");
  if (pick.options.length !== names.length || [...pick.options].some((o, k) => o.value !== names[k])) {
    rebuild(pick, ...names.map((name) => el("option", { value: name }, name)));
  }
  pick.value = desk.loadState;
  rebuild(
    byId("axles"),
    el("caption", {}, `Axle loads, kg: original kerb before, ${desk.loadState} now`),
    head("", "Before", "Now", "Change", "Plate", ""),
    el("tbody", {}, axleRows(now, before)),
  );
  rebuild(byId("corners"), cornerTable(now, before));
  const payload = desk.moved ? desk.moved.payload : state.payload;
  rebuild(
    byId("facts"),
    fact("Modules", `${state.modules} of ${state.wanted}`),
    fact("Energy", `${figure(state.energy_kwh)} kWh`),
    fact("Frame, cables and shaft", state.made_kg ? `${figure(state.made_kg)} kg${outdated() ? ", of the layout before" : ""}` : "not worked out yet, not in these loads"),
    payload ? fact(`Payload at ${figure(payload.x_mm, 0)} mm`, `${withTolerance(payload.allowed, 0)} kg, set by ${payload.bound_by}`) : null,
  );
  document.body.dataset.shown = String(desk.moved?.ack ?? state.ack ?? "");
}

function fact(name, value) {
  return el("div", {}, el("dt", {}, name), el("dd", {}, value));
}

/** Told to screen readers when a change has been carried out, not at every step of the hand. */
function announce() {
  const now = loadsOf(desk.state.loads[0].name);
  const fails = desk.state.checks.filter((check) => check.verdict === "fail").length;
  const words = `${desk.state.done}. Front axle ${figure(now.axle[0][0])} kg, rear axle ${figure(now.axle[1][0])} kg. ${
    fails === 0 ? "No check fails." : fails === 1 ? "1 check fails." : `${fails} checks fail.`
  }`;
  // what was said in between, of a step or a choice, is no reason to keep silent about the loads
  if (words !== byId("live").textContent) byId("live").textContent = words;
}

export function startLoads() {
  byId("load-state").addEventListener("change", (event) => {
    desk.loadState = event.target.value;
    drawLoads();
  });
  on("state", () => {
    drawLoads();
    announce();
  });
  on("moved", drawLoads);
}

// Goods on the load floor, clearances and aims.

import { byId, el, figure, rebuild, withTolerance } from "./dom.js";
import { desk, on, tell } from "./store.js";

let link;

function goods() {
  return { x_mm: byId("goods-x").valueAsNumber, mass_kg: byId("goods-kg").valueAsNumber || 0 };
}

function startGoods() {
  const floor = desk.scene.floor;
  byId("goods").hidden = floor === null;
  if (!floor) return;
  const slider = byId("goods-x");
  slider.min = floor.begin;
  slider.max = floor.end;
  slider.step = (floor.end - floor.begin) / 100;
  byId("goods-kg").max = desk.scene.plated.gross;
  const live = () => {
    byId("goods-x-words").textContent = `${figure(slider.valueAsNumber, 0)} mm behind the front axle`;
    link.newest("goods", { ...goods(), live: true });
  };
  const keep = async () => {
    await link.settled();
    link.ask("goods", goods());
  };
  slider.addEventListener("input", live);
  slider.addEventListener("change", keep);
  byId("goods-kg").addEventListener("change", keep);
}

function drawGoods() {
  const { goods: now, payload } = desk.state;
  if (!now) return;
  const slider = byId("goods-x");
  if (document.activeElement !== slider || !desk.moved) slider.value = now.x_mm;
  if (document.activeElement !== byId("goods-kg")) byId("goods-kg").value = now.mass_kg;
  byId("goods-x-words").textContent = `${figure(now.x_mm, 0)} mm behind the front axle`;
  drawGoodsLoads(desk.state.loads, payload);
}

function drawGoodsLoads(loads, payload) {
  const row = loads.find((load) => load.name.startsWith("goods where"));
  byId("goods-loads").textContent = row
    ? `With the driver and these goods: front axle ${withTolerance(row.axle[0])} kg, rear axle ${withTolerance(row.axle[1])} kg. ` +
      (payload ? `Allowed here: ${withTolerance(payload.allowed, 0)} kg, set by ${payload.bound_by}.` : "")
    : "Give a driver's seat in the vehicle's file, and the loads with goods aboard are shown here.";
}

function fieldset(id, op, rows, legend) {
  const box = byId(id);
  const inputs = rows.map((row) => {
    const key = `${id} ${row.name}`;
    const input = row.choices
      ? el("select", { name: row.name, "data-key": key }, row.choices.map((choice) => el("option", { value: choice }, choice)))
      : el("input", { type: "number", step: "any", min: "0", name: row.name, "data-key": key });
    input.value = row.value;
    return el("label", {}, `${row.label}${row.unit ? `, ${row.unit}` : ""}`, input);
  });
  const form = el("form", { "aria-label": legend }, inputs, el("button", { type: "submit", "data-key": `${id} set` }, `Set ${legend.toLowerCase()}`));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const values = {};
    for (const row of rows) {
      const input = form.elements[row.name];
      values[row.name] = row.choices ? input.value : input.valueAsNumber;
      if (!row.choices && !Number.isFinite(values[row.name])) {
        tell("say", `${row.label}: type a number.`, true);
        return;
      }
    }
    link.ask(op, { values });
  });
  rebuild(box, form);
}

export function startSettings(to) {
  link = to;
  on("scene", startGoods);
  on("state", () => {
    drawGoods();
    fieldset("clearances", "clearances", desk.state.clearances, "Clearances");
    fieldset("aims", "aims", desk.state.aims, "Aims");
    byId("brief-differs").hidden = !desk.state.brief_differs;
    const swapped = desk.state.exchanged;
    byId("exchanged").hidden = swapped.length === 0;
    byId("exchanged").textContent = swapped.length
      ? `The brief does not ask for ${swapped.join(", ")}: desk-layout.yaml names it, and the command line takes it from modules/ when that file is given with --layout.`
      : "";
  });
  on("goods", (message) => drawGoodsLoads(message.loads, message.payload));
}

// Searching, the tray of layouts, comparing two of them, and the files.

import { byId, change, el, figure, rebuild, verdict, withTolerance } from "./dom.js";
import { drawPair } from "./flat.js";
import { desk, on, tell } from "./store.js";

let link;

const axle = (one, k) => one.loads[0].axle[k];

function card(one) {
  const button = (word, act, key) =>
    el("button", { type: "button", "data-key": `${key} ${one.number}`, onclick: act }, word, el("span", { class: "hidden-words" }, ` layout ${one.number}`));
  const discard = button("Discard", () => link.ask("discard", { number: one.number }), "discard");
  const score = one.score === null ? "" : `, aims ${figure(one.score, 2)}`;
  const head = el("th", { scope: "row" }, one.best ? el("strong", { class: "best" }, "★ best so far. ") : null, `${one.number}. ${one.title}`, el("span", { class: "source" }, ` ${one.source}${score}`));
  if (one.fault) return el("tr", {}, head, el("td", { colspan: 5 }, one.fault), el("td", { class: "buttons" }, discard));
  return el(
    "tr",
    {},
    head,
    el("td", {}, `${one.modules}, ${figure(one.energy_kwh)} kWh`),
    el("td", {}, change(one.change[0][0])),
    el("td", {}, change(one.change[1][0])),
    el("td", {}, one.payload ? figure(one.payload.allowed[0], 0) : "–"),
    el("td", {}, one.fails ? el("span", {}, verdict("fail"), ` ${one.fails}: ${one.worst}`) : verdict("pass")),
    el("td", { class: "buttons" }, button("Take", () => link.ask("take", { number: one.number }), "take"), discard),
  );
}

function now() {
  const { state } = desk;
  return {
    number: 0, title: "on the desk now", source: "", things: state.things, out: state.out.map((one) => one.name), modules: state.modules,
    energy_kwh: state.energy_kwh, loads: state.loads, change: state.change.axle, payload: state.payload,
    fails: state.fails, worst: "",
  };
}

const sound = () => desk.tray.filter((one) => !one.fault);

const choice = (number) => (number === 0 ? now() : sound().find((one) => one.number === number));

function drawCompare() {
  const options = [now(), ...sound()];
  for (const [k, id] of ["compare-a", "compare-b"].entries()) {
    const pick = byId(id);
    rebuild(pick, ...options.map((one) => el("option", { value: one.number }, one.number ? `${one.number}. ${one.title}` : one.title)));
    const wanted = desk.compare[k] ?? (k === 0 ? 0 : options.at(-1).number);
    pick.value = options.some((one) => one.number === wanted) ? wanted : 0;
  }
  if (!byId("compare-box").open) return;
  const [a, b] = ["compare-a", "compare-b"].map((id) => choice(Number(byId(id).value)));
  if (!a || !b) return;
  const rows = [
    ["Modules", a.modules, b.modules],
    ["Energy, kWh", figure(a.energy_kwh), figure(b.energy_kwh)],
    ["Front axle, kg", withTolerance(axle(a, 0)), withTolerance(axle(b, 0))],
    ["Rear axle, kg", withTolerance(axle(a, 1)), withTolerance(axle(b, 1))],
    ["Front axle, change", change(a.change[0][0]), change(b.change[0][0])],
    ["Rear axle, change", change(a.change[1][0]), change(b.change[1][0])],
    ["Centre of gravity above the ground, mm", figure(a.loads[0].cg[2][0], 0), figure(b.loads[0].cg[2][0], 0)],
    ["Payload, kg", a.payload ? figure(a.payload.allowed[0], 0) : "–", b.payload ? figure(b.payload.allowed[0], 0) : "–"],
    ["Clearances and loads that fail", a.fails, b.fails],
  ];
  const title = (one) => (one.number ? `Layout ${one.number}` : "Now");
  rebuild(
    byId("compare-table"),
    el("caption", {}, "Two layouts side by side"),
    el("thead", {}, el("tr", {}, el("td", {}), el("th", { scope: "col" }, title(a)), el("th", { scope: "col" }, title(b)))),
    el("tbody", {}, rows.map(([name, one, other]) => el("tr", { class: one === other ? null : "differs" }, el("th", { scope: "row" }, name), el("td", {}, one), el("td", {}, other)))),
  );
  drawPair(byId("compare-views"), [a, b].map((one) => ({ title: title(one), things: one.things })));
}

export function startTray(to) {
  link = to;
  byId("solve").addEventListener("click", () => link.ask("solve"));
  byId("stop").addEventListener("click", () => link.ask("stop"));
  byId("keep").addEventListener("click", () => link.ask("keep", { title: "" }));
  byId("export").addEventListener("click", () => link.ask("export"));
  byId("compare-box").addEventListener("toggle", drawCompare);
  for (const [k, id] of ["compare-a", "compare-b"].entries()) {
    byId(id).addEventListener("change", (event) => {
      desk.compare[k] = Number(event.target.value);
      drawCompare();
      tell("compare");
    });
  }
  byId("compare-3d").addEventListener("change", () => tell("compare"));
  on("tray", () => {
    byId("tray-box").hidden = desk.tray.length === 0;
    byId("tray-none").hidden = desk.tray.length > 0;
    rebuild(byId("tray"), ...desk.tray.map(card));
    drawCompare();
  });
  on("state", drawCompare);
  on("job", () => {
    const busy = desk.job.kind !== "";
    byId("stop").disabled = !busy;
    byId("solve").disabled = busy;
    byId("export").disabled = busy;
    byId("job").textContent = desk.job.line ? `${desk.job.kind ? `${desk.job.kind}: ` : ""}${desk.job.line}` : "";
    byId("busy").hidden = !busy;
  });
  on("files", () => {
    byId("files-box").hidden = desk.files.length === 0;
    rebuild(
      byId("files"),
      ...desk.files.map((file) => el("li", {}, el("a", { href: `files/${file.name.split("/").map(encodeURIComponent).join("/")}`, target: file.name.endsWith(".html") ? "_blank" : null, rel: "noreferrer", download: file.name.endsWith(".html") ? null : true }, file.name))),
    );
  });
}

/** The two layouts that are compared in the view in space; null when they are not. */
export function compared() {
  if (!byId("compare-3d").checked) return null;
  const pair = ["compare-a", "compare-b"].map((id) => choice(Number(byId(id).value)));
  return pair.every(Boolean) ? pair : null;
}

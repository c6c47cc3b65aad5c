// What comes of the whole calculation, beside the drawing: whether it is out of date, cables one by one, electrics and drive.

import { byId, el, figure, rebuild, verdict, withTolerance } from "./dom.js";
import { desk, on, outdated, tell } from "./store.js";

function noteWords() {
  const { state, drawn } = desk;
  const busy = desk.judging ? ` Being worked out: ${desk.judging}.` : "";
  if (!drawn.number) return `Frame and cables are not worked out yet.${busy}`;
  if (!outdated()) return "Frame and cables are those of this layout.";
  const since = desk.moved?.thing ? [desk.moved.thing.name] : state.outdated;
  const shown = since.slice(0, 4).join(", ") + (since.length > 4 ? ` and ${since.length - 4} more` : "");
  return `! Frame and cables are out of date, drawn faint: ${shown} changed since.${busy}`;
}

function drawNote() {
  const note = byId("drawn-note");
  const words = noteWords();
  if (note.textContent !== words) note.textContent = words;
  note.classList.toggle("notice", desk.drawn.number > 0 && outdated());
  byId("whole-note").hidden = !desk.drawn.number || !outdated();
  byId("check-whole").textContent = desk.state.whole
    ? "Whole list, as on the command line."
    : `Clearances and loads are judged; frame, cables, range and what follows from them are being worked out${desk.judging ? `: ${desk.judging}` : ""}.`;
}

function group({ title, rows }) {
  return el(
    "table",
    {},
    el("caption", {}, title),
    el("tbody", {}, rows.map((row) => el("tr", {}, el("th", { scope: "row" }, row.name), el("td", { class: "now" }, `${withTolerance(row.value, row.places)} ${row.unit}`), el("td", { class: "figures" }, row.note)))),
  );
}

const sizeOf = (run) => (run.cores ? `${run.cores} × ${figure(run.area_mm2, run.area_mm2 % 1 ? 1 : 0)} mm²` : `hose ${figure(run.diameter_mm, 0)} mm`);

function choose(run) {
  desk.run = desk.run === run.name ? null : run.name;
  if (desk.run) {
    const at = run.at ?? run.points[Math.floor(run.points.length / 2)];
    tell("look", at ? { at, words: run.name } : null);
  } else {
    tell("look", null);
  }
  tell("drawn");
}

function runRow(run) {
  const chosen = desk.run === run.name;
  const button = el(
    "button",
    { type: "button", class: "pick", "aria-pressed": String(chosen), "data-key": `run ${run.name}`, onclick: () => choose(run) },
    el("span", { class: "swatch", "data-run": run.kind, "aria-hidden": "true" }),
    run.name,
  );
  return el(
    "tr",
    { class: chosen ? "chosen" : null },
    el("th", { scope: "row" }, button),
    el("td", {}, run.kind),
    el("td", {}, sizeOf(run)),
    run.blocked ? el("td", { colspan: 3 }, verdict("fail"), ` no way: ${run.blocked}`) : [el("td", {}, figure(run.length_mm, 0)), el("td", {}, run.cores ? figure(run.drop_v, 2) : "–"), el("td", {}, figure(run.mass[0], 2))],
  );
}

function drawRuns() {
  const { runs } = desk.drawn;
  byId("runs-box").hidden = runs.length === 0;
  rebuild(byId("runs"), ...runs.map(runRow));
  for (const swatch of byId("runs").querySelectorAll(".swatch")) swatch.style.background = desk.scene.colours.run[swatch.dataset.run];
  byId("runs-count").textContent = `Cables and hoses: ${runs.filter((run) => !run.blocked).length} of ${runs.length} laid`;
}

function drawWhole() {
  const { drawn } = desk;
  byId("whole").hidden = !drawn.number;
  rebuild(byId("danger"), ...drawn.danger.map((words) => el("p", { class: "danger" }, el("strong", {}, "✕ Danger: "), words)));
  byId("caution").textContent = drawn.caution;
  rebuild(byId("whole-groups"), ...drawn.groups.map(group));
  drawRuns();
}

export function startDrawn() {
  for (const what of ["state", "moved", "judging", "drawn"]) on(what, drawNote);
  on("drawn", drawWhole);
  on("state", () => {
    if (desk.shownDrawn === desk.drawn) return;
    desk.shownDrawn = desk.drawn;
    if (!desk.drawn.runs.some((run) => run.name === desk.run)) desk.run = null;
    drawWhole();
  });
}

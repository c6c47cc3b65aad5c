// Checks, failures first; choosing one goes to where it is. While a thing is held: its own clearances.

import { byId, el, figure, rebuild, verdict } from "./dom.js";
import { desk, middle, on, select, tell } from "./store.js";

const SHOWN = 400;

function row(check, n) {
  const value = check.value === null ? check.note || "an input is missing" : `${figure(check.value)} ${check.unit}`;
  const limit = check.limit === null ? "" : `, ${check.sense === "max" ? "at most" : "at least"} ${figure(check.limit)} ${check.unit}`;
  const words = el("span", { class: "words" }, check.title, el("span", { class: "figures" }, ` ${value}${limit}`));
  const inner = [verdict(check.verdict), words];
  const go = () => {
    const named = desk.state.things.find((thing) => check.title.includes(thing.name) || thing.modules.some((m) => check.title.includes(m.name)));
    const run = desk.drawn.runs.find((one) => check.title.includes(one.name));
    if (named) select(named.name);
    desk.run = run?.name ?? desk.run;
    const at = check.where ?? run?.at ?? run?.points[Math.floor(run.points.length / 2)] ?? (named && middle(named));
    if (run) tell("drawn");
    tell("look", at ? { at, words: check.title } : null);
    if (at) byId(byId("space").hidden ? "flat" : "space").scrollIntoView({ block: "nearest" });
    byId("check-note").textContent = [check.title, check.note, check.basis && `Limit from: ${check.basis}`].filter(Boolean).join(". ");
  };
  return el("li", {}, el("button", { type: "button", class: "check", "data-key": `check ${n} ${check.id}`, onclick: go }, inner));
}

export function drawChecks() {
  const { state } = desk;
  const count = { fail: 0, unknown: 0, marginal: 0, pass: 0 };
  for (const check of state.checks) count[check.verdict] += 1;
  byId("check-count").textContent = `${count.fail} fail, ${count.marginal} near, ${count.unknown} not known, ${count.pass} hold`;
  const open = state.checks.filter((check) => check.verdict !== "pass");
  const held = state.checks.filter((check) => check.verdict === "pass");
  rebuild(byId("checks"), ...open.slice(0, SHOWN).map(row));
  rebuild(byId("checks-held"), ...held.slice(0, SHOWN).map((check, n) => row(check, n + SHOWN)));
  byId("held-count").textContent = `${held.length} that hold`;
}

function drawNear() {
  const box = byId("near");
  const rows = desk.moved?.near;
  box.hidden = !rows;
  if (!rows) return;
  rebuild(
    byId("near-list"),
    ...rows.map((near) =>
      el("li", {}, verdict(near.verdict), ` ${near.title}: ${figure(near.distance)} mm, at least ${figure(near.limit)}`),
    ),
  );
}

export function startChecks() {
  on("look", (look) => {
    desk.look = look;
  });
  on("state", () => {
    drawChecks();
    drawNear();
  });
  on("moved", drawNear);
}

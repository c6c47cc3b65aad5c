// The page of the desk: asks for the scene, opens the line, and hands on what it hears.

import { startChecks } from "./checks.js";
import { startDrawn } from "./drawn.js";
import { byId } from "./dom.js";
import { drawFlat, startFlat } from "./flat.js";
import { startKeys } from "./keys.js";
import { Link } from "./link.js";
import { startLoads } from "./loads.js";
import { startMeasure } from "./measure.js";
import { startParts } from "./parts.js";
import { startSettings } from "./settings.js";
import { startSpace } from "./space.js";
import { desk, on, tell } from "./store.js";
import { startTray } from "./tray.js";

function say(words, bad = false) {
  const node = byId("message");
  node.textContent = words;
  node.classList.toggle("bad", bad);
}

function hear(message) {
  switch (message.t) {
    case "state":
      // the whole calculation may come in while something is held: the hand keeps it
      if (message.ack || message.revision !== desk.state?.revision) desk.moved = null;
      desk.state = message;
      if (message.whole) desk.judging = "";
      byId("undo").disabled = !message.undo;
      byId("redo").disabled = !message.redo;
      byId("undo").title = message.undo ? `Take back: ${message.undo}` : "";
      byId("redo").title = message.redo ? `Do again: ${message.redo}` : "";
      byId("saved").textContent = `Saved. Last change: ${message.done}`;
      tell("state");
      break;
    case "moved":
      desk.moved = message;
      tell("moved");
      break;
    case "drawn":
      desk.drawn = message;
      if (desk.state) tell("drawn");
      break;
    case "judging":
      desk.judging = message.line;
      tell("judging");
      break;
    case "goods":
      tell("goods", message);
      break;
    case "tray":
      desk.tray = message.layouts;
      tell("tray");
      break;
    case "job":
      desk.job = message;
      tell("job");
      break;
    case "files":
      desk.files = message.files;
      tell("files");
      break;
    case "note":
      say(message.line, true);
      break;
    case "refused":
      desk.moved = null;
      say(message.why, true);
      tell("refused");
      break;
    case "line":
      document.body.classList.toggle("down", !message.up);
      if (message.up) say("");
      else say("The line to the desk is down. What was done is saved; trying again. If the desk was stopped, start it and open the address it prints.", true);
      break;
    default:
      break;
  }
  if (message.t === "state" && message.ack) say("");
}

function meshesOf(scene, bytes) {
  const points = new Float32Array(bytes, 0, 3 * scene.points);
  const faces = new Uint32Array(bytes, 12 * scene.points, 3 * scene.triangles);
  const cut = (place) => {
    const v = points.subarray(3 * place.point, 3 * (place.point + place.points));
    const lo = [Infinity, Infinity, Infinity];
    const hi = [-Infinity, -Infinity, -Infinity];
    for (let n = 0; n < v.length; n += 1) {
      lo[n % 3] = Math.min(lo[n % 3], v[n]);
      hi[n % 3] = Math.max(hi[n % 3], v[n]);
    }
    function* corners() {
      for (let n = 0; n < v.length; n += 3) yield [v[n], v[n + 1], v[n + 2]];
    }
    return { ...place, lo, hi, v, f: faces.subarray(3 * place.face, 3 * (place.face + place.faces)), corners };
  };
  scene.meshes = scene.clear.map(cut);
  for (const key of Object.keys(scene.bodies)) scene.bodies[key] = cut(scene.bodies[key]);
}

function startViews() {
  const show = (flat) => {
    byId("flat").hidden = !flat;
    byId("space").hidden = flat;
    byId("upright-box").hidden = flat;
    byId("show-flat").setAttribute("aria-pressed", String(flat));
    byId("show-space").setAttribute("aria-pressed", String(!flat));
    tell("view");
    drawFlat();
  };
  byId("show-flat").addEventListener("click", () => show(true));
  byId("show-space").addEventListener("click", () => show(false));
  byId("snap-hand").addEventListener("change", (event) => {
    desk.snap = event.target.checked;
  });
  byId("upright").addEventListener("change", (event) => {
    desk.upright = event.target.checked;
  });
  byId("help").addEventListener("click", () => byId("keys").showModal());
  byId("keys-close").addEventListener("click", () => byId("keys").close());
  return show;
}

async function begin() {
  const [scene, surfaces] = await Promise.all([fetch("scene.json").then((a) => a.json()), fetch("scene.bin").then((a) => a.arrayBuffer())]);
  meshesOf(scene, surfaces);
  desk.scene = scene;
  byId("job-name").textContent = `${scene.vehicle}: ${scene.brief}`;
  document.title = `${scene.brief}, ${scene.vehicle}: the desk`;
  const link = new Link(hear);
  byId("undo").addEventListener("click", () => link.ask("undo"));
  byId("redo").addEventListener("click", () => link.ask("redo"));
  on("say", say);
  startLoads();
  startChecks();
  startParts(link);
  startSettings(link);
  startFlat(link);
  startTray(link);
  startDrawn();
  startMeasure();
  startKeys(link);
  const show = startViews();
  const able = startSpace(link);
  byId("show-space").disabled = !able;
  byId("no-webgl").hidden = able;
  show(!able);
  tell("scene");
  document.body.dataset.ready = "yes";
}

begin().catch((error) => say(`The page could not begin: ${error.message}. Load it again.`, true));

// Measuring: between two things by name, along each axis; or between two faces that are touched in space.

import { Vector3 } from "three";
import { byId, el, figure, rebuild } from "./dom.js";
import { desk, on, things } from "./store.js";

let first = null;

function parts() {
  return [...things(), ...desk.scene.meshes.map((mesh) => ({ name: mesh.name, lo: mesh.lo, hi: mesh.hi, outer: mesh.kind === "zone" }))];
}

/** Room along each axis between two boxes; negative: how far they overlap along it. */
function between(a, b) {
  return [0, 1, 2].map((k) => Math.max(b.lo[k] - a.hi[k], a.lo[k] - b.hi[k]));
}

function drawNamed() {
  const list = parts();
  const names = list.map((one) => one.name);
  for (const [k, id] of ["measure-a", "measure-b"].entries()) {
    const pick = byId(id);
    const now = pick.value || names[k] || "";
    rebuild(pick, ...names.map((name) => el("option", { value: name }, name)));
    pick.value = names.includes(now) ? now : names[0];
  }
  const [a, b] = ["measure-a", "measure-b"].map((id) => list.find((one) => one.name === byId(id).value));
  if (!a || !b || a === b) {
    byId("measured").textContent = "Choose two things.";
    return;
  }
  const room = between(a, b);
  const gap = Math.hypot(...room.map((v) => Math.max(0, v)));
  const words = room.map((v, k) => `${"xyz"[k]} ${figure(v)}`).join(", ");
  byId("measured").textContent =
    `Box to box: ${room.every((v) => v < 0) ? "they overlap" : `${figure(gap)} mm apart`}. Along the axes, mm (negative: overlap): ${words}.` +
    (a.outer || b.outer ? " A zone is taken by the box around it; distances to its surface are among the checks." : "");
}

/** A face was touched in space; true when that was for measuring. */
export function touch(ray, groups) {
  if (!byId("measure-faces").checked) return false;
  const hit = ray.intersectObjects(groups, true).find((one) => one.object.isMesh && one.face);
  if (!hit) return true;
  const normal = hit.face.normal.clone().transformDirection(hit.object.matrixWorld);
  const now = { point: hit.point, normal };
  if (!first) {
    first = now;
    byId("measured-faces").textContent = `First point: ${[...hit.point].map((v) => figure(v, 0)).join(", ")} mm. Touch the second face.`;
    return true;
  }
  const step = now.point.clone().sub(first.point);
  const along = Math.abs(new Vector3(...first.normal).dot(normal)) > 0.999 ? Math.abs(step.dot(first.normal)) : null;
  byId("measured-faces").textContent =
    (along === null ? "" : `Face to face: ${figure(along)} mm. `) +
    `Point to point: ${figure(step.length())} mm; x ${figure(step.x)}, y ${figure(step.y)}, z ${figure(step.z)}.`;
  first = null;
  return true;
}

export function startMeasure() {
  for (const id of ["measure-a", "measure-b"]) byId(id).addEventListener("change", drawNamed);
  byId("measure-box").addEventListener("toggle", drawNamed);
  byId("measure-faces").addEventListener("change", () => {
    first = null;
    byId("measured-faces").textContent = byId("measure-faces").checked ? "Touch the first face in the view." : "";
  });
  const again = () => byId("measure-box").open && drawNamed();
  on("state", again);
  on("moved", again);
}

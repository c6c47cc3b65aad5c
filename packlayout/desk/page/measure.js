// Measuring: between two faces that are chosen by name; or between two that are touched in the view in space.

import { Vector3 } from "three";
import { byId, el, figure, rebuild } from "./dom.js";
import { desk, middle, on, tell, things } from "./store.js";

const FAR = 1e5;
const FACES = [
  ["whole", "nearest side"], ["0 lo", "front face"], ["0 hi", "rear face"], ["1 lo", "left face"], ["1 hi", "right face"], ["2 lo", "underside"], ["2 hi", "top"],
];
let first = null;

/** All that can be measured to: things, their modules and cradles, zones and keep-outs, ground and centre plane. */
function parts() {
  const made = things().flatMap((one) => [
    one,
    ...(one.cradle ? [{ name: `cradle of ${one.name}`, lo: one.cradle[0], hi: one.cradle[1] }] : []),
    ...one.modules,
  ]);
  const outer = desk.scene.meshes.map((mesh) => ({ name: mesh.name, lo: mesh.lo, hi: mesh.hi, box: true }));
  return [
    ...made,
    ...outer,
    { name: "the ground", lo: [-FAR, -FAR, 0], hi: [FAR, FAR, 0], wide: true },
    { name: "the centre plane", lo: [-FAR, 0, -FAR], hi: [FAR, 0, FAR], wide: true },
    { name: "the front axle line", lo: [0, -FAR, -FAR], hi: [0, FAR, FAR], wide: true },
  ];
}

/** A face as a box without thickness; the whole thing where no face is named. */
function faceOf(one, face) {
  if (face === "whole" || one.wide) return { lo: [...one.lo], hi: [...one.hi], axis: one.wide ? [0, 1, 2].find((k) => one.lo[k] === one.hi[k]) : null };
  const axis = Number(face[0]);
  const at = one[face.slice(2)][axis];
  const flat = { lo: [...one.lo], hi: [...one.hi], axis };
  flat.lo[axis] = flat.hi[axis] = at;
  return flat;
}

/** Room along each axis between two boxes; negative: how far they overlap along it. */
function between(a, b) {
  return [0, 1, 2].map((k) => Math.max(b.lo[k] - a.hi[k], a.lo[k] - b.hi[k]));
}

/** Two points nearest to each other, in the middle of what the boxes share along an axis. */
function ends(a, b) {
  const made = [[], []];
  for (let k = 0; k < 3; k += 1) {
    if (b.lo[k] > a.hi[k]) [made[0][k], made[1][k]] = [a.hi[k], b.lo[k]];
    else if (a.lo[k] > b.hi[k]) [made[0][k], made[1][k]] = [a.lo[k], b.hi[k]];
    else made[0][k] = made[1][k] = (Math.max(a.lo[k], b.lo[k]) + Math.min(a.hi[k], b.hi[k])) / 2;
  }
  return made;
}

function words(a, b) {
  const room = between(a, b);
  const gap = Math.hypot(...room.map((v) => Math.max(0, v)));
  const along = a.axis !== null && a.axis === b.axis ? a.axis : null;
  const said = [];
  if (along !== null) said.push(`Face to face along ${"xyz"[along]}: ${figure(Math.abs(a.lo[along] - b.lo[along]))} mm.`);
  const touching = room.every((v) => v <= 0) && a.axis === null && b.axis === null;
  said.push(touching ? "They overlap." : `Nearest points: ${figure(gap)} mm apart.`);
  const axes = room.map((v, k) => (Math.abs(v) > FAR / 2 ? null : `${"xyz"[k]} ${figure(v)}`)).filter(Boolean);
  said.push(`Room along the axes, mm (negative: overlap): ${axes.join(", ")}.`);
  return { said: said.join(" "), short: `${figure(along === null ? gap : Math.abs(a.lo[along] - b.lo[along]))} mm` };
}

function options(pick, list, now) {
  const key = JSON.stringify(list);
  if (pick.dataset.list !== key) {
    pick.dataset.list = key;
    rebuild(pick, ...list.map(([value, name]) => el("option", { value }, name)));
  }
  pick.value = list.some(([value]) => value === now) ? now : list[0][0];
}

function drawNamed() {
  const list = parts();
  const names = list.map((one) => [one.name, one.name]);
  const chosen = ["a", "b"].map((id, k) => {
    const pick = byId(`measure-${id}`);
    options(pick, names, pick.value || names[k]?.[0] || "");
    const one = list.find(({ name }) => name === pick.value);
    const face = byId(`measure-${id}-face`);
    options(face, one.wide ? [FACES[0]] : FACES, face.value || "whole");
    return { one, face: faceOf(one, face.value), key: `${pick.value} ${face.value}` };
  });
  const [a, b] = chosen;
  if (a.key === b.key) {
    byId("measured").textContent = "Choose two things, or two faces.";
    return show(null);
  }
  const { said, short } = words(a.face, b.face);
  byId("measured").textContent = said + (a.one.box || b.one.box ? " A zone or keep-out is taken by the box around it; distances to its surface are among the checks." : "");
  const points = ends(a.face, b.face);
  // a plane without end is met beside the other thing
  const near = points.map((p) => p.map((v, k) => (Math.abs(v) > FAR / 2 ? middle(a.one.wide ? b.one : a.one)[k] : v)));
  return show({ ends: near, words: short });
}

function show(measured) {
  desk.measured = measured;
  tell("measured");
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
  show({ ends: [[...first.point], [...now.point]], words: `${figure(along ?? step.length())} mm` });
  first = null;
  return true;
}

export function startMeasure() {
  const again = () => byId("measure-box").open && drawNamed();
  for (const id of ["measure-a", "measure-b", "measure-a-face", "measure-b-face"]) byId(id).addEventListener("change", drawNamed);
  byId("measure-box").addEventListener("toggle", () => (byId("measure-box").open ? drawNamed() : show(null)));
  byId("measure-faces").addEventListener("change", () => {
    first = null;
    byId("measured-faces").textContent = byId("measure-faces").checked ? "Touch the first face in the view." : "";
    if (!byId("measure-box").open) show(null);
  });
  on("state", again);
  on("moved", again);
}

// The view in space: draws on demand, one renderer, zones to look through, parts by kind.

import {
  AmbientLight, Color, ConeGeometry, DirectionalLight, DoubleSide, EdgesGeometry, Group, HemisphereLight, LineBasicMaterial, LineLoop,
  LineSegments, Mesh, MeshBasicMaterial, MeshLambertMaterial, Object3D, OrthographicCamera, PerspectiveCamera, Plane, Scene, Vector3,
  WebGLRenderer, BufferGeometry,
} from "three";
import { OrbitControls } from "three/addons/controls/OrbitControls.js";
import { byId } from "./dom.js";
import { startHand } from "./hand.js";
import { labels } from "./labels.js";
import { Marks } from "./marks.js";
import { dark, geometryOf } from "./shapes.js";
import { Solids } from "./solids.js";
import { desk, middle, on, select, things, whole } from "./store.js";
import { compared } from "./tray.js";
import { Works } from "./works.js";

Object3D.DEFAULT_UP.set(0, 0, 1);

const SIDES = { front: [-1, 0, 0.001], rear: [1, 0, 0.001], left: [0, -1, 0.001], right: [0, 1, 0.001], above: [0, -0.001, 1], below: [0, -0.001, -1], corner: [-0.8, -1, 0.75] };
const view = { still: new Group(), section: new Plane(new Vector3(-1, 0, 0), 1e6) };
// where the processor draws: at most this often while something is held, coarser while the picture moves, fine once it rests
const HELD_EVERY_MS = 90;
const COARSE = [0.6, 0.45, 0.35];
const SLOW_MS = 37;
const REST_MS = 400;
let asked = false;
let resting = 0;
let coarse = 0;
let pace = 0;

function softwareGl(gl) {
  const info = gl.getExtension("WEBGL_debug_renderer_info");
  const name = info ? String(gl.getParameter(info.UNMASKED_RENDERER_WEBGL)) : "";
  return /swiftshader|llvmpipe|software|basic render/i.test(name);
}

function startRenderer(canvas) {
  try {
    const probe = document.createElement("canvas").getContext("webgl2");
    if (!probe) return null;
    view.soft = softwareGl(probe);
    probe.getExtension("WEBGL_lose_context")?.loseContext();
    const renderer = new WebGLRenderer({ canvas, antialias: !view.soft, alpha: true });
    view.last = 0;
    renderer.setPixelRatio(view.soft ? COARSE[0] : Math.min(2, window.devicePixelRatio));
    renderer.localClippingEnabled = true;
    return renderer;
  } catch {
    return null;
  }
}

function line(points, colour) {
  return new LineLoop(new BufferGeometry().setFromPoints(points), new LineBasicMaterial({ color: colour }));
}

function drawStill() {
  const { scene } = desk;
  view.still.clear();
  view.clear.clear();
  for (const mesh of scene.meshes) {
    const [colour, opacity] = scene.colours.clear[mesh.kind];
    const geometry = (mesh.geometry ??= geometryOf(mesh));
    const planes = { clippingPlanes: [view.section] };
    const look = { color: new Color(colour), transparent: true, opacity, depthWrite: false, side: DoubleSide, forceSinglePass: true, ...planes };
    // shading is for surfaces without drawn edges; where the processor draws, the others do without it
    const skin = view.soft && !mesh.rough ? new MeshBasicMaterial(look) : new MeshLambertMaterial(look);
    const body = new Mesh(geometry, skin);
    body.name = mesh.name;
    view.clear.add(body);
    if (!mesh.rough) {
      mesh.edges ??= new EdgesGeometry(geometry, 20);
      view.clear.add(new LineSegments(mesh.edges, new LineBasicMaterial({ color: colour, ...planes })));
    }
  }
  const grey = "#7a828c";
  if (scene.outline) {
    for (const side of [-1, 1]) view.still.add(line(scene.outline.side.map(([x, z]) => new Vector3(x, (side * scene.outline.width) / 2, z)), grey));
  }
  for (const [k, x] of [0, scene.wheelbase].entries()) {
    for (const side of [-1, 1]) {
      const rim = Array.from({ length: 32 }, (_, n) => new Vector3(x + scene.tyre_radius * Math.cos((n * Math.PI) / 16), (side * scene.tracks[k]) / 2, scene.tyre_radius * (1 + Math.sin((n * Math.PI) / 16))));
      view.still.add(line(rim, grey));
    }
  }
  for (const mount of scene.mounts) {
    const cone = new Mesh(new ConeGeometry(14, 34, 12), new MeshBasicMaterial({ color: dark() ? "#ffffff" : scene.colours.mount }));
    cone.rotation.x = Math.PI / 2;
    cone.position.set(...mount.at);
    cone.name = `mounting point ${mount.name}`;
    view.still.add(cone);
  }
}

function drawParts() {
  view.solids.fill(things(), true);
  ask();
}

/** The thing that is held goes where the hand has it; nothing else is drawn anew. */
function shiftHeld() {
  const held = desk.moved?.thing;
  if (!held) return;
  view.solids.shift(held.name, held.lo);
  view.works.fade();
  view.marks.fill();
  ask();
}

function drawPairs() {
  const pair = compared();
  const turned = Boolean(pair) !== Boolean(view.compared);
  view.compared = pair;
  if (turned) lookFrom("corner");
  for (const [k, solids] of view.pair.entries()) {
    if (pair) solids.fill(pair[k].things, false);
    else solids.clear();
  }
  byId("pair-words").hidden = !pair;
  if (pair) byId("pair-words").textContent = `Left: ${pair[0].title.replace(/\.$/, "")}. Right: ${pair[1].title.replace(/\.$/, "")}.`;
  ask();
}

export function ask() {
  if (asked || !view.renderer || byId("space").hidden) return;
  asked = true;
  const draw = () =>
    requestAnimationFrame(() => {
      asked = false;
      const now = performance.now();
      keepPace(now - view.last);
      view.last = now;
      paint(view.soft ? COARSE[coarse] : 0);
      clearTimeout(resting);
      if (view.soft) resting = setTimeout(rest, REST_MS);
    });
  // figures go first while something is held, and the picture follows at its own pace
  const wait = view.soft && desk.moved ? view.last + HELD_EVERY_MS - performance.now() : 0;
  if (wait > 0) setTimeout(draw, wait);
  else draw();
}

/** Coarser still when the picture does not keep up while it moves, so that it moves steadily. */
function keepPace(since) {
  if (!view.soft || desk.moved || since > 250) return;
  pace = pace ? 0.8 * pace + 0.2 * since : since;
  if (pace > SLOW_MS && coarse < COARSE.length - 1) {
    coarse += 1;
    pace = 0;
  }
}

function rest() {
  pace = 0;
  coarse = Math.max(0, coarse - 1);
  if (!asked && !desk.moved && !byId("space").hidden) requestAnimationFrame(() => asked || paint(1));
}

function paint(ratio) {
  const { renderer, scene, pair } = view;
  const canvas = renderer.domElement;
  const [w, h] = [canvas.clientWidth, canvas.clientHeight];
  if (!w || !h) return;
  if (ratio && renderer.getPixelRatio() !== ratio) renderer.setPixelRatio(ratio);
  if (view.w !== w || view.h !== h) {
    renderer.setSize(w, h, false);
    [view.w, view.h] = [w, h];
  }
  const half = view.compared ? w / 2 : w;
  fit(half / h);
  const show = (live, one, other) => {
    view.solids.group.visible = view.works.group.visible = view.marks.group.visible = live;
    pair[0].group.visible = one;
    pair[1].group.visible = other;
  };
  renderer.setScissorTest(Boolean(view.compared));
  for (const k of view.compared ? [0, 1] : [0]) {
    if (view.compared) {
      renderer.setViewport(k * half, 0, half, h);
      renderer.setScissor(k * half, 0, half, h);
    } else {
      renderer.setViewport(0, 0, w, h);
    }
    show(!view.compared, Boolean(view.compared) && k === 0, Boolean(view.compared) && k === 1);
    renderer.render(scene, view.camera);
  }
  show(true, false, false);
  labels(view.compared ? null : view.camera, w, h);
  view.painted = (view.painted ?? 0) + 1;
  canvas.dataset.painted = String(view.painted);
}

function fit(aspect) {
  const { camera } = view;
  if (camera.isPerspectiveCamera) camera.aspect = aspect;
  else {
    const tall = (camera.top - camera.bottom) / 2;
    camera.left = -tall * aspect;
    camera.right = tall * aspect;
  }
  camera.updateProjectionMatrix();
}

function lookFrom(side) {
  const target = desk.selected && whole(desk.selected) ? new Vector3(...middle(whole(desk.selected))) : view.centre;
  // a narrow picture is looked at from farther away
  const { clientWidth: w, clientHeight: h } = view.renderer.domElement;
  const aspect = (view.compared ? w / 2 : w) / (h || 1) || 1;
  const far = view.span * 1.5 * Math.max(1, 1.5 / aspect);
  view.controls.target.copy(side === "corner" ? view.centre : target);
  view.camera.position.copy(view.controls.target).addScaledVector(new Vector3(...SIDES[side]).normalize(), far);
  view.camera.zoom = 1;
  view.controls.update();
  ask();
}

function useCamera(perspective) {
  const old = view.camera;
  view.camera = perspective ? view.perspective : view.parallel;
  if (old) view.camera.position.copy(old.position);
  view.controls.object = view.camera;
  view.controls.update();
  ask();
}

function startCamera(canvas) {
  const lo = new Vector3(Infinity, Infinity, Infinity);
  const hi = lo.clone().negate();
  for (const mesh of desk.scene.meshes) {
    lo.min(new Vector3(...mesh.lo));
    hi.max(new Vector3(...mesh.hi));
  }
  view.centre = lo.clone().add(hi).divideScalar(2);
  view.span = Math.max(1500, hi.distanceTo(lo));
  view.perspective = new PerspectiveCamera(35, 1, 20, 40000);
  const half = view.span * 0.42;
  view.parallel = new OrthographicCamera(-half, half, half, -half, -20000, 40000);
  view.camera = view.perspective;
  view.controls = new OrbitControls(view.camera, canvas);
  view.controls.enableDamping = false;
  view.controls.addEventListener("change", ask);
  lookFrom("corner");
}

/** Keys for the camera: turn with Shift and the arrows, nearer and farther with plus and minus. */
function cameraKey(event) {
  const turns = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  const nearer = { "+": 0.85, "=": 0.85, "-": 1 / 0.85, _: 1 / 0.85 }[event.key];
  const turn = event.shiftKey ? turns[event.key] : undefined;
  if (event.ctrlKey || event.metaKey || event.altKey || (!turn && !nearer)) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  const { camera, controls } = view;
  if (nearer && camera.isOrthographicCamera) camera.zoom /= nearer;
  const from = camera.position.clone().sub(controls.target);
  if (nearer) from.multiplyScalar(nearer);
  if (turn) {
    from.applyAxisAngle(new Vector3(0, 0, 1), (turn[0] * Math.PI) / 24);
    const side = new Vector3(0, 0, 1).cross(from).normalize();
    const tilted = from.clone().applyAxisAngle(side, (turn[1] * Math.PI) / 24);
    // never over the pole
    if (Math.abs(tilted.clone().normalize().z) < 0.995) from.copy(tilted);
  }
  camera.position.copy(controls.target).add(from);
  controls.update();
  ask();
}

function startSection() {
  const pick = byId("section-axis");
  const slider = byId("section-at");
  const cut = () => {
    const axis = pick.value;
    byId("section-box").hidden = axis === "";
    const k = "xyz".indexOf(axis);
    if (axis === "") {
      view.section.constant = 1e6;
    } else {
      const lo = Math.min(...desk.scene.meshes.map((mesh) => mesh.lo[k]));
      const hi = Math.max(...desk.scene.meshes.map((mesh) => mesh.hi[k]));
      const at = lo + ((hi - lo) * slider.valueAsNumber) / 100;
      view.section.normal.set(...[0, 1, 2].map((n) => (n === k ? -1 : 0)));
      view.section.constant = at;
      byId("section-words").textContent = `open beyond ${axis} = ${Math.round(at)} mm`;
    }
    byId("section-words").hidden = axis === "";
    ask();
  };
  pick.addEventListener("change", cut);
  slider.addEventListener("input", cut);
  cut();
}

function light(scene) {
  const sun = new DirectionalLight("#ffffff", 1.6);
  sun.position.set(-2000, -3000, 5000);
  scene.add(new AmbientLight("#ffffff", 0.9), new HemisphereLight("#ffffff", "#8d8d99", 1.1), sun);
}

/** Start the view in space; false where there is no WebGL. */
export function startSpace(link) {
  const canvas = byId("space-view");
  const renderer = startRenderer(canvas);
  if (!renderer) return false;
  Object.assign(view, { renderer, scene: new Scene(), clear: new Group(), solids: new Solids(), works: new Works(), marks: new Marks(), pair: [new Solids(), new Solids()] });
  light(view.scene);
  for (const made of [view.works, view.solids, view.marks, ...view.pair]) view.scene.add(made.group);
  view.scene.add(view.still, view.clear);
  startCamera(canvas);
  drawStill();
  startSection();
  for (const side of Object.keys(SIDES)) byId(`from-${side}`).addEventListener("click", () => lookFrom(side));
  byId("perspective").addEventListener("change", (event) => useCamera(event.target.checked));
  canvas.addEventListener("keydown", cameraKey);
  new ResizeObserver(ask).observe(canvas);
  const everything = () => {
    view.works.fill();
    view.marks.fill();
    drawParts();
  };
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
    drawStill();
    view.works.anew();
    everything();
  });
  on("state", () => {
    everything();
    drawPairs();
  });
  on("drawn", everything);
  on("selected", drawParts);
  on("moved", shiftHeld);
  on("view", ask);
  on("tray", drawPairs);
  on("compare", drawPairs);
  on("measured", () => {
    view.marks.fill();
    ask();
  });
  on("look", () => {
    if (desk.look) view.controls.target.set(...desk.look.at);
    view.controls.update();
    view.marks.fill();
    ask();
  });
  startHand(view, canvas, link, (name) => select(name));
  return true;
}

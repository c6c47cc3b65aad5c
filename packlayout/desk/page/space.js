// The view in space: draws on demand, one renderer, zones to look through, parts by kind.

import {
  AmbientLight, BufferAttribute, BufferGeometry, Color, DirectionalLight, EdgesGeometry, Group, HemisphereLight, LineBasicMaterial,
  LineLoop, LineSegments, Mesh, MeshBasicMaterial, MeshLambertMaterial, Object3D, OrthographicCamera, PerspectiveCamera, Plane, Scene,
  SphereGeometry, Vector3, WebGLRenderer, BoxGeometry, ConeGeometry, DoubleSide,
} from "three";
import { OrbitControls } from "three/addons/controls/OrbitControls.js";
import { byId } from "./dom.js";
import { startHand } from "./hand.js";
import { desk, middle, on, select, size, things, whole } from "./store.js";
import { compared } from "./tray.js";

Object3D.DEFAULT_UP.set(0, 0, 1);

const SIDES = { front: [-1, 0, 0.001], rear: [1, 0, 0.001], left: [0, -1, 0.001], right: [0, 1, 0.001], above: [0, -0.001, 1], below: [0, -0.001, -1], corner: [-0.8, -1, 0.75] };
const view = { parts: new Group(), frame: new Group(), still: new Group(), marks: new Group(), pair: [new Group(), new Group()], section: new Plane(new Vector3(-1, 0, 0), 1e6) };
const HELD_EVERY_MS = 90;
let asked = false;

function material(colour, more = {}) {
  return new MeshLambertMaterial({ color: new Color(colour), ...more });
}

function softwareGl(gl) {
  const info = gl.getExtension("WEBGL_debug_renderer_info");
  const name = info ? String(gl.getParameter(info.UNMASKED_RENDERER_WEBGL)) : "";
  return /swiftshader|llvmpipe|software/i.test(name);
}

function startRenderer(canvas) {
  try {
    const probe = document.createElement("canvas").getContext("webgl2");
    if (!probe) return null;
    const soft = softwareGl(probe);
    probe.getExtension("WEBGL_lose_context")?.loseContext();
    const renderer = new WebGLRenderer({ canvas, antialias: !soft, alpha: true });
    view.soft = soft;
    view.last = 0;
    renderer.setPixelRatio(soft ? 0.6 : Math.min(2, window.devicePixelRatio));
    renderer.localClippingEnabled = true;
    return renderer;
  } catch {
    return null;
  }
}

function geometryOf(mesh) {
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(mesh.v instanceof Float32Array ? mesh.v : new Float32Array(mesh.v), 3));
  geometry.setIndex(new BufferAttribute(mesh.f instanceof Uint32Array ? mesh.f : new Uint32Array(mesh.f), 1));
  geometry.computeVertexNormals();
  return geometry;
}

function line(points, colour) {
  return new LineLoop(new BufferGeometry().setFromPoints(points), new LineBasicMaterial({ color: colour }));
}

function drawStill() {
  const { scene } = desk;
  view.still.clear();
  for (const mesh of scene.meshes) {
    const [colour, opacity] = scene.colours.clear[mesh.kind];
    const geometry = geometryOf(mesh);
    const skin = material(colour, { transparent: true, opacity, depthWrite: false, side: DoubleSide, clippingPlanes: [view.section] });
    const body = new Mesh(geometry, skin);
    body.name = mesh.name;
    view.still.add(body);
    if (!mesh.rough) {
      view.still.add(new LineSegments(new EdgesGeometry(geometry, 20), new LineBasicMaterial({ color: colour, clippingPlanes: [view.section] })));
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

const dark = () => matchMedia("(prefers-color-scheme: dark)").matches;

function bodyOf(one) {
  const body = one.part && desk.scene.bodies[one.part];
  const group = new Group();
  const colour = desk.scene.colours.part[one.kind] ?? "#888888";
  let mesh;
  if (body) {
    body.geometry ??= geometryOf(body);
    mesh = new Mesh(body.geometry, material(colour));
    mesh.matrixAutoUpdate = false;
    const [a, b, c] = one.rotation;
    const [ox, oy, oz] = one.origin.map((v, k) => v - (one.lo[k] + one.hi[k]) / 2);
    mesh.matrix.set(a[0], a[1], a[2], ox, b[0], b[1], b[2], oy, c[0], c[1], c[2], oz, 0, 0, 0, 1);
  } else {
    mesh = new Mesh(new BoxGeometry(...size(one)), material(colour));
  }
  group.add(mesh, new LineSegments(new EdgesGeometry(new BoxGeometry(...size(one))), new LineBasicMaterial({ color: "#1c2128" })));
  group.position.set(...middle(one));
  return group;
}

function thingOf(one, live) {
  const group = new Group();
  for (const part of one.modules.length ? one.modules : [one]) group.add(bodyOf(part));
  group.name = one.name;
  if (one.cradle) {
    const [lo, hi] = one.cradle;
    const box = { lo, hi };
    const cage = new LineSegments(new EdgesGeometry(new BoxGeometry(...size(box))), new LineBasicMaterial({ color: desk.scene.colours.frame }));
    cage.position.set(...middle(box));
    if (!live || !desk.state.frame) group.add(cage);
  }
  group.userData.lo = one.lo;
  if (live && whole(desk.selected)?.name === one.name) {
    const box = new LineSegments(new EdgesGeometry(new BoxGeometry(...size(one).map((v) => v + 12))), new LineBasicMaterial({ color: dark() ? "#ffffff" : "#000000" }));
    box.position.set(...middle(one));
    group.add(box);
  }
  if (live && desk.state.checks.some((check) => check.verdict === "fail" && check.title.includes(one.name))) {
    const box = new LineSegments(new EdgesGeometry(new BoxGeometry(...size(one).map((v) => v + 24))), new LineBasicMaterial({ color: "#d1242f" }));
    box.position.set(...middle(one));
    group.add(box);
  }
  return group;
}

function free(group) {
  group.traverse((node) => {
    if (node.geometry && !Object.values(desk.scene.bodies).some((body) => body.geometry === node.geometry)) node.geometry.dispose();
    node.material?.dispose();
  });
  group.clear();
}

function drawParts() {
  free(view.parts);
  for (const one of things()) view.parts.add(thingOf(one, true));
  ask();
}

/** The thing that is held goes where the hand has it; nothing else is drawn anew. */
function shiftHeld() {
  const held = desk.moved?.thing;
  if (!held) return;
  const group = view.parts.children.find((one) => one.name === held.name);
  if (group) group.position.set(...held.lo.map((v, k) => v - group.userData.lo[k]));
  drawMarks();
  ask();
}

function drawFrame() {
  if (view.frameOf === desk.state.frame) return;
  view.frameOf = desk.state.frame;
  free(view.frame);
  for (const piece of desk.state.frame?.pieces ?? []) {
    const geometry = geometryOf(piece).toNonIndexed();
    geometry.computeVertexNormals();
    const mesh = new Mesh(geometry, material(dark() ? "#8a93a6" : desk.scene.colours.frame));
    mesh.name = piece.name;
    view.frame.add(mesh);
  }
}

function drawMarks() {
  free(view.marks);
  const ball = (cg, colour, name) => {
    // as large as the tolerance says along each axis, and never so small that it is not seen
    const mesh = new Mesh(new SphereGeometry(1, 20, 14), new MeshBasicMaterial({ color: colour, transparent: true, opacity: 0.75, depthTest: false }));
    mesh.scale.set(...cg.map((c) => Math.max(26, c[1])));
    mesh.position.set(...cg.map((c) => c[0]));
    mesh.renderOrder = 3;
    mesh.name = name;
    view.marks.add(mesh);
  };
  const { original, loads } = desk.state;
  ball(original.cg, dark() ? "#ffffff" : desk.scene.colours.before, "centre of gravity before");
  const tolerances = loads[0].cg.map((c) => c[1]);
  const now = (desk.moved?.loads ?? loads)[0].cg.map((c, k) => [c[0], c[1] || tolerances[k]]);
  ball(now, dark() ? "#ff5c7a" : desk.scene.colours.after, "centre of gravity now");
}

function drawPairs() {
  const pair = compared();
  const turned = Boolean(pair) !== Boolean(view.compared);
  view.compared = pair;
  if (turned) lookFrom("corner");
  for (const [k, group] of view.pair.entries()) {
    free(group);
    if (pair) for (const one of pair[k].things) group.add(thingOf(one, false));
  }
  byId("pair-words").hidden = !pair;
  if (pair) byId("pair-words").textContent = `Left: ${pair[0].title}. Right: ${pair[1].title}.`;
  ask();
}

export function ask() {
  if (asked || !view.renderer || byId("space").hidden) return;
  asked = true;
  const draw = () =>
    requestAnimationFrame(() => {
      asked = false;
      view.last = performance.now();
      paint();
    });
  // where the processor draws, figures go first while something is held and the picture follows at its own pace
  const wait = view.soft && desk.moved ? view.last + HELD_EVERY_MS - performance.now() : 0;
  if (wait > 0) setTimeout(draw, wait);
  else draw();
}

function paint() {
  const { renderer, scene, pair } = view;
  const canvas = renderer.domElement;
  const [w, h] = [canvas.clientWidth, canvas.clientHeight];
  if (!w || !h) return;
  if (view.w !== w || view.h !== h) {
    renderer.setSize(w, h, false);
    [view.w, view.h] = [w, h];
  }
  const half = view.compared ? w / 2 : w;
  fit(half / h);
  const show = (live, one, other) => {
    view.parts.visible = view.frame.visible = view.marks.visible = live;
    pair[0].visible = one;
    pair[1].visible = other;
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

/** Start the view in space; false where there is no WebGL. */
export function startSpace(link) {
  const canvas = byId("space-view");
  const renderer = startRenderer(canvas);
  if (!renderer) return false;
  view.renderer = renderer;
  view.scene = new Scene();
  view.scene.add(new AmbientLight("#ffffff", 0.9), new HemisphereLight("#ffffff", "#8d8d99", 1.1), view.still, view.parts, view.frame, view.marks, ...view.pair);
  const sun = new DirectionalLight("#ffffff", 1.6);
  sun.position.set(-2000, -3000, 5000);
  view.scene.add(sun);
  startCamera(canvas);
  drawStill();
  startSection();
  for (const side of Object.keys(SIDES)) byId(`from-${side}`).addEventListener("click", () => lookFrom(side));
  byId("perspective").addEventListener("change", (event) => useCamera(event.target.checked));
  new ResizeObserver(ask).observe(canvas);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
    drawStill();
    view.frameOf = undefined;
    drawFrame();
    drawParts();
    drawMarks();
  });
  on("state", () => {
    drawFrame();
    drawParts();
    drawMarks();
    drawPairs();
  });
  on("selected", drawParts);
  on("moved", shiftHeld);
  on("view", ask);
  on("tray", drawPairs);
  on("compare", drawPairs);
  on("look", (at) => {
    view.controls.target.set(...at);
    view.controls.update();
    ask();
  });
  startHand(view, canvas, link, (name) => select(name));
  return true;
}

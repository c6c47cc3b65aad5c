// Plan and side view as plain SVG: for eyes, for hands, for the keyboard, and where there is no WebGL.

import { byId, figure, ownTouches, rebuild, svg } from "./dom.js";
import { desk, failing, on, outdated, select, things, whole } from "./store.js";

// plan: x to the right, y up the page, seen from above; side: x to the right, z up the page, seen from the left
const VIEWS = { plan: [0, 1], side: [0, 2] };
let hold = null;
let lost = false;
let link;
const scales = {};
const made = {};

function bounds() {
  const { scene } = desk;
  const points = [[0, 0, 0], [scene.wheelbase, 0, 0]];
  for (const mesh of scene.meshes) points.push(mesh.lo, mesh.hi);
  for (const one of things()) points.push(one.lo, one.hi);
  if (scene.outline) {
    for (const [x, z] of scene.outline.side) points.push([x, -scene.outline.width / 2, z], [x, scene.outline.width / 2, z]);
  }
  return [0, 1, 2].map((k) => [Math.min(...points.map((p) => p[k])) - 60, Math.max(...points.map((p) => p[k])) + 60]);
}

function rect(lo, hi, [h, v], flip, props, ...kids) {
  return svg("rect", { x: lo[h], y: flip - hi[v], width: Math.max(1, hi[h] - lo[h]), height: Math.max(1, hi[v] - lo[v]), ...props }, ...kids);
}

function hull(mesh, h, v) {
  const points = [...mesh.corners()].map((p) => [p[h], p[v]]).sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  const cross = (o, a, b) => (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]);
  const half = (list) => {
    const out = [];
    for (const p of list) {
      while (out.length > 1 && cross(out.at(-2), out.at(-1), p) <= 0) out.pop();
      out.push(p);
    }
    out.pop();
    return out;
  };
  return [...half(points), ...half(points.reverse())];
}

function outlineOf(mesh, h, v, flip) {
  mesh.hulls ??= {};
  mesh.hulls[`${h}${v}`] ??= hull(mesh, h, v);
  return mesh.hulls[`${h}${v}`].map(([a, b]) => `${a.toFixed(0)},${(flip - b).toFixed(0)}`).join(" ");
}

function vehicle(name, flip) {
  const { scene } = desk;
  const nodes = [];
  if (name === "side") {
    if (scene.outline) nodes.push(svg("polygon", { class: "outline", points: scene.outline.side.map(([x, z]) => `${x},${flip - z}`).join(" ") }));
    for (const x of [0, scene.wheelbase]) nodes.push(svg("circle", { class: "wheel", cx: x, cy: flip - scene.tyre_radius, r: scene.tyre_radius }));
    nodes.push(svg("line", { class: "ground", x1: -9000, x2: 9000, y1: flip, y2: flip }));
  } else {
    if (scene.outline) {
      const xs = scene.outline.side.map((p) => p[0]);
      nodes.push(svg("rect", { class: "outline", x: Math.min(...xs), y: flip - scene.outline.width / 2, width: Math.max(...xs) - Math.min(...xs), height: scene.outline.width }));
    }
    for (const [k, x] of [0, scene.wheelbase].entries()) {
      for (const side of [-1, 1]) nodes.push(svg("rect", { class: "wheel", x: x - scene.tyre_radius, y: flip - (side * scene.tracks[k]) / 2 - 60, width: 2 * scene.tyre_radius, height: 120 }));
    }
  }
  return nodes;
}

function marks(name, flip) {
  const [h, v] = VIEWS[name];
  const cross = (at, kind, words) =>
    svg("g", { class: kind }, svg("title", {}, words), svg("circle", { cx: at[h], cy: flip - at[v], r: 16 }), svg("path", { d: `M${at[h] - 26} ${flip - at[v]}h52M${at[h]} ${flip - at[v] - 26}v52` }));
  const nodes = desk.scene.mounts.map((mount) =>
    svg("g", { class: "mount" }, svg("title", {}, `mounting point ${mount.name}`), svg("path", { d: `M${mount.at[h]} ${flip - mount.at[v] - 14}l14 24h-28z` })),
  );
  const before = desk.state.original.cg.map((c) => c[0]);
  const now = (desk.moved?.loads ?? desk.state.loads)[0].cg.map((c) => c[0]);
  return [...nodes, cross(before, "cg before", "centre of gravity before"), cross(now, "cg after", "centre of gravity now")];
}

/** Frame, cables and hoses as the last whole calculation has them: drawn once, faint and broken when out of date. */
function works(name, flip) {
  const [h, v] = VIEWS[name];
  if (made[name]?.of !== desk.drawn || made[name].flip !== flip || made[name].run !== desk.run) {
    const pieces = (desk.drawn.frame?.pieces ?? []).map((piece) => {
      const mesh = { corners: () => Array.from({ length: piece.v.length / 3 }, (_, n) => piece.v.slice(3 * n, 3 * n + 3)) };
      return svg("polygon", { class: "frame", points: hull(mesh, h, v).map(([a, b]) => `${a},${flip - b}`).join(" ") }, svg("title", {}, piece.name));
    });
    const runs = desk.drawn.runs.filter((run) => run.points.length > 1).flatMap((run) => {
      const points = run.points.map((p) => `${p[h]},${flip - p[v]}`).join(" ");
      const width = Math.max(8, run.diameter_mm);
      return [
        svg("polyline", { class: "edge", points, "stroke-width": width + 6 }),
        svg("polyline", { class: `run${run.name === desk.run ? " chosen" : ""}`, points, stroke: desk.scene.colours.run[run.kind], "stroke-width": width }, svg("title", {}, `${run.name}, ${run.kind}`)),
      ];
    });
    made[name] = { of: desk.drawn, flip, run: desk.run, node: svg("g", {}, pieces, runs) };
  }
  const { node } = made[name];
  node.setAttribute("class", outdated() ? "works old" : "works");
  return node;
}

/** The place of a check and what was measured. */
function pointers(flip, [h, v]) {
  const nodes = [];
  if (desk.look) {
    const [x, y] = [desk.look.at[h], flip - desk.look.at[v]];
    nodes.push(svg("g", { class: "place" }, svg("title", {}, desk.look.words), svg("circle", { cx: x, cy: y, r: 60 }), svg("path", { d: `M${x - 90} ${y}h60M${x + 30} ${y}h60M${x} ${y - 90}v60M${x} ${y + 30}v60` })));
  }
  if (desk.measured) {
    const [a, b] = desk.measured.ends.map((p) => [p[h], flip - p[v]]);
    nodes.push(svg("line", { class: "measure", x1: a[0], y1: a[1], x2: b[0], y2: b[1] }), svg("text", { class: "label", x: (a[0] + b[0]) / 2, y: (a[1] + b[1]) / 2 - 30 }, desk.measured.words));
  }
  return nodes;
}

function boxes(list, name, flip, live) {
  const [h, v] = VIEWS[name];
  const bad = live ? failing(list) : new Set();
  // what is further away is drawn first
  const depth = 3 - h - v;
  const sorted = [...list].sort((a, b) => (name === "plan" ? a.hi[depth] - b.hi[depth] : b.lo[depth] - a.lo[depth]));
  return sorted.map((one) => {
    const chosen = live && whole(desk.selected)?.name === one.name;
    const colour = desk.scene.colours.part[one.kind] ?? "#888888";
    const nodes = [];
    if (one.cradle) nodes.push(rect(one.cradle[0], one.cradle[1], [h, v], flip, { class: "cradle" }));
    nodes.push(rect(one.lo, one.hi, [h, v], flip, { class: "body", fill: colour }));
    for (const module of one.modules) nodes.push(rect(module.lo, module.hi, [h, v], flip, { class: "module" }));
    const fails = bad.has(one.name);
    const words = `${one.name}${one.locked ? ", locked" : ""}${fails ? ", a check fails" : ""}`;
    const label = svg("text", { x: (one.lo[h] + one.hi[h]) / 2, y: flip - (one.lo[v] + one.hi[v]) / 2, class: "label" }, fails ? "✕" : one.locked ? "locked" : "");
    return svg("g", { class: ["thing", chosen ? "chosen" : "", fails ? "fails" : ""].join(" ").trim(), "data-thing": one.name }, svg("title", {}, words), nodes, label);
  });
}

function drawing(name, list, live, b = bounds()) {
  const [h, v] = VIEWS[name];
  const flip = b[v][1] + b[v][0];
  const { colours } = desk.scene;
  const clear = desk.scene.meshes.map((mesh) =>
    svg("polygon", { class: mesh.kind === "zone" ? "zone" : "keepout", points: outlineOf(mesh, h, v, flip), fill: colours.clear[mesh.kind][0] }, svg("title", {}, mesh.kind === "zone" ? mesh.name : `${mesh.name}, ${mesh.kind.replace("keep-out ", "")} keep-out`)),
  );
  const node = svg("g", {}, vehicle(name, flip), clear, boxes(list, name, flip, live), live ? [works(name, flip), ...marks(name, flip), ...pointers(flip, [h, v])] : []);
  return { node, box: `${b[h][0]} ${b[v][0]} ${b[h][1] - b[h][0]} ${b[v][1] - b[v][0]}`, flip };
}

export function drawFlat() {
  if (!desk.state || !desk.scene || byId("flat").hidden) return;
  const b = hold ? hold.bounds : bounds();
  for (const name of Object.keys(VIEWS)) {
    const view = byId(`${name}-view`);
    const { node, box, flip } = drawing(name, things(), true, b);
    view.setAttribute("viewBox", box);
    scales[name] = { flip };
    rebuild(view, node);
  }
}

/** Two layouts side by side, plan over side. */
export function drawPair(node, pair) {
  rebuild(
    node,
    ...pair.flatMap(({ title, things: list }) =>
      Object.keys(VIEWS).map((name) => {
        const { node: inner, box } = drawing(name, list, false);
        return svg("svg", { viewBox: box, role: "img", "aria-label": `${title}, ${name} view: ${list.map((one) => `${one.name} at ${one.lo.map((c) => figure(c, 0)).join(", ")}`).join("; ")}` }, inner);
      }),
    ),
  );
}

function startHand(name) {
  const view = byId(`${name}-view`);
  const [h, v] = VIEWS[name];
  const point = (event) => {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(view.getScreenCTM().inverse());
    return [at.x, scales[name].flip - at.y];
  };
  ownTouches(view);
  view.addEventListener("pointerdown", async (event) => {
    const target = event.target.closest("[data-thing]")?.dataset.thing;
    if (!target || event.button !== 0) return;
    view.setPointerCapture(event.pointerId);
    select(target);
    const one = whole(target);
    if (one.locked) return;
    lost = false;
    hold = { name: target, lo: [...one.lo], from: point(event), bounds: bounds(), begun: link.ask("begin", { target }), far: false };
  });
  view.addEventListener("pointermove", async (event) => {
    if (!hold || lost) return;
    const [a, b] = point(event);
    const at = [...hold.lo];
    at[h] += a - hold.from[0];
    at[v] += b - hold.from[1];
    hold.far ||= Math.hypot(a - hold.from[0], b - hold.from[1]) > 2;
    if (!hold.far || (await hold.begun).t !== "begun" || !hold) return;
    link.newest("move", { at, snap: desk.snap && !event.altKey ? "xyz"[h] + "xyz"[v] : "" });
  });
  const drop = async (op) => {
    if (!hold) return;
    const { far, begun } = hold;
    await begun;
    await link.settled();
    hold = null;
    if (!lost) await link.ask(far ? op : "cancel");
  };
  view.addEventListener("pointerup", () => drop("commit"));
  view.addEventListener("pointercancel", () => drop("cancel"));
}

export function startFlat(to) {
  link = to;
  for (const name of Object.keys(VIEWS)) startHand(name);
  on("refused", () => {
    lost = true;
  });
  for (const what of ["state", "moved", "selected", "view", "drawn", "look", "measured"]) on(what, drawFlat);
}

// The things in space with as few drawing calls as can be: all boxes in one, all their edges in one, own shapes by themselves.

import {
  BoxGeometry, BufferAttribute, BufferGeometry, Color, Group, InstancedMesh, LineBasicMaterial, LineSegments, Matrix4, Mesh,
  MeshLambertMaterial,
} from "three";
import { dark, geometryOf } from "./shapes.js";
import { desk, failing, middle, size, whole } from "./store.js";

const PAIRS = [[0, 1], [2, 3], [4, 5], [6, 7], [0, 2], [1, 3], [4, 6], [5, 7], [0, 4], [1, 5], [2, 6], [3, 7]];
const EDGE = new Color("#1c2128");
const unit = new BoxGeometry(1, 1, 1);
const materials = new Map();

function material(colour) {
  if (!materials.has(colour)) materials.set(colour, new MeshLambertMaterial({ color: new Color(colour) }));
  return materials.get(colour);
}

const colourOf = (one) => desk.scene.colours.part[one.kind] ?? "#888888";

export class Solids {
  constructor() {
    this.group = new Group();
    this.owners = [];
    this.held = new Map();
  }

  /** Draw these things and nothing else; `live` marks what is chosen and what fails. */
  fill(list, live) {
    this.clear();
    const boxes = [];
    const lines = { at: [], colour: [] };
    const fails = live ? failing(list) : new Set();
    for (const one of list) {
      const mine = { lo: one.lo, from: lines.at.length, instances: [], meshes: [] };
      for (const part of one.modules.length ? one.modules : [one]) {
        if (part.part && desk.scene.bodies[part.part]) mine.meshes.push(this.body(part, one.name));
        else {
          mine.instances.push(boxes.length);
          boxes.push(part);
          this.owners.push(one.name);
        }
        edges(lines, part.lo, part.hi, 0, EDGE);
      }
      if (one.cradle && !(live && desk.drawn.frame && !desk.state.outdated.length)) edges(lines, ...one.cradle, 0, new Color(dark() ? "#8a93a6" : desk.scene.colours.frame));
      if (live && whole(desk.selected)?.name === one.name) edges(lines, one.lo, one.hi, 6, new Color(dark() ? "#ffffff" : "#000000"));
      if (fails.has(one.name)) edges(lines, one.lo, one.hi, 12, new Color(dark() ? "#ff8080" : "#d1242f"));
      mine.to = lines.at.length;
      this.held.set(one.name, mine);
    }
    if (boxes.length) {
      this.boxes = new InstancedMesh(unit, material("#ffffff"), boxes.length);
      boxes.forEach((part, n) => {
        this.boxes.setMatrixAt(n, boxMatrix(part, [0, 0, 0]));
        this.boxes.setColorAt(n, new Color(colourOf(part)));
      });
      this.parts = boxes;
      this.group.add(this.boxes);
    }
    this.base = new Float32Array(lines.at);
    const geometry = new BufferGeometry();
    geometry.setAttribute("position", new BufferAttribute(this.base.slice(), 3));
    geometry.setAttribute("color", new BufferAttribute(new Float32Array(lines.colour), 3));
    this.lines = new LineSegments(geometry, new LineBasicMaterial({ vertexColors: true }));
    this.lines.frustumCulled = false;
    this.group.add(this.lines);
  }

  body(part, owner) {
    const body = desk.scene.bodies[part.part];
    body.geometry ??= geometryOf(body);
    const mesh = new Mesh(body.geometry, material(colourOf(part)));
    const [a, b, c] = part.rotation;
    const [x, y, z] = part.origin;
    mesh.matrixAutoUpdate = false;
    mesh.matrix.set(a[0], a[1], a[2], x, b[0], b[1], b[2], y, c[0], c[1], c[2], z, 0, 0, 0, 1);
    mesh.userData.rest = mesh.matrix.clone();
    mesh.name = owner;
    this.group.add(mesh);
    return mesh;
  }

  /** A thing goes where the hand has it; nothing else is touched. */
  shift(name, lo) {
    const mine = this.held.get(name);
    if (!mine) return;
    const by = lo.map((v, k) => v - mine.lo[k]);
    for (const n of mine.instances) this.boxes.setMatrixAt(n, boxMatrix(this.parts[n], by));
    if (mine.instances.length) {
      this.boxes.instanceMatrix.needsUpdate = true;
      this.boxes.boundingSphere = null;
    }
    for (const mesh of mine.meshes) {
      mesh.matrix.copy(mesh.userData.rest).premultiply(new Matrix4().makeTranslation(...by));
      mesh.matrixWorldNeedsUpdate = true;
    }
    const position = this.lines.geometry.attributes.position;
    for (let n = mine.from; n < mine.to; n += 1) position.array[n] = this.base[n] + by[n % 3];
    position.needsUpdate = true;
  }

  /** What a ray meets first: the name of the thing and the point; null when nothing. */
  hit(ray) {
    const [first] = ray.intersectObjects(this.group.children.filter((node) => node.isMesh), false);
    if (!first) return null;
    return { name: first.object === this.boxes ? this.owners[first.instanceId] : first.object.name, point: first.point };
  }

  clear() {
    this.lines?.geometry.dispose();
    this.lines?.material.dispose();
    this.boxes?.dispose();
    this.lines = this.boxes = undefined;
    this.owners = [];
    this.held.clear();
    this.group.clear();
  }
}

function boxMatrix(part, by) {
  const matrix = new Matrix4().makeScale(...size(part));
  return matrix.setPosition(...middle(part).map((v, k) => v + by[k]));
}

function edges(lines, lo, hi, more, colour) {
  const corner = (n) => [0, 1, 2].map((k) => ((n >> k) & 1 ? hi[k] + more : lo[k] - more));
  for (const pair of PAIRS) {
    for (const n of pair) {
      lines.at.push(...corner(n));
      lines.colour.push(colour.r, colour.g, colour.b);
    }
  }
}

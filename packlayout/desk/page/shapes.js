// Shapes for the view in space, made of plain lists of corners and triangles.

import { BufferAttribute, BufferGeometry, Vector3 } from "three";

const ROUND = 8;

export const dark = () => matchMedia("(prefers-color-scheme: dark)").matches;

export function geometryOf(mesh) {
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(mesh.v instanceof Float32Array ? mesh.v : new Float32Array(mesh.v), 3));
  geometry.setIndex(new BufferAttribute(mesh.f instanceof Uint32Array ? mesh.f : new Uint32Array(mesh.f), 1));
  geometry.computeVertexNormals();
  return geometry;
}

/** Many surfaces as one, each triangle with its own normal, so that edges look sharp. */
export function flatFaced(pieces) {
  const count = pieces.reduce((sum, piece) => sum + piece.f.length, 0);
  const at = new Float32Array(3 * count);
  let n = 0;
  for (const piece of pieces) {
    for (const corner of piece.f) for (let k = 0; k < 3; k += 1) at[n++] = piece.v[3 * corner + k];
  }
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(at, 3));
  geometry.computeVertexNormals();
  return geometry;
}

/** Round bars along middle lines, all in one surface. */
export function pipes(lines) {
  const at = [];
  const normal = [];
  const index = [];
  for (const { points, radius } of lines) {
    const spine = points.map((p) => new Vector3(...p));
    let side = null;
    const first = at.length / 3;
    spine.forEach((p, n) => {
      const along = spine[Math.min(n + 1, spine.length - 1)].clone().sub(spine[Math.max(n - 1, 0)]).normalize();
      // the side turns with the line and never about it
      side = side ? side.addScaledVector(along, -side.dot(along)) : across(along);
      if (side.lengthSq() < 1e-9) side = across(along);
      side.normalize();
      const other = along.clone().cross(side);
      for (let k = 0; k < ROUND; k += 1) {
        const turn = (2 * Math.PI * k) / ROUND;
        const out = side.clone().multiplyScalar(Math.cos(turn)).addScaledVector(other, Math.sin(turn));
        normal.push(out.x, out.y, out.z);
        at.push(p.x + radius * out.x, p.y + radius * out.y, p.z + radius * out.z);
      }
      if (n === 0) return;
      const base = first + (n - 1) * ROUND;
      for (let k = 0; k < ROUND; k += 1) {
        const next = (k + 1) % ROUND;
        index.push(base + k, base + next, base + ROUND + k, base + next, base + ROUND + next, base + ROUND + k);
      }
    });
  }
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(new Float32Array(at), 3));
  geometry.setAttribute("normal", new BufferAttribute(new Float32Array(normal), 3));
  geometry.setIndex(index);
  return geometry;
}

function across(along) {
  return new Vector3(0, 0, 1).cross(along).lengthSq() > 1e-6 ? new Vector3(0, 0, 1).cross(along) : new Vector3(0, 1, 0).cross(along);
}

// Marks in space: centre of gravity before and now, the place of a check, what was measured.

import { BufferGeometry, Group, IcosahedronGeometry, Line, LineBasicMaterial, Mesh, MeshBasicMaterial, OctahedronGeometry, SphereGeometry, Vector3 } from "three";
import { dark } from "./shapes.js";
import { desk } from "./store.js";

const LEAST_MM = 26;
const ball = new SphereGeometry(1, 20, 14);
const diamond = new OctahedronGeometry(1);

export class Marks {
  constructor() {
    this.group = new Group();
    // the one before is a diamond and the one now a ball, so that colour is not what tells them apart
    this.before = this.mark(diamond, 1.35);
    this.now = this.mark(ball, 1);
    this.place = this.mark(new IcosahedronGeometry(1), 1);
    this.place.material.wireframe = true;
    this.measure = new Line(new BufferGeometry(), new LineBasicMaterial({ depthTest: false }));
    this.measure.renderOrder = 4;
    this.measure.frustumCulled = false;
    this.group.add(this.measure);
  }

  mark(geometry, larger) {
    const mesh = new Mesh(geometry, new MeshBasicMaterial({ transparent: true, opacity: 0.75, depthTest: false }));
    mesh.renderOrder = 3;
    mesh.userData.larger = larger;
    this.group.add(mesh);
    return mesh;
  }

  put(mesh, cg, colour) {
    // as large as the tolerance says along each axis, and never so small that it is not seen
    mesh.scale.set(...cg.map((c) => mesh.userData.larger * Math.max(LEAST_MM, c[1])));
    mesh.position.set(...cg.map((c) => c[0]));
    mesh.material.color.set(colour);
  }

  fill() {
    const { original, loads } = desk.state;
    const { colours } = desk.scene;
    const ink = dark() ? "#ffffff" : "#000000";
    this.put(this.before, original.cg, dark() ? "#ffffff" : colours.before);
    const tolerances = loads[0].cg.map((c) => c[1]);
    this.put(this.now, (desk.moved?.loads ?? loads)[0].cg.map((c, k) => [c[0], c[1] || tolerances[k]]), dark() ? "#ff5c7a" : colours.after);
    this.place.visible = Boolean(desk.look);
    if (desk.look) this.put(this.place, desk.look.at.map((c) => [c, 45]), ink);
    this.measure.visible = Boolean(desk.measured);
    if (desk.measured) {
      this.measure.geometry.setFromPoints(desk.measured.ends.map((p) => new Vector3(...p)));
      this.measure.material.color.set(ink);
    }
  }
}

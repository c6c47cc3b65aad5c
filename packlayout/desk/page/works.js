// Frame, cables and hoses in space, from the last whole calculation; faint when it is out of date.

import { Color, Group, Mesh, MeshLambertMaterial } from "three";
import { dark, flatFaced, pipes } from "./shapes.js";
import { desk, outdated } from "./store.js";

const FAINT = 0.28;
const CHOSEN_MORE_MM = 6;

export class Works {
  constructor() {
    this.group = new Group();
    this.of = null;
    this.run = null;
  }

  /** Draw what the calculation has; nothing is made anew while it is the same. */
  fill() {
    if (this.of !== desk.drawn || this.run !== desk.run) {
      this.of = desk.drawn;
      this.run = desk.run;
      this.make();
    }
    this.fade();
  }

  /** Make it anew the next time, in other colours. */
  anew() {
    this.of = null;
  }

  make() {
    for (const mesh of this.group.children) {
      mesh.geometry.dispose();
      mesh.material.dispose();
    }
    this.group.clear();
    const { frame, runs } = desk.drawn;
    const { colours } = desk.scene;
    if (frame) this.add(flatFaced(frame.pieces), dark() ? "#8a93a6" : colours.frame, "frame");
    const laid = runs.filter((run) => run.points.length > 1);
    for (const kind of new Set(laid.map((run) => run.kind))) {
      const mine = laid.filter((run) => run.kind === kind);
      this.add(pipes(mine.map((run) => ({ points: run.points, radius: run.diameter_mm / 2 }))), lightened(colours.run[kind]), `${kind} cables`);
    }
    const chosen = laid.find((run) => run.name === this.run);
    if (chosen) this.add(pipes([{ points: chosen.points, radius: chosen.diameter_mm / 2 + CHOSEN_MORE_MM }]), dark() ? "#ffffff" : "#000000", "chosen cable", 0.45);
  }

  add(geometry, colour, name, opacity = 1) {
    const mesh = new Mesh(geometry, new MeshLambertMaterial({ color: new Color(colour), transparent: opacity < 1, opacity }));
    mesh.name = name;
    mesh.userData.opacity = opacity;
    this.group.add(mesh);
  }

  fade() {
    const faint = outdated();
    for (const { material, userData } of this.group.children) {
      const opacity = faint ? FAINT * userData.opacity : userData.opacity;
      if (material.opacity === opacity) continue;
      material.opacity = opacity;
      material.transparent = opacity < 1;
      material.depthWrite = opacity === 1;
      material.needsUpdate = true;
    }
  }
}

/** On a dark ground the darkest colours are lifted, so that they are seen. */
function lightened(colour) {
  const made = new Color(colour);
  const level = 0.2126 * made.r + 0.7152 * made.g + 0.0722 * made.b;
  return dark() && level < 0.12 ? `#${made.lerp(new Color("#ffffff"), 0.5).getHexString()}` : colour;
}

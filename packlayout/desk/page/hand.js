// The hand in space: pick a thing, drag it on the horizontal plane through the point it was grabbed at; Shift: up and down.

import { Plane, Raycaster, Vector2, Vector3 } from "three";
import { ownTouches } from "./dom.js";
import { touch } from "./measure.js";
import { desk, on, whole } from "./store.js";

const MOVED_PX = 3;

export function startHand(view, canvas, link, choose) {
  const ray = new Raycaster();
  let hold = null;
  let lost = false;
  on("refused", () => {
    lost = true;
  });

  const aim = (event) => {
    const box = canvas.getBoundingClientRect();
    const at = new Vector2(((event.clientX - box.left) / box.width) * 2 - 1, 1 - ((event.clientY - box.top) / box.height) * 2);
    // the camera may have been turned, and things moved, since the last picture: a slow one must not mislead the hand
    view.camera.updateMatrixWorld();
    ray.setFromCamera(at, view.camera);
  };

  const plane = (point, upright) => {
    if (!upright) return new Plane().setFromNormalAndCoplanarPoint(new Vector3(0, 0, 1), point);
    const normal = view.camera.getWorldDirection(new Vector3()).setZ(0);
    if (normal.length() < 1e-3) normal.set(0, 1, 0);
    return new Plane().setFromNormalAndCoplanarPoint(normal.normalize(), point);
  };

  const upright = (event) => event.shiftKey !== desk.upright;

  canvas.addEventListener(
    "pointerdown",
    (event) => {
      if (event.button !== 0 || view.compared) return;
      aim(event);
      view.scene.updateMatrixWorld();
      if (touch(ray, [view.solids.group, view.works.group, view.still, view.clear])) {
        event.stopImmediatePropagation();
        return;
      }
      const hit = view.solids.hit(ray);
      if (!hit) return;
      // the camera's own hand must not turn the view while a thing is held
      event.stopImmediatePropagation();
      canvas.focus({ preventScroll: true });
      const { name } = hit;
      choose(name);
      const one = whole(name);
      if (!one || one.locked) return;
      lost = false;
      canvas.setPointerCapture(event.pointerId);
      hold = { name, lo: [...one.lo], point: hit.point.clone(), upright: upright(event), x: event.clientX, y: event.clientY, far: false, offset: [0, 0, 0] };
      hold.plane = plane(hold.point, hold.upright);
      hold.begun = link.ask("begin", { target: name });
    },
    { capture: true },
  );

  ownTouches(canvas);

  canvas.addEventListener("pointermove", async (event) => {
    if (!hold || lost) return;
    hold.far ||= Math.hypot(event.clientX - hold.x, event.clientY - hold.y) > MOVED_PX;
    if (!hold.far) return;
    aim(event);
    if (upright(event) !== hold.upright) {
      // from here on the other way, starting where the thing is now
      const at = ray.ray.intersectPlane(hold.plane, new Vector3());
      if (at) {
        hold.point = at;
        hold.lo = hold.lo.map((v, k) => v + hold.offset[k]);
        hold.offset = [0, 0, 0];
      }
      hold.upright = upright(event);
      hold.plane = plane(hold.point, hold.upright);
    }
    const at = ray.ray.intersectPlane(hold.plane, new Vector3());
    if (!at) return;
    hold.offset = hold.upright ? [0, 0, at.z - hold.point.z] : [at.x - hold.point.x, at.y - hold.point.y, 0];
    const held = hold;
    if ((await held.begun).t !== "begun" || hold !== held) return;
    link.newest("move", { at: held.lo.map((v, k) => v + held.offset[k]), snap: desk.snap && !event.altKey ? (held.upright ? "z" : "xy") : "" });
  });

  const drop = async (op) => {
    if (!hold) return;
    const { far, begun } = hold;
    hold = null;
    await begun;
    await link.settled();
    if (!lost) await link.ask(far ? op : "cancel");
  };
  canvas.addEventListener("pointerup", () => drop("commit"));
  canvas.addEventListener("pointercancel", () => drop("cancel"));
  canvas.addEventListener("keydown", (event) => {
    if (event.key === "Escape") drop("cancel");
  });
}

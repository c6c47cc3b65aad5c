// Words over the view in space: what fails, what is chosen, the place of a check, what was measured. Plain text of the page.

import { Vector3 } from "three";
import { byId, el, rebuild } from "./dom.js";
import { desk, failing, middle, things, whole } from "./store.js";

const CHARACTERS = 44;
let shown = "";

function wanted() {
  const list = things();
  const fails = failing(list);
  const chosen = whole(desk.selected)?.name;
  const made = list
    .filter((one) => fails.has(one.name) || one.name === chosen)
    .map((one) => ({ at: [...middle(one).slice(0, 2), one.hi[2]], words: one.name === chosen ? `${fails.has(one.name) ? "✕ " : ""}${one.name}${one.locked ? ", locked" : ""}` : "✕", kind: fails.has(one.name) ? "fails" : "" }));
  if (desk.look) made.push({ at: desk.look.at, words: `◎ ${desk.look.words}`, kind: "" });
  if (desk.measured) made.push({ at: desk.measured.ends[0].map((v, k) => (v + desk.measured.ends[1][k]) / 2), words: desk.measured.words, kind: "" });
  return made;
}

/** Put the words where their places are on the screen now; `camera` null: none. */
export function labels(camera, w, h) {
  const box = byId("space-labels");
  const list = camera && desk.state ? wanted() : [];
  const key = JSON.stringify(list.map(({ words, kind }) => [words, kind]));
  if (key !== shown) {
    shown = key;
    rebuild(box, ...list.map(({ words, kind }) => el("span", { class: `tag ${kind}`.trim() }, words.length > CHARACTERS ? `${words.slice(0, CHARACTERS - 1)}…` : words)));
  }
  list.forEach(({ at }, n) => {
    const p = new Vector3(...at).project(camera);
    const tag = box.children[n];
    tag.hidden = Math.abs(p.x) > 1 || Math.abs(p.y) > 1 || p.z > 1;
    tag.style.transform = `translate(${(((p.x + 1) * w) / 2).toFixed(0)}px, ${(((1 - p.y) * h) / 2).toFixed(0)}px) translate(-50%, -130%)`;
  });
}

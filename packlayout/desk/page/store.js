// What the page knows, and who wants to be told of it.

export const desk = {
  scene: null,
  state: null,
  moved: null,
  drawn: { number: 0, frame: null, runs: [], groups: [], danger: [], caution: "" },
  judging: "",
  look: null,
  run: null,
  measured: null,
  upright: false,
  tray: [],
  job: { kind: "", line: "" },
  files: [],
  selected: null,
  step: 5,
  snap: true,
  compare: [null, null],
  loadState: null,
};

const listeners = new Map();

export function on(what, listener) {
  if (!listeners.has(what)) listeners.set(what, []);
  listeners.get(what).push(listener);
}

export function tell(what, ...more) {
  for (const listener of listeners.get(what) ?? []) listener(...more);
}

/** The things as they are seen now: the one that is held where the hand has it. */
export function things() {
  const held = desk.moved?.thing;
  return desk.state.things.map((thing) => (held && thing.name === held.name ? held : thing));
}

/** A thing by name, a module by itself too. */
export function thing(name) {
  for (const one of things()) {
    if (one.name === name) return one;
    for (const module of one.modules) if (module.name === name) return module;
  }
  return null;
}

export function select(name, quiet = false) {
  if (desk.selected === name) return;
  desk.selected = name;
  tell("selected", quiet);
}

/** Whether frame and cables are of another layout than the one that is seen. */
export const outdated = () => Boolean(desk.moved?.thing) || desk.state.outdated.length > 0;

/** The things that a failed check names. */
export function failing(list) {
  const titles = desk.state.checks.filter((check) => check.verdict === "fail").map((check) => check.title);
  return new Set(list.filter((one) => titles.some((title) => title.includes(one.name))).map((one) => one.name));
}

/** The block a module belongs to, or the thing itself. */
export function whole(name) {
  for (const one of things()) {
    if (one.name === name || one.modules.some((module) => module.name === name)) return one;
  }
  return null;
}

export const size = (one) => [0, 1, 2].map((k) => one.hi[k] - one.lo[k]);
export const middle = (one) => [0, 1, 2].map((k) => (one.hi[k] + one.lo[k]) / 2);

/** The loads of a state of the vehicle, as seen now. */
export function loadsOf(name) {
  const rows = desk.moved?.loads ?? desk.state.loads;
  return rows.find((row) => row.name === name) ?? desk.state.loads.find((row) => row.name === name);
}

"""`picture-*.png`: the vehicle with what is put in and the centre of gravity, and how far the frame is used."""

import os
import pickle
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from packlayout.export.annotate import mark_key
from packlayout.export.meshes import clear_surfaces, surface
from packlayout.export.pack import Made
from packlayout.export.palette import MOUNT, SEE_THROUGH, TUBE, colour
from packlayout.export.scene import Callout, Caption, Key, Line, Mark, Panels, Scene, Surface, View
from packlayout.export.tree import assembly_tree, leaves
from packlayout.export.use_picture import use_panels
from packlayout.export.views_of import looking_from
from packlayout.mass.states import CONVERTED, ORIGINAL
from packlayout.mass.weighing import Weighing
from packlayout.model.brief import Case
from packlayout.model.layout import Layout
from packlayout.study import Study
from packlayout.units import Measured

SIDE, THREE_QUARTER = "picture-side.png", "picture-three-quarter.png"
_LONGEST_S = 180
_ADVICE = "on Debian: apt install libegl1 libgl1-mesa-dri"
_CIRCLE = 72
_TYRE, _BODY, _GROUND, _CLEAR_EDGE = "#6E7681", "#8A919B", "#B5BAC2", "#4A6A80"


def write_pictures(study: Study, folder: Path, notes: tuple[str, ...]) -> Made:
    """Draw all pictures in a child process, or say why there are none.

    Args:
        study: What was computed.
        folder: Where to.
        notes: What the exporters before had to say; not needed here.

    Returns:
        The files; a note instead where nothing can be drawn off screen.
    """
    scene, panels = picture_scene(study), use_panels(study)
    files = tuple(folder / view.file for view in scene.views)
    files += (folder / panels.file,) if panels is not None else ()
    reason = _drawn(scene, panels, folder, files)
    if reason:
        for file in files:
            file.unlink(missing_ok=True)
        return Made((), (f"pictures left out: {reason}",))
    return Made(files)


def _drawn(scene: Scene, panels: Panels | None, folder: Path, files: tuple[Path, ...]) -> str:
    """Draw into a folder; the reason why it could not be done, or nothing."""
    package = Path(__file__).parents[2]
    path = os.pathsep.join([str(package), *filter(None, [os.environ.get("PYTHONPATH")])])
    surroundings = {**os.environ, "PYTHONPATH": path}
    if sys.platform.startswith("linux"):
        # without a display VTK tries X first and says so; EGL needs none
        surroundings.setdefault("VTK_DEFAULT_OPENGL_WINDOW", "vtkEGLRenderWindow")
    with tempfile.TemporaryFile() as said:
        try:
            status = subprocess.run(
                [sys.executable, "-m", "packlayout.export.render", str(folder)], input=pickle.dumps((scene, panels)),
                stdout=said, stderr=said, env=surroundings, timeout=_LONGEST_S, check=False,
            ).returncode  # fmt: skip
        except subprocess.TimeoutExpired:
            return f"drawing took more than {_LONGEST_S} s"
        said.seek(0)
        last = said.read().decode("utf-8", "replace").strip().splitlines()[-1:]
    if not status and all(file.is_file() for file in files):
        return ""
    if (
        status == 1 and last and "Error" in last[0]
    ):  # a fault that Python could tell, such as a missing library
        return f"drawing failed ({last[0][:200]})"
    # what VTK says before it dies bears the time of day, so it is not repeated
    return f"no off-screen OpenGL here (the drawing process ended with {_status(status)}); {_ADVICE}"


def _status(status: int) -> str:
    try:
        return signal.Signals(-status).name if status < 0 else f"status {status}"
    except ValueError:
        return f"signal {-status}"


def picture_scene(study: Study) -> Scene:
    """What the pictures show."""
    case, root = study.case, assembly_tree(study)
    solids = list(leaves(root)) if root is not None else []
    surfaces = [Surface(surface(leaf, case), colour(leaf.kind)) for leaf in solids]
    clear = clear_surfaces(case)
    surfaces += [Surface(c.mesh, *SEE_THROUGH[c.kind], None if c.rough else _CLEAR_EDGE) for c in clear]
    lines = _vehicle_lines(case)
    kinds = list(dict.fromkeys(leaf.kind for leaf in solids))
    keys = [Key("frame" if kind == TUBE else kind, colour(kind)) for kind in kinds if kind != "frame plate"]
    keys += [Key(_seen_as(kind), *SEE_THROUGH[kind]) for kind in dict.fromkeys(c.kind for c in clear)]
    keys += [Key("mounting hole", MOUNT, sign="cross")] if case.vehicle.mounts else []
    marks = _marks(study.weighing)
    keys += [mark_key(after=mark.after) for mark in marks]
    views = (
        View(
            SIDE,
            "from the left side; front of the vehicle to the left",
            (1.0, 0.0, 0.0),
            (0.0, 0.0, 1.0),
            True,
        ),
        View(
            THREE_QUARTER,
            "from the front left, above; not for measuring",
            *looking_from(-0.75, -1.0, 0.62),
            False,
        ),
    )
    return Scene(
        title=f"{case.vehicle.name} — {case.brief.name}",
        surfaces=tuple(surfaces),
        lines=tuple(lines),
        callouts=_callouts(case, study.layout) if study.layout is not None else (),
        marks=marks,
        crosses=tuple(hole for mount in case.vehicle.mounts for hole in mount.holes),
        captions=_captions(case, study.weighing) if study.weighing is not None else (),
        keys=tuple(keys),
        views=views,
        frame=np.concatenate([line.points for line in lines] + [s.mesh.vertices for s in surfaces]),
    )


def _seen_as(kind: str) -> str:
    return "free space" if kind == "zone" else f"keep-out, {kind.removeprefix('keep-out ')}"


def _vehicle_lines(case: Case) -> list[Line]:
    """The outline at both sides of the body, what joins them, the wheels and the ground."""
    car = case.vehicle
    side = np.array([*car.outline.side, car.outline.side[0]])
    half = car.outline.width_mm / 2
    made: list[Line] = []
    for y in (-half, half):
        made.append(Line(np.column_stack([side[:, 0], np.full(len(side), y), side[:, 1]]), _BODY, 1.8))
    made += [Line(np.array([[x, -half, z], [x, half, z]]), _BODY, 0.7) for x, z in side[:-1]]
    turn = np.linspace(0, 2 * np.pi, _CIRCLE + 1)
    radius = car.tyres.radius_mm
    for x, track in ((0.0, car.track_front_mm.value), (car.wheelbase_mm.value, car.track_rear_mm.value)):
        for y in (-track / 2, track / 2):
            for r in (radius, 0.6 * radius):
                rim = np.column_stack(
                    [x + r * np.cos(turn), np.full(len(turn), y), radius + r * np.sin(turn)]
                )
                made.append(Line(rim, _TYRE, 2.2))
    lo, hi = float(side[:, 0].min()), float(side[:, 0].max())
    made += [Line(np.array([[lo, y, 0.0], [hi, y, 0.0]]), _GROUND, 1.2) for y in (-half, half)]
    return made


def _callouts(case: Case, layout: Layout) -> tuple[Callout, ...]:
    made = [
        Callout(f"block {block.number}: {len(block.modules)} modules", block.box.centre)
        for block in layout.blocks
    ]
    made += [Callout(p.name, p.box.centre) for p in layout.placements if p.block is None]
    return tuple(made)


def _marks(weighing: Weighing | None) -> tuple[Mark, ...]:
    if weighing is None:
        return ()
    made: list[Mark] = []
    for state in weighing.states:
        if state.name in (ORIGINAL, CONVERTED):
            word = "before" if state.name == ORIGINAL else "after"
            x, y, z = (m.value for m in state.cg)
            made.append(Mark(f"CG {word}: x {x:.0f}, z {z:.0f} mm", (x, y, z), word == "after"))
    return tuple(made)


def _captions(case: Case, weighing: Weighing) -> tuple[Caption, ...]:
    """Axle loads under the wheels."""
    states = {state.name: state for state in weighing.states}
    if not {ORIGINAL, CONVERTED} <= set(states):
        return ()
    before, after = states[ORIGINAL], states[CONVERTED]
    made: list[Caption] = []
    for k, (name, x) in enumerate((("front axle", 0.0), ("rear axle", case.vehicle.wheelbase_mm.value))):
        line = f"{_kg(before.axle[k])} before, {_kg(after.axle[k])} after"
        made.append(Caption((name, line), (x, 0.0, 0.0)))
    return tuple(made)


def _kg(load: Measured) -> str:
    return f"{load.value:.0f} kg"

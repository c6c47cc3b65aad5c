"""Test bays from a seed: lofted ones with keep-outs, and ones cut around modules so that the answer is known."""

from dataclasses import dataclass, replace

import numpy as np

from packlayout.model.brief import Aims, Case, FrameOrder, ModuleOrder, PartOrder
from packlayout.model.geometry import Box, TriMesh
from packlayout.model.vehicle import BoxShape, Driveline, KeepOut, Zone
from packlayout.placement.forms import block_margin, block_size
from packlayout.space import envelope
from packlayout.space.envelope import box_mesh
from tests.bays import M10, S235, SHS30, part
from tests.cases import brief, case, vehicle

MODULE = part("battery module", (300, 180, 120), 13, up=["+z", "+y", "-y"])
WITH_TERMINALS = part(
    "battery module", (300, 180, 120), 13, up=["+z", "+y", "-y"], access=[{"face": "+x", "depth": 60}]
)
HARDWARE = {
    "motor": part(
        "motor", (300, 230, 230), 35,
        ports=[{"name": "shaft", "kind": "shaft", "at": [300, 115, 115], "direction": "+x"}],
    ),
    "controller": part("controller", (320, 220, 110), 10),
    "charger": part("charger", (300, 210, 95), 7, up=["+z", "+y"]),
    "box": part("junction box", (280, 180, 110), 6),
}  # fmt: skip


@dataclass(frozen=True)
class Bay:
    """One bay: its surface, its keep-outs, the height of its shaft line."""

    surface: TriMesh
    keep_outs: tuple[tuple[str, str, TriMesh, Box], ...]
    shaft_z: float


def lofted_bay(seed: int, *, keep_outs: bool = True, wider_mm: float = 0.0) -> Bay:
    """A bay between five to seven sections: chassis legs, wheel arches that bulge in, a bonnet that slopes."""
    rng = np.random.default_rng([77, seed])
    stations = int(rng.integers(5, 8))
    xs = np.linspace(-380.0, float(rng.uniform(520, 640)) + 2 * wider_mm, stations)
    half = float(rng.uniform(330, 400)) + wider_mm / 2
    floor = float(rng.uniform(260, 300))
    legs = float(rng.uniform(25, 55))
    arch, at = float(rng.uniform(20, 70)), float(rng.uniform(-80, 120))
    front, slope = float(rng.uniform(700, 790)) + wider_mm, float(rng.uniform(0.12, 0.24))
    outlines = []
    for x in xs:
        bulge = arch * float(np.exp(-(((x - at) / 190) ** 2)))
        top = front + slope * (x - xs[0]) + float(rng.uniform(-6, 6))
        low, wide = half - 90, half + float(rng.uniform(-6, 6))
        right = [
            (low, floor), (low + 12, floor + legs), (wide, floor + legs), (wide - bulge, floor + legs + 150),
            (wide - 0.8 * bulge, floor + legs + 260), (wide + 15, top - 90), (wide + 5, top - 30), (wide - 40, top),
        ]  # fmt: skip
        outlines.append(
            (
                float(x),
                tuple(
                    (round(y, 1), round(z, 1)) for y, z in [*right, *((-y, z) for y, z in reversed(right))]
                ),
            )
        )
    surface = envelope.loft(outlines)
    rear = float(xs[-1])
    kept: list[tuple[str, str, TriMesh, Box]] = []
    if keep_outs:
        y = float(rng.uniform(110, 200))
        for name, box in (
            ("brake cylinder", Box((rear - 150, y, floor + 420), (rear - 20, y + 90, floor + 510))),
            ("cross-member", Box((-60.0, -half + 120, floor - 10), (40.0, half - 120, floor + 45))),
        ):
            kept.append((name, "solid", box_mesh(box), box))
        bar = envelope.cylinder((-160.0, half - 70, floor + 160), (rear, half - 80, floor + 500), 36.0)
        kept.append(("steering column", "moving", bar, bar.bounds))
        if rng.random() < 0.5:
            box = Box((float(xs[0]) + 5, -200.0, floor + 60), (float(xs[0]) + 70, 200.0, floor + 380))
            kept.append(("radiator", "solid", box_mesh(box), box))
    return Bay(surface, tuple(kept), floor + float(rng.uniform(140, 190)))


def job_in(
    bay: Bay, count: int, *, hardware: bool = False, terminals: bool = False, blocks_at_most: int = 3,
    aims: Aims | None = None, loose: bool = False,
) -> Case:  # fmt: skip
    """A job in one generated bay that opens upward."""
    box = bay.surface.bounds
    opens = ("+z", "-z")
    zone = Zone(
        name="bay",
        use="engine bay",
        box=BoxShape(corner=box.lo, opposite=box.hi),
        opens=opens,
        lid_from_mm=-5000,
    )
    keep = tuple(
        KeepOut.model_validate(
            {"name": n, "kind": k, "box": {"corner": b.lo, "opposite": b.hi}, "removable": True}
        )
        for n, k, _, b in bay.keep_outs
    )
    orders = (
        (
            PartOrder.model_validate({"part": "motor", "zones": ["bay"], "on_line": {}}),
            PartOrder(part="controller", zones=("bay",)),
            PartOrder(part="charger", zones=("bay",)),
            PartOrder(part="box", zones=("bay",), on_pack=True),
        )
        if hardware
        else ()
    )
    drive = Driveline(
        gearbox_output=(box.hi[0], 0.0, bay.shaft_z), axle_input=(2200.0, 0.0, bay.shaft_z), axle_ratio=4.0
    )
    return case(
        vehicle=vehicle(zones=(zone,), keep_outs=keep, mounts=(), driveline=drive),
        brief=brief(
            modules=ModuleOrder(
                part="module", count=count, zones=("bay",), blocks_at_most=blocks_at_most, loose=loose
            ),
            parts=orders,
            frame=FrameOrder(cradle_tube="SHS 30x2", leg_tube="SHS 30x2", material="S235"),
            **({"aims": aims} if aims else {}),
        ),
        parts={"module": WITH_TERMINALS if terminals else MODULE, **HARDWARE},
        zones={"bay": bay.surface},
        keep_outs={n: m for n, _, m, _ in bay.keep_outs},
        sections={"SHS 30x2": SHS30},
        materials={"S235": S235},
        threads={"M10": M10},
    )


def known_bay(seed: int, *, loose: bool = False) -> tuple[Case, int]:
    """A bay cut around up to three blocks (or loose modules), and how many modules that is.

    The count fits by construction: the bay is the room of the blocks, each grown by cradle, clearance and a few
    millimetres of slack. That one more does not is left to the bound.
    """
    rng = np.random.default_rng([99, int(loose), seed])
    blank = job_in(Bay(box_mesh(Box((0, 0, 0), (1000, 1000, 1000))), (), 500.0), 1, loose=loose)
    body, gap = blank.brief.clearances.body_mm, blank.brief.clearances.parts_mm
    rooms: list[Box] = []
    total = 0
    wanted = int(rng.integers(6, 17)) if not loose else int(rng.integers(6, 9))
    while total < wanted and len(rooms) < (3 if not loose else 16):
        sides = [(300.0, 180.0, 120.0), (180.0, 300.0, 120.0), (300.0, 120.0, 180.0), (120.0, 300.0, 180.0)]
        size = sides[int(rng.integers(len(sides)))]
        counts = (1, 1, 1) if loose else tuple(int(v) for v in rng.integers(1, 4, 3))
        n = counts[0] * counts[1] * counts[2]
        if total + n > 16 or (not loose and n < 2):
            continue
        full = block_size(blank, size, counts)
        slack = (
            rng.uniform(3, 6, 3) if loose else rng.uniform(11, 16, 3)
        )  # a cell more than nothing on the cells
        outer = tuple(f + s for f, s in zip(full, slack, strict=True))
        if not rooms:
            lo = (0.0, 0.0, 300.0)
        else:
            base = rooms[int(rng.integers(len(rooms)))]
            axis, side = int(rng.integers(3)), int(rng.integers(2))
            at = [base.lo[k] + float(rng.uniform(-0.3, 0.3)) * outer[k] for k in range(3)]
            at[axis] = base.hi[axis] + gap if side else base.lo[axis] - gap - outer[axis]
            lo = (at[0], at[1], at[2])
        room = Box(lo, (lo[0] + outer[0], lo[1] + outer[1], lo[2] + outer[2]))
        if all(room.overlap_depth(other) <= -gap + 1e-6 for other in rooms):
            rooms.append(room)
            total += n
    import manifold3d

    solid = manifold3d.Manifold()
    for room in rooms:
        a, b = room.grown(body).lo, room.grown(body).size
        solid += manifold3d.Manifold.cube(b).translate(a)
    mesh = solid.to_mesh()
    surface = TriMesh(
        np.array(mesh.vert_properties[:, :3], dtype=np.float64), np.array(mesh.tri_verts, dtype=np.int64)
    )
    blocks = len(rooms) if not loose else 1
    made = job_in(Bay(surface, (), 500.0), total + 1, blocks_at_most=min(3, blocks), loose=loose)
    assert block_margin(made) > 0
    return replace(made, key=f"known-{seed}"), total

"""Frames that carry something, for the tests of their strength: one in the invented bay, one of a demo vehicle."""

from dataclasses import replace
from functools import cache

from packlayout.frame.generate import generate
from packlayout.inputs.case import read_case
from packlayout.model.brief import Case
from packlayout.model.catalogue import DesignCode
from packlayout.model.layout import Layout, Placement
from packlayout.model.vehicle import MountPoint
from packlayout.placement.forms import slabs
from tests.bays import MODULE, MOUNTS, job
from tests.demo import CODES, ROOT, held, table

STOCK = {s.name: s for s in table("tubes").sections}
METALS = {m.name: m for m in table("materials").materials}
THREADS = {t.thread: t for t in table("fasteners").threads}
CODE = held(DesignCode, next(p for p in CODES if p.stem == "workshop-default"))
RESTRAINT = held(DesignCode, next(p for p in CODES if p.stem == "battery-restraint"))


def block(at=(0.0, -175.0, 420.0), counts=(1, 2, 2), first=1):
    """Modules two millimetres apart in one block."""
    made = []
    for i in range(counts[0]):
        for j in range(counts[1]):
            for k in range(counts[2]):
                spot = (at[0] + 342 * i, at[1] + 177 * j, at[2] + 120 * k)
                name = f"module {first + len(made)}"
                made.append(Placement(name, "module", "bay", spot, "+z", 0, MODULE.box_size, block=1))
    return tuple(made)


def small_job(
    *, mounts: tuple[MountPoint, ...] = MOUNTS, code: DesignCode = CODE, material="S355", **frame
) -> Case:
    """Four modules in the invented bay, with the real stock and load cases."""
    case = job(count=4, mounts=mounts)
    order = case.brief.frame.model_copy(update={"material": material, **frame})
    brief = case.brief.model_copy(update={"frame": order})
    return replace(case, brief=brief, sections=STOCK, materials=METALS, threads=THREADS, design_code=code)


def small_layout(*, box=True) -> Layout:
    """Four modules and a junction box on top of them."""
    size = (300.0, 200.0, 120.0)
    top = Placement("box", "box", "bay", (20.0, -80.0, 700.0), "+z", 0, size)
    return Layout((*block(), *((top,) if box else ())))


@cache
def small():
    """Case, layout and the frame with the sections that the brief names."""
    case, layout = small_job(), small_layout()
    return case, layout, generate(case, layout)


@cache
def demo():
    """A demo vehicle with its eight modules in a fixed place, and the access room of its parts."""
    case = read_case(ROOT / "bays" / "quillon-estate" / "piano-tuner.yaml")
    size, placed = case.parts["module-12s-54ah"].box_size, []
    for x, turn in ((-208.0, 180), (134.0, 0)):
        for y in (-168.0, 9.0):
            for z in (352.0, 472.0):
                name = f"module {len(placed) + 1}"
                placed.append(
                    Placement(name, "module-12s-54ah", "engine bay", (x, y, z), "+z", turn, size, block=1)
                )
    for name, at, turn in (
        ("junction-box-400v", (90.0, -20.0, 640.0), 180),
        ("controller-60kw", (20.0, -290.0, 640.0), 180),
        ("pump-coolant", (-160.0, -170.0, 640.0), 90),
    ):
        placed.append(Placement(name, name, "engine bay", at, "+z", turn, case.parts[name].box_size))
    layout = Layout(tuple(placed))
    rooms = tuple(r.box for p in layout.placements for r in slabs(case.parts[p.part], p.pose))
    return case, layout, rooms

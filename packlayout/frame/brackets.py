"""Brackets: for every part that no module cradle holds by itself, the lightest one that can be built and bears its loads.

Strips are tried along both directions of the part's fixing face, from the thinnest up; each end is held by the
nearest tube of the cradle, the wall behind, an end plate on the wall it runs up to, or a post on the wall opposite.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache, reduce
from itertools import islice, product

import numpy as np

from packlayout.frame.bracket import Bracket, Hold, Strip, boxes_of
from packlayout.frame.bracket_bed import Bed, Row
from packlayout.frame.bracket_holds import holds_of, pads
from packlayout.frame.bracket_on_cradle import stand_offs
from packlayout.frame.bracket_strength import BracketUse, Pushed, Rules, bracket_use
from packlayout.frame.site import Site
from packlayout.frame.strength import strength_of
from packlayout.frame.tubes import Member, Plate, flat_plate
from packlayout.model.brief import Case
from packlayout.model.catalogue import Material, Thread, TubeSection
from packlayout.model.geometry import Box, Vec
from packlayout.model.layout import Placement
from packlayout.units import G0_M_S2

FLATS_MM = (
    (30.0, 5.0), (30.0, 6.0), (45.0, 5.0), (30.0, 8.0), (45.0, 6.0), (60.0, 5.0), (30.0, 10.0), (45.0, 8.0),
    (60.0, 6.0), (60.0, 8.0), (45.0, 12.0), (60.0, 12.0),
)  # fmt: skip
"""Width and thickness of flats a stockholder keeps, by weight (common practice, no source)."""
THREAD_DEPTH = 0.75
"""A strip is as thick as this many diameters of the part's bolts, so that a countersunk head or a nut holds in it
(common practice, no source)."""
APART_MM = 4.0
"""Strips nearer to each other than this are made one."""
ENOUGH = 0.9
"""A bracket that is used no more than this is strong enough: its masses have tolerances."""
FACE_MM = 1.0
PER_END = 5
TRIED = 8


@dataclass(frozen=True, slots=True)
class Fixing:
    """How a part is to be bolted down, or several side by side.

    Attributes:
        holes: Middles on the face, mm, vehicle axes.
        owners: Index of the part that each is for.
        diameters: Of each, mm.
        axis: That the face is square to.
        sign: +1 or -1: the way the face looks.
        plane: Its coordinate on that axis, mm; of several, that of the furthest out.
        thread: Of the bolts; the smallest of several.
        hole_mm: Diameter of the largest hole.
    """

    holes: tuple[Vec, ...]
    owners: tuple[int, ...]
    diameters: tuple[float, ...]
    axis: int
    sign: int
    plane: float
    thread: Thread
    hole_mm: float


@dataclass(frozen=True, slots=True)
class Found:
    """A bracket that was found, and how far it is used."""

    bracket: Bracket
    use: BracketUse

    @property
    def boxes(self) -> list[Box]:
        """The box around each of its pieces."""
        return boxes_of([*self.bracket.plates, *self.bracket.members])

    def mass_kg(self, material: Material) -> float:
        """Of all of them."""
        pieces = (*self.bracket.plates, *self.bracket.members)
        return sum(piece.mass_item(material).mass.value for piece in pieces)


def fixing_of(case: Case, placed: Placement) -> Fixing | str:
    """The face that a part's holes lie in; or why it cannot be told."""
    part = case.parts[placed.part]
    if not part.holes:
        return "its file states no holes; state them in the part's file"
    size = part.box_size
    for k, side in ((2, 0), (2, 1), (1, 0), (1, 1), (0, 0), (0, 1)):
        at = side * size[k]
        if all(abs(hole.at[k] - at) <= FACE_MM for hole in part.holes):
            break
    else:
        return "its holes do not lie in one face of its box; state those of one face"
    own: list[float] = [0.0, 0.0, 0.0]
    own[k] = 1.0 if side else -1.0
    way = placed.pose.direction((own[0], own[1], own[2]))
    axis = int(np.abs(way).argmax())
    sign = 1 if way[axis] > 0 else -1
    plane = placed.box.hi[axis] if sign > 0 else placed.box.lo[axis]
    largest = max(hole.diameter_mm for hole in part.holes)
    fit = [t for t in case.threads.values() if t.clearance_hole_mm <= largest + 0.05 and t.diameter_mm]
    if not fit:
        return f"no thread of shared/fasteners.yaml with a diameter goes through its holes of {largest:g} mm"
    thread = max(fit, key=lambda t: t.clearance_hole_mm)
    holes: list[Vec] = []
    for hole in part.holes:
        point = list(placed.pose.point(hole.at))
        point[axis] = plane
        holes.append((point[0], point[1], point[2]))
    diameters = tuple(hole.diameter_mm for hole in part.holes)
    return Fixing(tuple(holes), (0,) * len(holes), diameters, axis, sign, plane, thread, largest)


def together(fixings: Sequence[Fixing]) -> Fixing | None:
    """Several parts on one bracket; None where their faces do not look the same way."""
    first = fixings[0]
    if any((f.axis, f.sign) != (first.axis, first.sign) for f in fixings):
        return None
    plane = max((f.plane for f in fixings), key=lambda v: v * first.sign)
    return Fixing(
        tuple(h for f in fixings for h in f.holes),
        tuple(n for n, f in enumerate(fixings) for _ in f.holes),
        tuple(d for f in fixings for d in f.diameters),
        first.axis, first.sign, plane, min((f.thread for f in fixings), key=lambda t: t.clearance_hole_mm),
        max(f.hole_mm for f in fixings),
    )  # fmt: skip


def rules_of(case: Case, throat_mm: float, weld_mpa: float | None) -> Rules | None:
    """What brackets are judged by; None when the material lacks figures."""
    frame = case.brief.frame
    material = case.materials[frame.material]
    strength = strength_of(material, case.design_code.factors)
    if strength is None:
        return None
    gamma = case.design_code.factors.joints
    return Rules(strength, material, weld_mpa, throat_mm, gamma, frame.bolt_class, dict(case.threads))


def pushed_by(case: Case, placed: Placement) -> Pushed:
    """What a part does to its bracket in each load case of the design code, at the far end of its mass's tolerance.

    A code without load cases leaves its own weight, so that a bracket can be drawn.
    """
    cases = [c.thrown_g for c in case.design_code.load_cases] or [(0.0, 0.0, -1.0)]
    thrown = np.array(cases) * G0_M_S2
    part = case.parts[placed.part]
    own = part.centre_of_gravity
    cg = np.array(placed.pose.point((own[0].value, own[1].value, own[2].value)))
    force = (part.mass_kg.value + part.mass_kg.tolerance) * thrown
    return Pushed(force, np.cross(cg, force), thrown)


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """What one bracket is found from; two tasks with one key are the same."""

    key: tuple[object, ...]
    parts: tuple[Placement, ...]
    fixing: Fixing
    site: Site
    post: TubeSection
    pushes: tuple[Pushed, ...]
    rules: Rules
    feet: tuple[Thread, ...]

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Task) and self.key == other.key

    def __hash__(self) -> int:
        return hash(self.key)


@lru_cache(maxsize=256)
def find(task: Task) -> tuple[Found | None, str]:
    """The lightest bracket that bears its loads.

    Returns:
        It and an empty text; the one that comes nearest where none bears them; None and what stood in the way.
    """
    why: dict[str, None] = {}
    site = task.site.near(reduce(Box.joined, (p.box for p in task.parts)))
    found: list[Found] = []
    for on_cradle in (True, False) if site.tubes else (False,):
        found += _tried(task, site, why, on_cradle=on_cradle)
        good = [f for f in found if f.use.worst <= ENOUGH]
        if good:
            return min(good, key=lambda f: f.mass_kg(task.rules.material)), ""
    if found:
        return min(found, key=lambda f: f.use.worst), ""
    stood = ", ".join(list(why)[:4]) or "no wall or tube near it"
    return None, f"no strip can be held: {stood}"


def _tried(task: Task, site: Site, why: dict[str, None], *, on_cradle: bool) -> list[Found]:
    """Along either axis the first that is strong enough, from the thinnest flat up; all that were tried before it."""
    found: list[Found] = []
    for along in (k for k in range(3) if k != task.fixing.axis):
        tight: list[tuple[float, float]] = []
        for flat in FLATS_MM:
            # where a flat finds no room, a larger one finds none either
            if any(flat[0] >= f[0] and flat[1] >= f[1] for f in tight):
                continue
            if flat[1] < THREAD_DEPTH * (task.fixing.thread.diameter_mm or 0.0):
                continue
            drawn = 0
            for bracket in _drawn(task, site, along, flat, why, on_cradle=on_cradle):
                drawn += 1
                found.append(Found(bracket, bracket_use(bracket, task.pushes, task.rules)))
                if found[-1].use.worst <= ENOUGH:
                    break
            if drawn and found[-1].use.worst <= ENOUGH:
                break
            if not drawn:
                tight.append(flat)
    return found


def _rows(fixing: Fixing, along: int, width: float) -> list[Row]:
    """The part's holes in rows along an axis."""
    across = next(k for k in range(3) if k not in (along, fixing.axis))
    wide = max(width, float(np.ceil(3 * fixing.hole_mm)))
    groups: list[list[int]] = []
    holes = fixing.holes
    for n in sorted(range(len(holes)), key=lambda n: (holes[n][across], holes[n][along])):
        if groups and holes[n][across] - holes[groups[-1][-1]][across] < wide + APART_MM:
            groups[-1].append(n)
        else:
            groups.append([n])
    return [
        Row(
            along, across, holes[g[0]][across] - wide / 2, holes[g[-1]][across] + wide / 2,
            tuple(holes[n] for n in g), tuple(fixing.owners[n] for n in g), tuple(fixing.diameters[n] for n in g),
        )
        for g in groups
    ]  # fmt: skip


def _drawn(
    task: Task, site: Site, along: int, flat: tuple[float, float], why: dict[str, None], *, on_cradle: bool
) -> Iterator[Bracket]:
    """Brackets with strips along an axis, the lightest first."""
    fixing, (width, thick) = task.fixing, flat
    group = f"bracket {' and '.join(p.name for p in task.parts)}"
    first = Bed(
        fixing.axis,
        fixing.sign,
        fixing.plane,
        thick,
        fixing.hole_mm,
        reduce(Box.joined, (p.box for p in task.parts)),
        tuple(p.name for p in task.parts),
        f"{group} strip",
        group,
        on_cradle=on_cradle,
    )
    rows = _rows(fixing, along, width)
    sets: list[tuple[float, tuple[Strip, ...]]] = []
    for lift in stand_offs(site, first) if on_cradle else (0.0,):
        choices: list[list[tuple[float, Strip]]] = []
        for n, row in enumerate(rows, start=1):
            strips = _strips(task, site, replace(first, strip=f"{group} strip {n}", lift=lift), row, why)
            if not strips:
                break
            choices.append(strips)
        if len(choices) == len(rows):
            sets += [(sum(m for m, _ in picked), tuple(s for _, s in picked)) for picked in product(*choices)]
    normal = [0.0, 0.0, 0.0]
    normal[fixing.axis] = float(fixing.sign)
    for _, strips in sorted(sets, key=lambda row: row[0])[:TRIED]:
        pieces = [p for s in strips for p in s.pieces]
        boxes = boxes_of(pieces)
        if any(a.overlap_depth(b) > 0.05 for i, a in enumerate(boxes) for b in boxes[i + 1 :]):
            continue
        numbers = {h.cradle for s in strips for h in s.holds}
        if len(numbers) != 1:
            continue
        yield Bracket(
            tuple(p.name for p in task.parts), group, (normal[0], normal[1], normal[2]), fixing.thread.thread,
            strips, next(iter(numbers)),
        )  # fmt: skip


def _strips(task: Task, site: Site, bed: Bed, row: Row, why: dict[str, None]) -> list[tuple[float, Strip]]:
    """(metal, strip) for each way to hold it at one end or both, the lightest first."""
    ends: list[list[Hold]] = []
    for sign in (-1, 1):
        ends.append(list(islice(holds_of(site, bed, row, sign, task.post, task.feet, why), PER_END)))
    pairs: list[tuple[Hold, ...]] = [(a, b) for a, b in product(*ends) if b.at - a.at > 1.0]
    pairs += [(hold,) for hold in (*ends[0], *ends[1]) if hold.stiff]
    found: list[tuple[float, Strip]] = []
    for holds in pairs:
        strip = _strip(bed, row, holds)
        blocked = ""
        for piece in (strip.plate, *strip.spacers):
            blocked = blocked or site.meets(boxes_of([piece])[0], pads(site, holds), but=bed.parts)
        if blocked:
            why[f"the strip meets {blocked}"] = None
            continue
        found.append((sum(_volume(p) for p in strip.pieces), strip))
    found.sort(key=lambda row: row[0])
    # the lightest held at one end, which is weak, and the lightest held at both
    return [*[f for f in found if len(f[1].holds) == 1][:1], *[f for f in found if len(f[1].holds) == 2][:2]]


def _volume(piece: Member | Plate) -> float:
    if isinstance(piece, Plate):
        return piece.volume_mm3
    return piece.section.area_mm2 * piece.length_mm


def _strip(bed: Bed, row: Row, holds: tuple[Hold, ...]) -> Strip:
    edge = 1.5 * bed.hole_mm
    places = [h[row.along] for h in row.holes]
    lo, hi = min(places) - edge, max(places) + edge
    for hold in holds:
        lo, hi = min(lo, hold.covers[0]), max(hi, hold.covers[1])
    box = bed.box(row, lo, hi, bed.lift, bed.back)
    holes = list(zip(row.holes, row.diameters, strict=True))
    holes += [(bolt, hold.hole_mm) for hold in holds if hold.kind in DRILLED for bolt in hold.bolts]
    plate = flat_plate(bed.strip, bed.group, box, bed.axis, holes)
    spacers: list[Plate] = []
    for n, (hole, diameter) in enumerate(zip(row.holes, row.diameters, strict=True), start=1):
        off = (bed.plane - hole[bed.axis]) * bed.sign
        if bed.lift + off > 0.3:
            half, at = 1.5 * diameter + 2.0, hole[row.along]
            pad = bed.over(
                row, at - half, at + half, hole[row.across] - half, hole[row.across] + half, -off, bed.lift
            )
            spacers.append(
                flat_plate(f"{bed.strip} spacer {n}", bed.group, pad, bed.axis, [(hole, diameter)])
            )
    return Strip(
        plate, row.along, row.across, (row.lo + row.hi) / 2, bed.plane + bed.sign * bed.lift, row.hi - row.lo,
        bed.thick, row.holes, row.owners, holds, spacers=tuple(spacers),
    )  # fmt: skip


DRILLED = ("cradle", "clamp", "wall")
"""Holds whose bolts go through the strip."""


def with_found(site: Site, found: Found) -> Site:
    """The site with a bracket in it."""
    return site.with_boxes([(found.bracket.group, box) for box in found.boxes])

"""The whole calculation: place, frame, weigh, and round again until nothing moves. No files, no screen."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import inf

from packlayout.drive.drive import Driving, PackData, drive
from packlayout.electrical.pack import pack_of
from packlayout.electrical.wire import Surroundings, Wiring, wire
from packlayout.errors import GeometryError
from packlayout.frame.checks import check_frame
from packlayout.frame.design import Designed, design
from packlayout.frame.generate import generate
from packlayout.frame.legs import Leg
from packlayout.frame.shapes import member_mesh, plate_mesh
from packlayout.frame.tubes import TubeFrame
from packlayout.mass.as_built import as_built
from packlayout.mass.ledger import base_items
from packlayout.mass.weigh import weigh
from packlayout.mass.weighing import Comparison, Weighing
from packlayout.model.brief import Case
from packlayout.model.check import Check, unknown
from packlayout.model.geometry import Box, MassItem
from packlayout.model.layout import Layout
from packlayout.model.weighed import AsBuilt
from packlayout.placement.archive import structure, titled
from packlayout.placement.forms import slabs
from packlayout.placement.place import judge_layout, nearby, place, refine
from packlayout.placement.result import Placed
from packlayout.placement.verify import check_layout
from packlayout.price import Bill, Price, price


@dataclass(frozen=True, slots=True, eq=False)
class Framed:
    """A frame for one layout and what was judged of it.

    Attributes:
        case: The case with the sections that were chosen: what follows goes by it.
        frame: None when no frame could be made.
        checks: Support, clearances; strength when it was solved.
        legs: Which mounting point each leg stands on.
        designed: Members, joints, reactions, calculation sheets; None when it was not solved.
    """

    case: Case
    frame: TubeFrame | None
    checks: tuple[Check, ...]
    legs: tuple[Leg, ...] = ()
    designed: Designed | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Study:
    """Everything that was computed for one case.

    Attributes:
        case: What it was computed from.
        seed: Seed of the search.
        placed: The answer of the placement; None when the layout was given by the user.
        layout: The layout that the rest belongs to; None when not one module could be placed.
        framed: Its frame.
        weighing: Its weighing.
        checks: All checks of all stages, failures first.
        not_done: What this version did not compute, in words, so that nobody takes silence for a pass.
    """

    case: Case
    seed: int
    placed: Placed | None
    layout: Layout | None
    framed: Framed | None
    weighing: Weighing | None
    checks: tuple[Check, ...]
    not_done: tuple[str, ...]


ROUNDS = 4
STILL_MM = 1.0
STILL_KG = 0.1
PACK_OHM = 0.1  # of a pack whose modules state no resistance (common practice, no source)
SHIFTED_LAYOUTS = 2
SHIFTS = 16
SOLVED = 4
LEG_MM = 300.0  # this much leg weighs as much as one unit of the aims, 10 kg on an axle (common practice, no source)
NOT_DONE = (
    "the old body behind the mounting points: an engineer judges it by the reactions given",
    "brackets for the parts outside the pack",
    "pack electrics, protection and cable routes: `packlayout wire` computes them",
    "propeller shaft, performance, range, charging and price: `packlayout drive` computes them",
)
Progress = Callable[[str], None]


def _silent(_: str) -> None:
    """Say nothing."""


def run(case: Case, seed: int = 0, layout: Layout | None = None, progress: Progress = _silent) -> Study:
    """Compute everything for one case.

    The frame's mass and place go back into the placement until no part moves by more than 1 mm and the
    frame's mass changes by no more than 0.1 kg, or for four rounds. Among the layouts found, the best one whose
    frame stands is taken.

    Args:
        case: What was read.
        seed: Of the search; same case and seed, same study.
        layout: A layout to judge instead of searching one.
        progress: Told what is being done.

    Returns:
        The study. A job that cannot be done is a study with failed checks.

    Raises:
        GeometryError: for readings or shapes that no calculation can be made with.
    """
    base = base_items(case)
    if layout is not None:
        framed = designed_for(case, layout, progress)
        placed = judge_layout(framed.case, layout, (*base, *frame_items(framed)))
        return _close(framed.case, seed, placed, layout, framed)
    progress("placing")
    placed = place(case, base, seed, progress)
    found = _choose(case, placed, base, progress)
    if found is None:
        return _close(case, seed, placed, None, None)
    chosen, framed = found
    others = tuple(s.layout for s in placed.layouts if s.structure != structure(chosen))
    for number in range(2, ROUNDS + 1):
        progress(f"placing again with the frame's mass, round {number}")
        after = refine(framed.case, chosen, (*base, *frame_items(framed)))
        if moved(chosen, after) <= STILL_MM:
            break
        reframed = _with_same_sections(framed, after, progress)
        if _failed(reframed) > _failed(framed):
            break
        still = abs(_mass(reframed) - _mass(framed)) <= STILL_KG
        chosen, framed = after, reframed
        if still:
            break
    if chosen is not found[0]:
        # sections chosen anew where it came to rest, as for a layout that is given: the layout alone decides them
        anew = designed_for(case, chosen, progress)
        framed = anew if _failed(anew) <= _failed(framed) else framed
    # all layouts judged with the same burden, so that their figures can be laid side by side
    burden = (*base, *frame_items(framed))
    judged = titled(
        case, tuple(judge_layout(case, layout, burden).layouts[0] for layout in (chosen, *others))
    )
    return _close(framed.case, seed, replace(placed, layouts=judged), judged[0].layout, framed)


def _mass(framed: Framed) -> float:
    return sum(item.mass.value for item in frame_items(framed))


def _failed(framed: Framed) -> int:
    return sum(check.verdict == "fail" for check in framed.checks)


def _choose(
    case: Case, placed: Placed, burden: tuple[MassItem, ...], progress: Progress
) -> tuple[Layout, Framed] | None:
    """The best layout whose frame stands and bears its loads; failing that, the one with the fewest failed checks.

    Drawing a frame is quick and solving it is not: frames are drawn for all layouts offered, also with the pack
    shifted by up to a few centimetres, and solved in the order of the layouts' scores with a price on the length
    of the legs, which is what makes a frame weak and heavy.
    """
    drawn: list[tuple[int, float, Layout]] = []
    for number, scored in enumerate(placed.layouts):
        shifts = nearby(case, scored.layout, burden)[:SHIFTS] if number < SHIFTED_LAYOUTS else ()
        for candidate in (scored, *shifts):
            framed = frame_for(case, candidate.layout)
            legs = sum(member.length_mm for leg in framed.legs for member in leg.members)
            drawn.append((_failed(framed), candidate.score + legs / LEG_MM, candidate.layout))
    progress(f"{len(drawn)} frames drawn")
    best: tuple[int, Layout, Framed] | None = None
    for _, _, layout in sorted(drawn, key=lambda row: row[:2])[:SOLVED]:
        if any(check.verdict == "fail" for check in check_layout(case, layout)):
            continue
        framed = designed_for(case, layout, progress)
        failed = _failed(framed)
        if best is None or failed < best[0]:
            best = (failed, layout, framed)
        if failed == 0:
            break
    return (best[1], best[2]) if best else None


def compare(study: Study, readings: AsBuilt) -> Comparison:
    """The finished vehicle's scale readings against the prediction of a study.

    Raises:
        GeometryError: when the study has no layout.
        ReadingError: for readings so far off that they are a slip, or a state that was not weighed.
    """
    if study.layout is None:
        raise GeometryError("nothing was placed, so there is no prediction to hold the readings against")
    return as_built(study.case, study.layout, frame_items(study.framed), readings)


def wired(study: Study) -> Wiring | None:
    """Pack electrics, protection and cable runs of a study's layout; None when nothing was placed.

    The runs keep clear of the parts, the frame, the access room and the body, so this takes much longer than
    all else and is not part of `run`.
    """
    layout, framed = study.layout, study.framed
    if layout is None:
        return None
    frame = framed.frame if framed is not None else None
    solids = () if frame is None else (
        *((m.name, member_mesh(m)) for m in frame.members),
        *((p.name, plate_mesh(p)) for p in frame.plates),
    )  # fmt: skip
    rooms = tuple(
        (p.name, room.box) for p in layout.placements for room in slabs(study.case.parts[p.part], p.pose)
    )
    return wire(study.case, layout, Surroundings(solids, rooms))


def driven(study: Study) -> tuple[Driving, Price | None] | None:
    """Shaft, performance, range, charging, the old gauge and the price; None when nothing was placed.

    The price holds what the study has drawn: parts, frame, hours; not the cables, which `wired` routes.
    """
    layout, framed = study.layout, study.framed
    if layout is None or study.weighing is None:
        return None
    data: PackData | None = None
    if len(layout.modules) >= study.case.brief.wiring.strings:
        pack = pack_of(study.case, layout)
        ohm = pack.resistance_ohm.value if pack.resistance_ohm is not None else PACK_OHM
        data = PackData(pack.usable_kwh, pack.nominal_v, pack.continuous_a, pack.peak_a, ohm)
    frame = framed.frame if framed is not None else None
    bill = Bill()
    if framed is not None and frame is not None:
        bill = Bill(len(frame.members), len(frame.plates), len(framed.legs), frame.mass_kg)
    return drive(study.case, layout, study.weighing, data), price(study.case, layout, bill)


def rooms_of(case: Case, layout: Layout) -> tuple[Box, ...]:
    """Access room of every placed part, vehicle axes."""
    return tuple(room.box for p in layout.placements for room in slabs(case.parts[p.part], p.pose))


def frame_for(case: Case, layout: Layout) -> Framed:
    """The frame of one layout as the brief says it, drawn and held against its surroundings, not solved."""
    if not layout.blocks:
        missing = "no module is placed, so there is nothing to carry"
        return Framed(
            case, None, (unknown("frame.support", "Legs that carry the pack", "legs", "statics", missing),)
        )
    rooms = rooms_of(case, layout)
    made = generate(case, layout, rooms)
    return Framed(case, made.frame, check_frame(case, layout, made, rooms), made.legs)


def designed_for(case: Case, layout: Layout, progress: Progress = _silent) -> Framed:
    """The frame of one layout with its sections chosen, solved in every load case and judged."""
    drawn = frame_for(case, layout)
    if drawn.frame is None:
        return drawn
    progress("choosing sections and solving the frame")
    rooms = rooms_of(case, layout)
    done = design(case, layout, rooms)
    shape = check_frame(done.case, layout, done.made, rooms)
    return Framed(done.case, done.made.frame, (*shape, *done.checks), done.made.legs, done)


def _with_same_sections(framed: Framed, layout: Layout, progress: Progress) -> Framed:
    """The frame of a layout that moved a little, with the sections that were chosen already."""
    if framed.designed is None:
        return designed_for(framed.case, layout, progress)
    before, brief = framed.designed, framed.case.brief
    kept = brief.frame.model_copy(update={"choose_sections": False})
    again = designed_for(
        replace(framed.case, brief=brief.model_copy(update={"frame": kept})), layout, progress
    )
    assert again.designed is not None
    done = replace(again.designed, case=framed.case, trade=before.trade, trials=before.trials)
    return replace(again, case=framed.case, designed=done)


def frame_items(framed: Framed | None) -> tuple[MassItem, ...]:
    """What the frame weighs; nothing where there is none."""
    return framed.frame.mass_items if framed is not None and framed.frame is not None else ()


def moved(before: Layout, after: Layout) -> float:
    """The furthest any part moved between two layouts, mm; infinite when they hold different things."""
    old = {p.name: p for p in before.placements}
    if set(old) != {p.name for p in after.placements}:
        return inf
    far = 0.0
    for p in after.placements:
        q = old[p.name]
        if (p.up, p.turn_deg, p.zone) != (q.up, q.turn_deg, q.zone):
            return inf
        far = max(far, sum((a - b) ** 2 for a, b in zip(p.at, q.at, strict=True)) ** 0.5)
    return far


def _close(
    case: Case, seed: int, placed: Placed | None, layout: Layout | None, framed: Framed | None
) -> Study:
    weighing = weigh(case, layout, frame_items(framed)) if layout is not None else None
    found: list[Check] = []
    if placed is not None:
        # the placement's checks are of its first layout; the one taken may be another
        counted = [c for c in placed.checks if c.id == "place.count"]
        found += [*counted, *(check_layout(case, layout) if layout is not None else ())]
    found += framed.checks if framed is not None else ()
    found += weighing.checks if weighing is not None else ()
    rank = {"fail": 0, "unknown": 1, "marginal": 2, "pass": 3}
    checks = tuple(sorted(found, key=lambda c: rank[c.verdict]))
    return Study(case, seed, placed, layout, framed, weighing, checks, NOT_DONE)

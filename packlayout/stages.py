"""One layout with what hangs on it: its frame, its wiring, its driving. No files, no screen."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from packlayout.drive.drive import Driving, PackData, drive
from packlayout.drive.shaft import static_angle_deg
from packlayout.electrical.estimate import cable_alone
from packlayout.electrical.pack import pack_of
from packlayout.electrical.wire import Surroundings, Wiring, wire
from packlayout.frame.bolting import bolt_items, bolts_of
from packlayout.frame.checks import check_frame
from packlayout.frame.design import Designed, design
from packlayout.frame.generate import generate
from packlayout.frame.legs import Leg
from packlayout.frame.shapes import member_mesh, plate_mesh
from packlayout.frame.tubes import TubeFrame
from packlayout.mass.weighing import Weighing
from packlayout.model.brief import Case
from packlayout.model.check import Check, unknown
from packlayout.model.geometry import Box, MassItem
from packlayout.model.layout import Layout
from packlayout.placement.forms import access_rooms, slabs
from packlayout.price import Bill, price

PACK_OHM = 0.1  # of a pack whose modules state no resistance (common practice, no source)
Progress = Callable[[str], None]


def silent(_: str) -> None:
    """Say nothing."""


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


def wired(case: Case, layout: Layout, framed: Framed | None, reasons: bool = True) -> Wiring:
    """Pack electrics, protection and cable runs of a layout, clear of parts, frame, access room and body.

    Without reasons, how much is missing where a cable finds no way is not looked for: that takes long.
    """
    return wire(case, layout, _around(case, layout, framed), reasons)


def _around(case: Case, layout: Layout, framed: Framed | None) -> Surroundings:
    """Frame and access room, which cables keep clear of."""
    frame = framed.frame if framed is not None else None
    solids = () if frame is None else (
        *((m.name, member_mesh(m)) for m in frame.members),
        *((p.name, plate_mesh(p)) for p in frame.plates),
    )  # fmt: skip
    rooms = tuple(
        (p.name, room.box) for p in layout.placements for room in access_rooms(case.parts[p.part], p.pose)
    )
    return Surroundings(solids, rooms)


def driven(case: Case, layout: Layout, weighing: Weighing) -> Driving:
    """Shaft, performance, range, charging and the old dials of a layout."""
    data: PackData | None = None
    if len(layout.modules) >= case.brief.wiring.strings:
        pack = pack_of(case, layout)
        ohm = pack.resistance_ohm.value if pack.resistance_ohm is not None else PACK_OHM
        data = PackData(pack.usable_kwh, pack.nominal_v, pack.continuous_a, pack.peak_a, ohm)
    return drive(case, layout, weighing, data)


def bill_of(framed: Framed | None, wiring: Wiring | None) -> Bill:
    """What is paid for by number, weight and metre."""
    frame = framed.frame if framed is not None else None
    runs = [run for run in wiring.runs if run.line is not None] if wiring is not None else []
    power = [r for r in runs if r.signal is None]
    cables = tuple((r.area_mm2, r.cores * r.length_mm / 1000) for r in power if r.cores)
    signals = tuple((r.cores, r.area_mm2, r.length_mm / 1000) for r in runs if r.signal is not None)
    conduits = tuple((s.conduit.name, s.line.length_mm / 1000) for r in runs for s in r.sleeves)
    hoses = tuple(r.length_mm / 1000 for r in power if not r.cores)
    laid = Bill(cables=cables, hoses_m=hoses, signals=signals, conduits=conduits)
    if framed is None or frame is None:
        return laid
    bolts = tuple((b.thread, b.count) for b in bolts_of(frame, framed.legs, framed.case.threads))
    return replace(
        laid, members=len(frame.members), plates=len(frame.plates), legs=len(framed.legs), metal_kg=frame.mass_kg,
        bolts=bolts,
    )  # fmt: skip


def outcome(case: Case, layout: Layout, framed: Framed) -> dict[str, float]:
    """What hangs on a layout, for layouts laid side by side: cables as they run, shaft angle, price.

    Reckoned with each cable as if it were the only one, so that it stands on the same footing for each layout and is
    quick.

    Args:
        case: What was read.
        layout: Where the parts stand.
        framed: A frame for it, drawn in the same way for all layouts that are compared.

    Returns:
        `cables_without_way`, `routed_cable_length_mm` (all high-voltage runs; one without a way counts with the
        straight line between its ports, which is the least it can be), `shaft_angle_deg` (the greater of both joints
        at kerb height), `price` in the shop's currency, without hoses,
        conduit and signal cables. What cannot be reckoned is left out.
    """
    bill = bill_of(framed, None)
    found: dict[str, float] = {}
    alone = cable_alone(case, layout, _around(case, layout, framed))
    if alone is not None:
        found["cables_without_way"] = float(len(alone.without_way))
        found["routed_cable_length_mm"] = alone.length_mm
        bill = replace(bill, cables=alone.cables)
    angle = static_angle_deg(case, layout)
    if angle is not None:
        found["shaft_angle_deg"] = angle
    priced = price(case, layout, bill)
    if priced is not None:
        found["price"] = priced.total.value
    return found


def alone_without_way(case: Case, layout: Layout, framed: Framed) -> tuple[str, ...]:
    """High-voltage runs of a layout that find no way even alone: several times quicker than laying all."""
    alone = cable_alone(case, layout, _around(case, layout, framed))
    return alone.without_way if alone is not None else ()


def rooms_of(case: Case, layout: Layout) -> tuple[Box, ...]:
    """Access room of every placed part, vehicle axes."""
    return tuple(room.box for p in layout.placements for room in slabs(case.parts[p.part], p.pose))


def frame_for(case: Case, layout: Layout, brackets: bool = True) -> Framed:
    """The frame of one layout as the brief says it, drawn and held against its surroundings, not solved.

    Without brackets it is drawn several times faster, which serves to rank many layouts.
    """
    if not layout.blocks:
        missing = "no module is placed, so there is nothing to carry"
        return Framed(
            case, None, (unknown("frame.support", "Legs that carry the pack", "legs", "statics", missing),)
        )
    rooms = rooms_of(case, layout)
    made = generate(case, layout, rooms, brackets=brackets)
    return Framed(case, made.frame, check_frame(case, layout, made, rooms), made.legs)


def designed_for(case: Case, layout: Layout, progress: Progress = silent) -> Framed:
    """The frame of one layout with its sections chosen, solved in every load case and judged."""
    drawn = frame_for(case, layout)
    if drawn.frame is None:
        return drawn
    progress("choosing sections and solving the frame")
    rooms = rooms_of(case, layout)
    done = design(case, layout, rooms)
    shape = check_frame(done.case, layout, done.made, rooms)
    return Framed(done.case, done.made.frame, (*shape, *done.checks), done.made.legs, done)


def with_same_sections(framed: Framed, layout: Layout, progress: Progress) -> Framed:
    """The frame of a layout that moved a little, with the sections that were chosen already."""
    if framed.designed is None:
        return designed_for(framed.case, layout, progress)
    before, brief = framed.designed, framed.case.brief
    kept = brief.frame.model_copy(update={"choose_sections": False})
    again = designed_for(
        replace(framed.case, brief=brief.model_copy(update={"frame": kept})), layout, progress
    )
    if again.designed is None:
        return replace(again, case=framed.case)
    done = replace(again.designed, case=framed.case, trade=before.trade, trials=before.trials)
    return replace(again, case=framed.case, designed=done)


def frame_items(framed: Framed | None) -> tuple[MassItem, ...]:
    """What the frame and its bolts weigh; nothing where there is none."""
    if framed is None or framed.frame is None:
        return ()
    return (*framed.frame.mass_items, *bolt_items(framed.frame, framed.legs, framed.case.threads))

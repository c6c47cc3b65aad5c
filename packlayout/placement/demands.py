"""Axle loads that are asked for and cannot be had together: what conflicts, and by how much.

A proof by boxes: every part as far forward, or as far back, as the box around its zones lets it go. A layout between
the two may still be impossible; one beyond them is.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from packlayout.model.brief import Case
from packlayout.model.check import Check, judge
from packlayout.model.geometry import MassItem
from packlayout.model.layout import Layout
from packlayout.placement import aims
from packlayout.placement.conflicts import room_of
from packlayout.placement.entities import locked_blocks, named_orders
from packlayout.placement.forms import Form, block_margin, part_forms
from packlayout.units import Measured

FRAME_SHARE = 0.5
"""Frame, cables and brackets weigh no more than this share of what they carry (common practice, no source)."""
_TINY = 1e-6


@dataclass(frozen=True, slots=True)
class Reach:
    """What the loads of a vehicle can come to, wherever its new parts stand.

    Attributes:
        mass_kg: Of the vehicle with its new parts, before its frame and cables.
        more_kg: What these may add at the most.
        front_kg: Least and most front axle load.
        rear_kg: The same of the rear.
    """

    mass_kg: float
    more_kg: float
    front_kg: tuple[float, float]
    rear_kg: tuple[float, float]


def reach_of(case: Case, burden: Sequence[MassItem], held: Layout | None = None) -> Reach:
    """Bounds on mass and axle loads over all layouts with every module and part that is asked for.

    Args:
        case: The job.
        burden: Masses that are not placed, as for `place`.
        held: A layout whose locked parts stay.
    """
    goal = aims.targets(case, burden)
    locked = {p.name: p for p in held.placements if p.locked} if held is not None else {}
    kept = sum(len(b.modules) for b in locked_blocks(held))
    module, order = case.parts[case.brief.modules.part], case.brief.modules
    rows: list[tuple[float, float, float]] = []
    span = _along(case, part_forms(module), order.zones, block_margin(case))
    rows += [(module.mass_kg.value, *span)] * max(0, case.modules_wanted - kept)
    own = module.centre_of_gravity
    for block in locked_blocks(held):
        for p in block.modules:
            at = p.pose.point((own[0].value, own[1].value, own[2].value))[0]
            rows.append((module.mass_kg.value, at, at))
    for wanted, name in named_orders(case):
        part = case.parts[wanted.part]
        still = locked.get(name) or wanted.fixed
        if still is None:
            rows.append((part.mass_kg.value, *_along(case, part_forms(part), wanted.zones, 0.0)))
            continue
        form = next(f for f in part_forms(part) if f.label == f"{still.up} up, {still.turn_deg} deg")
        rows.append((part.mass_kg.value, still.at[0] + form.cg[0], still.at[0] + form.cg[0]))
    new = sum(m for m, _, _ in rows)
    rear = [(goal.moment[0] + sum(r[0] * r[n] for r in rows)) / goal.wheelbase_mm for n in (1, 2)]
    mass = goal.mass_kg + new
    return Reach(mass, FRAME_SHARE * new, (mass - rear[1], mass - rear[0]), (rear[0], rear[1]))


def _along(case: Case, forms: Sequence[Form], zones: Sequence[str], margin: float) -> tuple[float, float]:
    """Foremost and rearmost x of a part's centre of gravity in the boxes of its zones; any where it fits none."""
    found: list[float] = []
    for zone in zones:
        room = room_of(case, zone)
        for form in forms:
            if all(a + 2 * margin <= b + _TINY for a, b in zip(form.size, room.size, strict=True)):
                found += [room.lo[0] + margin + form.cg[0], room.hi[0] - margin - form.size[0] + form.cg[0]]
    if not found:
        bounds = [case.zones[zone].bounds for zone in zones]
        return min(b.lo[0] for b in bounds), max(b.hi[0] for b in bounds)
    return min(found), max(found)


def check_demands(case: Case, burden: Sequence[MassItem], held: Layout | None = None) -> tuple[Check, ...]:
    """Failed checks for axle targets and plated limits that no layout can meet; none where one might.

    Args:
        case: The job.
        burden: As for `place`.
        held: A layout whose locked parts stay.
    """
    reach = reach_of(case, burden, held)
    return (*_sum(case, reach), *_each(case, reach), *_plated(case, reach))


def _wanted(case: Case) -> list[tuple[str, float | None, float]]:
    a = case.brief.aims
    return [
        ("front", a.front_target_kg if a.front_axle > 0 else None, case.vehicle.plated.front_axle_kg),
        ("rear", a.rear_target_kg if a.rear_axle > 0 else None, case.vehicle.plated.rear_axle_kg),
    ]


def _sum(case: Case, reach: Reach) -> Iterator[Check]:
    """Both targets together against the mass that both axles bear."""
    (_, front, _), (_, rear, _) = _wanted(case)
    if front is None or rear is None:
        return
    both, band = front + rear, 2 * case.brief.aims.axle_band_kg
    most = reach.mass_kg + reach.more_kg
    basis = "both axles bear the whole mass"
    words = f"front_target {front:g} kg and rear_target {rear:g} kg are {both:g} kg together"
    title = "Front and rear axle targets together against the mass of the vehicle with its new parts"
    if both + band < reach.mass_kg - _TINY:
        missing = reach.mass_kg - band - both
        note = (
            f"{words}, but the vehicle with its new parts weighs {reach.mass_kg:.1f} kg before what its frame adds: the two "
            f"conflict by {missing:.1f} kg; raise one of them, or state one only"
        )
        yield judge("place.targets.sum", title, Measured(round(both + band, 3)), round(reach.mass_kg, 3), "min", "kg",
                    basis, note=note)  # fmt: skip
    elif both - band > most + _TINY:
        note = (
            f"{words}, but the vehicle with its new parts weighs {reach.mass_kg:.1f} kg, and with its frame and cables "
            f"{most:.1f} kg at the most: the two conflict by {both - band - most:.1f} kg; lower one of them, or state "
            "one only"
        )
        yield judge("place.targets.sum", title, Measured(round(both - band, 3)), round(most, 3), "max", "kg", basis,
                    note=note)  # fmt: skip


def _each(case: Case, reach: Reach) -> Iterator[Check]:
    """Each target against what the zones let the axle come to, and against the plate."""
    band = case.brief.aims.axle_band_kg
    for (axle, target, plated), (low, high) in zip(
        _wanted(case), (reach.front_kg, reach.rear_kg), strict=True
    ):
        if target is None:
            continue
        title = f"{axle.capitalize()} axle target against what the zones allow"
        basis = f"{axle}_target of the brief" + (f", with its band of {band:g} kg" if band else "")
        far = "rear" if axle == "front" else "front"
        if target + band < low - _TINY:
            note = (
                f"{axle}_target {target:g} kg and the zones of the parts conflict by {low - target - band:.1f} kg: with "
                f"every part as far to the {far} as its zones go, the {axle} axle bears {low:.1f} kg before what the frame adds"
            )
            yield judge(f"place.targets.{axle}", title, Measured(round(low, 3)), target + band, "max", "kg", basis,
                        note=note)  # fmt: skip
        elif target - band > high + reach.more_kg + _TINY:
            most = high + reach.more_kg
            note = (
                f"{axle}_target {target:g} kg and the zones of the parts conflict by {target - band - most:.1f} kg: with "
                f"every part as far to the {axle} as its zones go, the {axle} axle bears {high:.1f} kg, and with frame "
                f"and cables {most:.1f} kg at the most"
            )
            yield judge(f"place.targets.{axle}", title, Measured(round(most, 3)), target - band, "min", "kg", basis,
                        note=note)  # fmt: skip
        if target - band > plated + _TINY:
            note = (
                f"{axle}_target {target:g} kg and the plated {axle} axle load of {plated:g} kg conflict by "
                f"{target - band - plated:.1f} kg"
            )
            yield judge(f"place.targets.{axle}.plated", f"{axle.capitalize()} axle target against the plate",
                        Measured(target - band), plated, "max", "kg", "maker's plate", note=note)  # fmt: skip


def _plated(case: Case, reach: Reach) -> Iterator[Check]:
    """The plate against the lightest that the unladen vehicle can be on an axle, and as a whole."""
    plate = case.vehicle.plated
    rows = (
        (
            "front axle",
            plate.front_axle_kg,
            reach.front_kg[0],
            "with every part as far to the rear as its zones go",
        ),
        (
            "rear axle",
            plate.rear_axle_kg,
            reach.rear_kg[0],
            "with every part as far to the front as its zones go",
        ),
        ("gross mass", plate.gross_kg, reach.mass_kg, "whatever stands where"),
    )
    for name, most, least, how in rows:
        if least > most + _TINY:
            note = (
                f"the plated {name} of {most:g} kg and the parts that the brief asks for conflict by "
                f"{least - most:.1f} kg: {how}, it is {least:.1f} kg before what the frame adds and without anybody aboard"
            )
            yield judge(f"place.plated.{name.replace(' ', '-')}", f"Plated {name} against the parts asked for",
                        Measured(round(least, 3)), most, "max", "kg", "maker's plate", note=note)  # fmt: skip

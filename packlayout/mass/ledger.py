"""The ledger: what is taken out, what is put in, and what each line shares with others."""

from collections.abc import Iterable

from packlayout.errors import ReadingError
from packlayout.mass.end_plates import end_plate_items
from packlayout.mass.original import fuel_out, original_kerb
from packlayout.mass.propagate import Register
from packlayout.mass.readings import mass_item
from packlayout.mass.table import Row
from packlayout.model.brief import Case
from packlayout.model.geometry import MassItem, MeasuredPoint, Pose
from packlayout.model.layout import Layout, Placement
from packlayout.units import Measured


def base_items(case: Case) -> tuple[MassItem, ...]:
    """The vehicle with the old drive out and nothing of the new one in but what the survey added.

    Args:
        case: Supplies the vehicle.

    Returns:
        The original in kerb state; the removed things and the fuel, negative; the added things.

    Raises:
        GeometryError: for impossible readings, and when more is removed than an axle carried.
    """
    items = (
        *original_kerb(case),
        *(mass_item(item, "removed", -1.0) for item in case.vehicle.removed),
        fuel_out(case),
    )
    _refuse_more_than_there_was(case, items)
    return (*items, *(mass_item(item, "added") for item in case.vehicle.added))


def part_items(case: Case, layout: Layout) -> tuple[MassItem, ...]:
    """One item for each placed part, at its own centre of gravity, and for each end plate of a block.

    Args:
        case: Supplies mass and own centre of gravity of each part.
        layout: Where they stand.

    Returns:
        In the order of the placements, then the end plates of the blocks. The tolerance of the own centre of
        gravity is turned with the part.
    """
    placed = (_part_item(case, placement) for placement in layout.placements)
    return (*placed, *end_plate_items(case, layout))


def part_rows(register: Register, case: Case, layout: Layout) -> tuple[Row, ...]:
    """The placed parts as inputs: all copies of a part share the error of its catalogue figures."""
    columns: dict[str, tuple[int, tuple[int, int, int]]] = {}
    rows: list[Row] = []
    for placement in layout.placements:
        part = case.parts[placement.part]
        if placement.part not in columns:
            columns[placement.part] = (
                register.add(f"mass of {part.name}", "kg", part.mass_kg, part.name),
                register.point(f"own centre of gravity of {part.name}", part.centre_of_gravity, part.name),
            )
        mass, own = columns[placement.part]
        rows.append(Row(mass, 1.0, own, placement.pose, placement.box.size))
    return (*rows, *frame_rows(register, end_plate_items(case, layout)))


def frame_rows(register: Register, items: Iterable[MassItem]) -> tuple[Row, ...]:
    """The frame as inputs: lengths of one stock share its deviation from the table."""
    stock: dict[tuple[str, float], int] = {}
    rows: list[Row] = []
    for item in items:
        share = item.mass.tolerance / abs(item.mass.value) if item.mass.value else 0.0
        key = (item.source, round(share, 9))
        if key not in stock:
            name = f"true mass over computed mass of the {item.source or item.kind}"
            stock[key] = register.add(name, "1", Measured(1.0, share))
        at = register.point(f"place of {item.name}", item.position)
        rows.append(Row(stock[key], item.mass.value, at, size=item.size))
    return tuple(rows)


def _part_item(case: Case, placement: Placement) -> MassItem:
    part, pose = case.parts[placement.part], placement.pose
    return MassItem(
        placement.name,
        part.mass_kg,
        turned_point(pose, part.centre_of_gravity),
        "part",
        placement.box.size,
        part.source,
    )


def turned_point(pose: Pose, own: MeasuredPoint) -> MeasuredPoint:
    """A point in own axes -> vehicle axes, with its tolerances turned, independent along the own axes."""
    values = pose.point((own[0].value, own[1].value, own[2].value))
    spread = [
        sum((r * c.tolerance) ** 2 for r, c in zip(row, own, strict=True)) ** 0.5 for row in pose.rotation
    ]
    x, y, z = (Measured(value, tolerance) for value, tolerance in zip(values, spread, strict=True))
    return x, y, z


def _refuse_more_than_there_was(case: Case, stripped: tuple[MassItem, ...]) -> None:
    wheelbase = case.vehicle.wheelbase_mm.value
    total = sum(item.mass.value for item in stripped)
    rear = sum(item.mass.value * item.position[0].value for item in stripped) / wheelbase
    removed = sum(item.mass_kg.value for item in case.vehicle.removed)
    for name, left in (("front", total - rear), ("rear", rear)):
        if left <= 0:
            heaviest = max(case.vehicle.removed, key=lambda item: item.mass_kg.value, default=None)
            most = f", the heaviest {heaviest.name} of {heaviest.mass_kg.value:g} kg" if heaviest else ""
            raise ReadingError(
                "removed",
                f"{len(case.vehicle.removed)} items of {removed:.0f} kg in all{most}: they would "
                f"leave {left:.0f} kg on the {name} axle",
                "more than 0 kg",
                "likely slip: lb for kg, or a wrong x",
            )

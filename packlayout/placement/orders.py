"""What the brief asks of single parts: a cable's reach, a shaft on the shaft line."""

from math import acos, degrees

from packlayout.model.brief import Case, PartOrder
from packlayout.model.check import Check, judge, unknown
from packlayout.model.geometry import Vec
from packlayout.model.layout import Layout, Placement
from packlayout.placement.aims import port_at
from packlayout.placement.anchors import shaft_line
from packlayout.placement.entities import named_orders
from packlayout.units import Measured


def check_orders(case: Case, layout: Layout) -> tuple[Check, ...]:
    """Judge reach and shaft line of the parts that the brief asks it of."""
    made: list[Check] = []
    by_name = {p.name: p for p in layout.placements}
    for order, name in named_orders(case):
        if name not in by_name:
            continue
        if order.reach_mm is not None:
            made += _reach(case, layout, by_name[name], order.reach_mm)
        if order.on_line is not None:
            made += _line(case, by_name[name], order)
    return (*made, *_motor_first(case, layout))


def _reach(case: Case, layout: Layout, part: Placement, most: float) -> list[Check]:
    own = port_at(case, part, layout)
    worst, far = 0.0, ""
    for block in layout.blocks:
        port = port_at(case, block.modules[0], layout)
        length = sum(abs(a - b) for a, b in zip(own, port, strict=True))
        if length >= worst:
            worst, far = length, f"pack block {block.number}"
    title = f"Cable from {part.name} to {far}"
    return [judge(f"place.reach.{part.name.replace(' ', '-')}", title, Measured(worst), most, "max", "mm",
                  "reach asked for by the brief, along the axes", where=own)]  # fmt: skip


def _line(case: Case, part: Placement, order: PartOrder) -> list[Check]:
    key = part.name.replace(" ", "-")
    line = shaft_line(case)
    ports = [p for p in case.parts[part.part].ports if p.kind == "shaft"]
    wanted = order.on_line
    assert wanted is not None
    basis = "shaft line of the brief, from the old gearbox output to the axle input"
    if line is None or not ports:
        missing = "the vehicle's driveline" if line is None else f"a shaft port of {part.name}"
        return [
            unknown(
                f"place.line.{key}", f"Shaft of {part.name} on its line", "mm", basis, f"{missing} is missing"
            )
        ]
    start, along = line
    at = part.pose.point(ports[-1].at)
    looks = part.pose.direction(ports[-1].direction)
    d: Vec = (at[0] - start[0], at[1] - start[1], at[2] - start[2])
    run = sum(a * b for a, b in zip(d, along, strict=True))
    off = sum((a - run * b) ** 2 for a, b in zip(d, along, strict=True)) ** 0.5
    angle = degrees(acos(max(-1.0, min(1.0, sum(a * b for a, b in zip(looks, along, strict=True))))))
    return [
        judge(f"place.line.{key}.offset", f"Shaft of {part.name} beside the shaft line", Measured(round(off, 9)),
              wanted.offset_mm, "max", "mm", basis, where=at),
        judge(f"place.line.{key}.angle", f"Shaft of {part.name} against the shaft line", Measured(round(angle, 9)),
              wanted.angle_deg, "max", "deg", basis, where=at),
    ]  # fmt: skip


def _motor_first(case: Case, layout: Layout) -> list[Check]:
    """The gear stands behind the motor, since its output goes to the axle."""
    asked = {name for order, name in named_orders(case) if order.on_line is not None}
    motors = [p for p in layout.placements if case.parts[p.part].kind == "motor" and p.name in asked]
    gears = [p for p in layout.placements if case.parts[p.part].kind == "reduction gear" and p.name in asked]
    return [
        judge("place.line.order", f"{g.name} behind {m.name}", Measured(g.box.lo[0] - m.box.hi[0]), 0.0, "min", "mm",
              "the drive goes from motor to gear to axle", where=g.box.centre)
        for m in motors
        for g in gears
    ]  # fmt: skip

"""The tables of the weighing that go beyond masses: where parts could stand, ride, road, what to measure next."""

from packlayout.export.blocks import Table
from packlayout.export.figures import figure, number
from packlayout.mass.weighing import Comparison, NextMeasurements, Weighing
from packlayout.model.brief import Road


def movable_table(weighing: Weighing) -> Table:
    """Where movable parts stand and where they would leave the most payload."""
    rows = tuple(
        (m.name, f"{m.zone}, {number(m.x_mm, 0)}", number(m.allowed_kg), f"{m.best_zone}, {number(m.best_x_mm, 0)}",
         number(m.best_allowed_kg), m.bound_by)
        for m in weighing.movables
    )  # fmt: skip
    head = ("part", "stands in, at x, mm", "payload, kg", "best in, at x, mm", "payload then, kg", "bound by")
    caption = "Payload with its centre at the middle of the load floor, each part moved by itself"
    return Table(head, rows, frozenset((2, 4)), caption)


def ride_table(weighing: Weighing) -> Table:
    """Ride height, pitch and natural frequency in every state."""
    rows = tuple(
        (r.state, *(figure(m, signed=True) for m in r.height_change_mm), figure(r.pitch_deg, 2, signed=True),
         *(figure(m, 2) for m in r.frequency_hz))
        for r in weighing.rides
    )  # fmt: skip
    head = ("state", "front height, mm", "rear height, mm", "nose up, °", "front, Hz", "rear, Hz")
    caption = "Ride height against the original in kerb state, natural frequency of the body on its springs"
    return Table(head, rows, frozenset(range(1, 6)), caption)


def restore_table(weighing: Weighing) -> Table:
    """What brings each axle back to its height: a spring, or packing."""
    rows = tuple(
        (r.axle, *(figure(m) for m in r.rate_n_per_mm), figure(r.rate_change_percent, signed=True),
         figure(r.packing_mm, signed=True))
        for r in weighing.restores
    )  # fmt: skip
    head = (
        "axle",
        "wheel rate now, N/mm",
        "restoring rate, N/mm",
        "change, %",
        "or packing at the wheel, mm",
    )
    caption = (
        "To restore the original height in converted kerb state: another spring, or packing with the old one"
    )
    return Table(head, rows, frozenset(range(1, 5)), caption)


def road_table(weighing: Weighing, road: Road) -> Table:
    """Braking, tipping, hill starts."""
    rows = tuple(
        (r.state, *(figure(m) for m in r.braked_axle_kg), figure(r.moved_kg), figure(r.stability_factor, 2),
         figure(r.hill_adhesion, 3))
        for r in weighing.road
    )  # fmt: skip
    head = ("state", "front braked, kg", "rear braked, kg", "moved forward, kg", "static stability factor",
            "friction for a hill start")  # fmt: skip
    caption = (
        f"Braking at {number(road.deceleration_m_per_s2, 2)} m/s² on the level; hill start on "
        f"{number(road.gradient_percent, 0)} %, nose up; static stability factor: half the mean track over the height "
        "of the centre of gravity"
    )
    return Table(head, rows, frozenset(range(1, 6)), caption)


def next_table(found: NextMeasurements) -> Table:
    """Single measurements that would narrow the verdict that matters, best first."""
    if found.check is None:
        return Table((), ())
    unit = found.check.unit
    rows = tuple(
        (r.name, f"± {r.tolerance:g} {r.unit}", f"± {r.better:g} {r.unit}", f"± {number(r.check_tolerance)} {unit}",
         r.verdict, f"{100 * r.confidence:.1f} %")
        for r in found.rows
    )  # fmt: skip
    head = ("measure", "known to", "if known to", "the check is known to", "it would be", "sure to")
    stands = figure_of(found)
    return Table(head, rows, frozenset((1, 2, 3, 5)), stands)


def figure_of(found: NextMeasurements) -> str:
    """How the check that matters most stands now, in words."""
    check = found.check
    if check is None or check.value is None or check.limit is None:
        return ""
    return (
        f"The verdict nearest to turning is {check.title}: {number(check.value)} ± {number(check.tolerance)} "
        f"{check.unit}, limit {number(check.limit)}"
    )


def comparison_table(found: Comparison) -> Table:
    """Scale readings against what was predicted."""
    rows = tuple(
        (
            r.name,
            figure(r.predicted),
            figure(r.read),
            figure(r.difference, signed=True),
            "yes" if r.within else "no",
        )
        for r in found.rows
    )
    return Table(("", "predicted, kg", "read, kg", "difference, kg", "within tolerance"), rows, frozenset((1, 2, 3)),
                 f"{found.state}. {found.note}".strip())  # fmt: skip


def suspect_table(found: Comparison) -> Table:
    """Who is most likely to blame for a difference."""
    rows = tuple(
        (
            s.about,
            s.name,
            f"{number(s.off_by)} {s.unit}",
            f"± {number(s.tolerance)} {s.unit}",
            f"{100 * s.share:.0f} %",
        )
        for s in found.suspects[:8]
    )
    return Table(
        ("what", "which figure", "would be off by", "its tolerance", "explains"), rows, frozenset((2, 3, 4))
    )

"""Cost against cell size and number of modules, and 24 modules over three zones.

python -m benchmarks.cost [--plot FILE.png] [--without-zones]
"""

import argparse
from dataclasses import replace
from pathlib import Path

from benchmarks.report import clock, line
from packlayout.mass.ledger import base_items
from packlayout.model.brief import Case
from packlayout.model.geometry import Box
from packlayout.model.vehicle import BoxShape, Zone
from packlayout.placement.place import place
from packlayout.placement.solve import first_valid, setting
from packlayout.space.envelope import box_mesh
from tests.generated import job_in, lofted_bay

PITCHES = (20.0, 15.0, 10.0, 7.5, 5.0)
COUNTS = (2, 4, 6, 8, 10, 12)


def three_zones() -> Case:
    """24 modules over an engine bay, a former tank space and a boot, eight in each; no two of them take as many."""
    case = job_in(lofted_bay(1, wider_mm=20), 24, hardware=True)
    zones, surfaces = [*case.vehicle.zones], dict(case.zones)
    for name, box in (
        ("tank", Box((2300.0, -420.0, 300.0), (3020.0, 420.0, 540.0))),
        ("boot", Box((3040.0, -450.0, 480.0), (3760.0, 450.0, 720.0))),
    ):
        zones.append(Zone(name=name, use="other", box=BoxShape(corner=box.lo, opposite=box.hi)))
        surfaces[name] = box_mesh(box)
    order = case.brief.modules.model_copy(update={"zones": ("bay", "tank", "boot")})
    vehicle = case.vehicle.model_copy(update={"zones": tuple(zones)})
    return replace(
        case, vehicle=vehicle, zones=surfaces, brief=case.brief.model_copy(update={"modules": order})
    )


def over_zones() -> None:
    """24 modules over three zones."""
    case = three_zones()
    start = clock()
    placed = place(case, base_items(case))
    zones = {p.zone for s in placed.layouts[:1] for p in s.layout.modules}
    line(
        "24 modules over three zones",
        f"{placed.count.packed} in {len(zones)} zones, {clock() - start:.1f} s",
        "under 60 s",
    )


def main() -> None:
    """Measure and print."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--plot", type=Path, help="PNG or SVG to draw")
    words.add_argument("--without-zones", action="store_true", help="leave the 24 modules out")
    args = words.parse_args()
    setting(job_in(lofted_bay(3), 2, hardware=True), base_items(job_in(lofted_bay(3), 2)), 0)
    if not args.without_zones:
        over_zones()
    by_pitch, by_count = [], []
    for pitch in PITCHES:
        case = job_in(lofted_bay(3, wider_mm=60), 8, hardware=True)
        start = clock()
        found = first_valid(setting(case, base_items(case), 0, pitch_mm=pitch), 8)
        by_pitch.append((clock() - start, found.score if found else float("nan")))
        line(
            f"first layout of 8 modules on cells of {pitch:g} mm",
            f"{'found' if found else 'not found'}, {by_pitch[-1][0]:.2f} s, sum of aims {by_pitch[-1][1]:.2f}",
        )
    for count in COUNTS:
        case = job_in(lofted_bay(3, wider_mm=60), count, hardware=True)
        start = clock()
        placed = place(case, base_items(case))
        best = placed.layouts[0].score if placed.count.packed == count else float("nan")
        by_count.append((clock() - start, best))
        line(
            f"whole placement of {count} modules at 10 mm",
            f"{placed.count.packed} placed, {by_count[-1][0]:.2f} s, sum of aims {best:.2f}",
        )
    if args.plot:
        draw(args.plot, by_pitch, by_count)


def draw(path: Path, by_pitch: list[tuple[float, float]], by_count: list[tuple[float, float]]) -> None:
    """Processor time and the weighed sum of the aims, against cell size and against the number of modules."""
    from matplotlib import pyplot
    from matplotlib.ticker import ScalarFormatter

    figure, panes = pyplot.subplots(2, 2, figsize=(9, 6), layout="constrained", sharex="col")
    for column, (x, rows, title) in enumerate((
        (PITCHES, by_pitch, "first layout of 8 modules"), (COUNTS, by_count, "whole placement on cells of 10 mm"),
    )):  # fmt: skip
        for row, words in enumerate(("processor time, s", "weighed sum of aims")):
            pane = panes[row][column]
            pane.plot(x, [values[row] for values in rows], "o-")
            pane.set_ylim(0, 1.1 * max(values[row] for values in rows))
            pane.set_ylabel(words)
            pane.grid(alpha=0.3)
        panes[0][column].set_title(title)
        panes[1][column].set_xlabel("modules" if column else "cell, mm")
    for pane in (panes[0][0], panes[1][0]):
        pane.set_xscale("log")
        pane.set_xticks(PITCHES)
        pane.minorticks_off()
        pane.xaxis.set_major_formatter(ScalarFormatter())
    figure.savefig(path, dpi=120, metadata={"Software": None} if path.suffix == ".png" else {"Date": None})


if __name__ == "__main__":
    main()

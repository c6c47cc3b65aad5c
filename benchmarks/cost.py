"""Cost against cell size and number of modules, and 24 modules over three zones.

python -m benchmarks.cost [--plot FILE.svg]
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
    """24 modules over an engine bay, a former tank space and a boot."""
    case = job_in(lofted_bay(4, wider_mm=60), 24, hardware=True)
    zones, surfaces = [*case.vehicle.zones], dict(case.zones)
    for name, box in (
        ("tank", Box((2300.0, -420.0, 300.0), (2900.0, 420.0, 560.0))),
        ("boot", Box((2950.0, -450.0, 480.0), (3500.0, 450.0, 800.0))),
    ):
        zones.append(Zone(name=name, use="other", box=BoxShape(corner=box.lo, opposite=box.hi)))
        surfaces[name] = box_mesh(box)
    order = case.brief.modules.model_copy(update={"zones": ("bay", "tank", "boot")})
    vehicle = case.vehicle.model_copy(update={"zones": tuple(zones)})
    return replace(
        case, vehicle=vehicle, zones=surfaces, brief=case.brief.model_copy(update={"modules": order})
    )


def main() -> None:
    """Measure and print."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--plot", type=Path, help="SVG to draw")
    args = words.parse_args()
    setting(job_in(lofted_bay(3), 2, hardware=True), base_items(job_in(lofted_bay(3), 2)), 0)
    case = three_zones()
    start = clock()
    placed = place(case, base_items(case))
    zones = {p.zone for s in placed.layouts[:1] for p in s.layout.modules}
    line(
        "24 modules over three zones",
        f"{placed.count.packed} in {len(zones)} zones, {clock() - start:.1f} s",
        "under 60 s",
    )
    by_pitch, by_count = [], []
    for pitch in PITCHES:
        case = job_in(lofted_bay(3, wider_mm=60), 8, hardware=True)
        start = clock()
        found = first_valid(setting(case, base_items(case), 0, pitch_mm=pitch), 8)
        by_pitch.append(clock() - start)
        line(
            f"first layout of 8 modules on cells of {pitch:g} mm",
            f"{'found' if found else 'not found'}, {by_pitch[-1]:.2f} s",
        )
    for count in COUNTS:
        case = job_in(lofted_bay(3, wider_mm=60), count, hardware=True)
        start = clock()
        placed = place(case, base_items(case))
        by_count.append(clock() - start)
        line(
            f"whole placement of {count} modules at 10 mm",
            f"{placed.count.packed} placed, {by_count[-1]:.2f} s",
        )
    if args.plot:
        from matplotlib import pyplot

        figure, (left, right) = pyplot.subplots(1, 2, figsize=(9, 3.5), layout="constrained")
        left.loglog(PITCHES, by_pitch, "o-")
        left.set(xlabel="cell, mm", ylabel="s", title="first layout of 8 modules")
        right.plot(COUNTS, by_count, "o-")
        right.set(xlabel="modules", ylabel="s", title="whole placement, 10 mm")
        figure.savefig(args.plot, metadata={"Date": None})


if __name__ == "__main__":
    main()

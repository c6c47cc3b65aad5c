"""Writes `gear-2to1.step`: a reduction gear with input flange, case and output boss, as one solid.

Invented for demonstration. Run `python modules/make_gear_body.py` after a change; the STEP stays beside it.
"""

import re
import sys
from pathlib import Path

import cadquery as cq

SIDE, LENGTH = 240.0, 220.0  # the body fills a box of 220 x 240 x 240 mm


def body() -> cq.Workplane:
    """The solid, mm, lowest corner of its box at the origin, shaft along x."""
    shaft = cq.Workplane("YZ", origin=(0.0, SIDE / 2, SIDE / 2))
    flange = shaft.circle(SIDE / 2).extrude(16.0)
    case = shaft.workplane(offset=16.0).circle(98.0).extrude(150.0)
    boss = shaft.workplane(offset=166.0).circle(55.0).extrude(LENGTH - 166.0)
    return flange.union(case).union(boss)


def main(target: Path) -> None:
    """Write the STEP file with a fixed date, whole or not at all."""
    unfinished = target.with_name(target.name + ".tmp")
    cq.exporters.export(body(), str(unfinished), exportType="STEP")
    text = re.sub(
        r"'\d{4}-\d\d-\d\dT[\d:.+-]+'", "'1970-01-01T00:00:00'", unfinished.read_text("ascii"), count=1
    )
    unfinished.write_text(text, "ascii", newline="\n")
    unfinished.replace(target)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).with_name("gear-2to1.step"))

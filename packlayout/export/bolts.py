"""Tightening torques of the bolts at the mounting points."""

from packlayout.export.blocks import Block, Head, Table
from packlayout.export.figures import number
from packlayout.model.brief import Case

# Shigley, Mechanical Engineering Design, eq. 8-27 and 8-31: T = K F d, K 0.2 as received, F 0.75 of the proof load of
# a bolt that is taken out again; proof strengths of ISO 898-1 up to 16 mm (all values from memory)
NUT_FACTOR, PRELOAD_SHARE = 0.2, 0.75
PROOF_MPA = {"5.6": 280.0, "8.8": 580.0, "10.9": 830.0}


def bolt_blocks(case: Case) -> list[Block]:
    """Tightening torques of the threads at the mounting points."""
    grade = case.brief.frame.bolt_class
    proof, rows = PROOF_MPA[grade], []
    for thread in dict.fromkeys(mount.thread for mount in case.vehicle.mounts):
        data = case.threads[thread]
        if data.stress_area_mm2 is None or data.diameter_mm is None:
            rows.append((thread, grade, "not known", "not known"))
            continue
        force = PRELOAD_SHARE * proof * data.stress_area_mm2
        rows.append(
            (thread, grade, number(force / 1000), number(NUT_FACTOR * force * data.diameter_mm / 1000, 0))
        )
    caption = (
        "Tightening torques of dry bolts as received, T = 0.2 F d with F 75 % of the proof load (Shigley, Mechanical "
        "Engineering Design; ISO 898-1; values from memory). Threads in the vehicle may bear less: look at them first."
    )
    return [
        Head("Bolts"),
        Table(("thread", "class", "preload, kN", "torque, N m"), tuple(rows), frozenset((2, 3)), caption),
    ]

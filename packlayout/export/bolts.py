"""Bolts with their tightening torques: for the report and as a list."""

from dataclasses import dataclass

from packlayout.export.blocks import Block, Head, Table, Text
from packlayout.export.figures import figure, number
from packlayout.frame.bolting import Bolts, bolts_of
from packlayout.model.brief import Case
from packlayout.study import Study

# Shigley, Mechanical Engineering Design, eq. 8-27 and 8-31: T = K F d, K 0.2 as received, F 0.75 of the proof load of
# a bolt that is taken out again; proof strengths of ISO 898-1 up to 16 mm (all values from memory)
NUT_FACTOR, PRELOAD_SHARE = 0.2, 0.75
PROOF_MPA = {"5.6": 280.0, "8.8": 580.0, "10.9": 830.0}
BASIS = (
    "dry bolts as received, T = 0.2 F d with F 75 % of the proof load (Shigley, Mechanical Engineering Design; "
    "ISO 898-1; values from memory)"
)
BOLT_LIST = "bolt-list.csv"
BOLT_HEAD = (
    "thread", "class", "length_mm", "add_to_length", "with", "quantity", "preload_kn", "torque_nm", "mass_kg", "basis",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Torque:
    """How tight a bolt is made."""

    preload_kn: float
    torque_nm: float


def torque_of(case: Case, thread: str) -> Torque | None:
    """Tightening of one thread in the class of the brief; None when the thread has no figures."""
    data = case.threads.get(thread)
    if data is None or data.stress_area_mm2 is None or data.diameter_mm is None:
        return None
    force = PRELOAD_SHARE * PROOF_MPA[case.brief.frame.bolt_class] * data.stress_area_mm2
    return Torque(force / 1000, NUT_FACTOR * force * data.diameter_mm / 1000)


def bolts_in(study: Study) -> tuple[Bolts, ...]:
    """All bolts of the frame and its brackets."""
    framed = study.framed
    if framed is None or framed.frame is None:
        return ()
    return bolts_of(framed.frame, framed.legs, study.case.threads)


def bolt_blocks(study: Study) -> list[Block]:
    """The bolts with their tightening torques."""
    grade = study.case.brief.frame.bolt_class
    rows = []
    for bolts in bolts_in(study):
        torque = torque_of(study.case, bolts.thread)
        long = "to suit" if bolts.length_mm is None else f"{bolts.length_mm:g}{' +' if bolts.least else ''}"
        rows.append((
            bolts.thread, grade, long, bolts.with_what, str(bolts.count),
            "not known" if torque is None else number(torque.preload_kn),
            "not known" if torque is None else number(torque.torque_nm, 0),
            "" if bolts.mass is None else figure(bolts.mass, 2),
        ))  # fmt: skip
    if not rows:
        return []
    words = (
        f"Tightening torques of {BASIS}. Threads in the vehicle and blind nuts may bear less: the maker of the nut "
        "decides. A length with + wants the metal that it passes through besides."
    )
    head = ("thread", "class", "length, mm", "with", "pieces", "preload, kN", "torque, N m", "mass, kg")
    return [
        Head("Bolts", "bolts"),
        Table(head, tuple(rows), frozenset((2, 4, 5, 6, 7))),
        Text(words, faint=True),
    ]


def bolt_rows(study: Study) -> list[tuple[str, ...]]:
    """The same for a list, under `BOLT_HEAD`."""
    rows: list[tuple[str, ...]] = []
    for bolts in bolts_in(study):
        torque = torque_of(study.case, bolts.thread)
        rows.append((
            bolts.thread, study.case.brief.frame.bolt_class,
            "" if bolts.length_mm is None else f"{bolts.length_mm:g}", "metal it passes through" if bolts.least else "",
            bolts.with_what, str(bolts.count), "" if torque is None else f"{torque.preload_kn:.1f}",
            "" if torque is None else f"{torque.torque_nm:.0f}", "" if bolts.mass is None else f"{bolts.mass.value:.3f}",
            BASIS,
        ))  # fmt: skip
    return rows

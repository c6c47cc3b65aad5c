"""One kit against many vehicles: which of them it fits, how well, and what each needs beside the shared core frame."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from packlayout.frame.one_core import Job, OneCore, one_core
from packlayout.model.brief import Case
from packlayout.model.check import Check
from packlayout.stages import Progress, rooms_of, silent
from packlayout.study import Study, run

Answer = Literal["fits", "fits with faults", "fits in part", "does not fit", "not known"]


@dataclass(frozen=True, slots=True, eq=False)
class Screened:
    """The kit on one vehicle.

    Attributes:
        vehicle: Its name.
        answer: fits; fits with faults: all stands in it, but a check fails or is unknown; fits in part: fewer
            modules than the kit has, or a part without a place; does not fit: not one block of modules; not known:
            no zone was surveyed that the modules could go in.
        reasons: What has no place and why, most telling first.
        faults: Checks that fail or are unknown.
        study: All that was computed; None when nothing could be.
    """

    vehicle: str
    answer: Answer
    reasons: tuple[str, ...]
    faults: tuple[Check, ...]
    study: Study | None


@dataclass(frozen=True, slots=True, eq=False)
class Screening:
    """One kit on many vehicles.

    Attributes:
        rows: One answer for each, in the order given.
        core: The one core frame for all that hold the whole pack, with an adapter for each; None for fewer than
            two of them.
    """

    rows: tuple[Screened, ...]
    core: OneCore | None


def screen(
    cases: Mapping[str, tuple[Case | None, tuple[str, ...]]], seed: int = 0, progress: Progress = silent
) -> Screening:
    """Try one kit on each vehicle.

    Args:
        cases: Vehicle -> its case with the kit, None when there is nothing to compute from, and what it lacks a
            zone for.
        seed: Of the searches.
        progress: Told what is being done.

    Returns:
        An answer for each vehicle, and the core frame they share.

    Raises:
        GeometryError: for readings or shapes that no calculation can be made with.
    """
    made: list[Screened] = []
    for vehicle, (case, lacking) in cases.items():
        if case is None:
            made.append(Screened(vehicle, "not known", lacking, (), None))
            continue
        progress(f"{vehicle}:")
        study = run(case, seed, progress=progress)
        if study.placed is not None and study.placed.stopped == "interrupted":
            raise KeyboardInterrupt  # half an answer for one vehicle is none for the row
        made.append(_judged(vehicle, study, lacking))
    return Screening(tuple(made), _shared(made, progress))


def _shared(rows: list[Screened], progress: Progress) -> OneCore | None:
    """One core for the vehicles that hold every module; what each needs beside it."""
    jobs: dict[str, Job] = {}
    for row in rows:
        study = row.study
        if study is None or study.layout is None or study.placed is None:
            continue
        if study.placed.count.packed >= study.placed.count.wanted:
            jobs[row.vehicle] = Job(study.case, study.layout, rooms_of(study.case, study.layout))
    return one_core(jobs, progress) if len(jobs) > 1 else None


def _judged(vehicle: str, study: Study, lacking: tuple[str, ...]) -> Screened:
    assert study.placed is not None
    count, why = study.placed.count, study.placed.why_not_more
    faults = tuple(check for check in study.checks if check.verdict in ("fail", "unknown"))
    if study.layout is None:
        return Screened(vehicle, "does not fit", (*why, *lacking), faults, study)
    missing = tuple(f"{name} finds no place" for name in absent(study))
    if count.packed < count.wanted or lacking or missing:
        short = (f"{count.packed} of {count.wanted} modules",) if count.packed < count.wanted else ()
        return Screened(vehicle, "fits in part", (*short, *lacking, *missing, *why), faults, study)
    return Screened(vehicle, "fits with faults" if faults else "fits", (), faults, study)


def absent(study: Study) -> tuple[str, ...]:
    """Parts that the kit asks for and the layout does not have."""
    assert study.layout is not None
    there = {p.part for p in study.layout.placements}
    return tuple(study.case.parts[o.part].name for o in study.case.brief.parts if o.part not in there)

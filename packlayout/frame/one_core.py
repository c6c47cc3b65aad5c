"""`one_core`: several vehicles with one arrangement of modules, one core frame for all, an adapter for each.

Each vehicle's frame is designed by itself first. Of the cores that come out the lightest is taken that holds in every
vehicle with adapters of its own; so the shop builds one core, and what differs is the legs and foot plates.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from packlayout.frame.design import Designed, design
from packlayout.frame.family import Family, Parts, family
from packlayout.frame.trial import Choice, with_choice
from packlayout.model.brief import Case
from packlayout.model.check import Check, judge
from packlayout.model.geometry import Box
from packlayout.model.layout import Layout
from packlayout.units import Measured


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """One vehicle.

    Attributes:
        case: As read from its brief.
        layout: Where its parts stand.
        rooms: Access room of the parts, vehicle axes.
    """

    case: Case
    layout: Layout
    rooms: Sequence[Box] = ()


@dataclass(frozen=True, slots=True, eq=False)
class OneCore:
    """The answer.

    Attributes:
        family: Core, adapters, brackets, and what differs between the cores where it is not one.
        core_sections: Sections of the core's cradle and bars.
        designs: Vehicle -> its frame with that core.
        alone_kg: Vehicle -> mass of core and adapter if it had a core of its own.
        checks: Whether the core is one, and how many vehicles it holds in; those of each frame are in `designs`.
    """

    family: Family
    core_sections: tuple[str, str]
    designs: dict[str, Designed]
    alone_kg: dict[str, float]
    checks: tuple[Check, ...]

    @property
    def core(self) -> Parts:
        """Build it once."""
        return self.family.core


def one_core(jobs: Mapping[str, Job], say: Callable[[str], None] | None = None) -> OneCore:
    """One core frame for several vehicles.

    Args:
        jobs: Name of the vehicle -> its job; one or more, each with modules placed.
        say: Told what is being tried.

    Returns:
        The core, an adapter and a design for each vehicle. Where the arrangements of modules differ, or no core holds
        in all of them, the checks say so.

    Raises:
        ValueError: for no jobs, or one without a module.
    """
    tell = say or (lambda _: None)
    if not jobs or any(not job.layout.blocks for job in jobs.values()):
        raise ValueError("no vehicles, or one without a module placed; allowed: one or more with modules")
    alone: dict[str, Designed] = {}
    for name, job in jobs.items():
        tell(f"{name}: a frame of its own")
        alone[name] = design(job.case, job.layout, job.rooms)
    sets = {_core_of(d): None for d in alone.values()}
    best: dict[str, Designed] = alone
    taken = next(iter(sets))
    failed = len(jobs) + 1
    for core in sorted(sets, key=lambda c: _metal(alone, c)):
        tell(f"a core of {', '.join(dict.fromkeys(core))} in every vehicle")
        tried = {
            name: alone[name] if _core_of(alone[name]) == core else _with_core(job, core)
            for name, job in jobs.items()
        }
        count = sum(not _holds(d) for d in tried.values())
        if count < failed:
            best, taken, failed = tried, core, count
        if not count:
            break
    found = family({name: d.made for name, d in best.items()})
    return OneCore(
        found,
        taken,
        best,
        {name: sum(i.mass.value for i in d.made.core.mass_items) for name, d in alone.items()},
        (*_same(found, len(jobs)), _everywhere(best)),
    )


def _core_of(designed: Designed) -> tuple[str, str]:
    frame = designed.case.brief.frame
    return frame.cradle_tube, frame.bar_tube or frame.cradle_tube


def _metal(alone: Mapping[str, Designed], core: tuple[str, str]) -> float:
    """Section area of a core, by which one is heavier than another."""
    sections = next(iter(alone.values())).case.sections
    return sections[core[0]].area_mm2 + sections[core[1]].area_mm2


def _with_core(job: Job, core: tuple[str, str]) -> Designed:
    frame = job.case.brief.frame
    case = with_choice(job.case, Choice(core[0], core[1], frame.leg_tube, frame.plate_mm))
    return design(case, job.layout, job.rooms, core=core)


def _holds(designed: Designed) -> bool:
    return not any(check.verdict == "fail" for check in designed.checks)


def _same(found: Family, count: int) -> list[Check]:
    note = "; ".join(f"{name}: {', '.join(pieces[:4])}" for name, pieces in found.differences.items())
    help_ = "give all briefs the same blocks of modules, turned the same way" if note else ""
    return [
        judge(
            "family.core", "Vehicles whose core is that of the first", Measured(count - len(found.differences)), count,
            "min", "vehicles", "one core, many vehicles", note=f"{note}; {help_}" if note else "",
        )
    ]  # fmt: skip


def _everywhere(designs: Mapping[str, Designed]) -> Check:
    bad = [name for name, d in designs.items() if not _holds(d)]
    return judge(
        "family.holds", "Vehicles in which the core and their adapter hold", Measured(len(designs) - len(bad)),
        len(designs), "min", "vehicles", "checks of each vehicle's frame", note=", ".join(bad),
    )  # fmt: skip

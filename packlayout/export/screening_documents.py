"""One kit against many vehicles, as JSON and as lines for the terminal."""

from packlayout import __version__
from packlayout.export.danger import danger
from packlayout.export.figures import together
from packlayout.export.plain import Json, axles_json, checks_json, plain, with_tolerance
from packlayout.export.summary import CAUTION, check_lines, said, table
from packlayout.frame.one_core import OneCore
from packlayout.screening import Screened, Screening
from packlayout.study import Study
from packlayout.units import Measured

MOST_REASONS = 4


def screen_json(kit: str, seed: int, found: Screening) -> Json:
    """What `screen` found, vehicle by vehicle in the order given."""
    return {
        "danger": list(dict.fromkeys(line for row in found.rows if row.study for line in danger(row.study))),
        "packlayout": __version__,
        "kit": kit,
        "seed": seed,
        "vehicles": [_vehicle(row) for row in found.rows],
        "core": _core(found.core) if found.core is not None else None,
    }


def _core(core: OneCore) -> Json:
    family = core.family
    return {
        "shared": family.shared,
        "mass_kg": plain(family.core.mass_kg),
        "sections": list(dict.fromkeys(core.core_sections)),
        "members": [member.name for member in family.core.members],
        "plates": [plate.name for plate in family.core.plates],
        "adapters": {
            name: {"mass_kg": plain(parts.mass_kg), "members": [m.name for m in parts.members],
                   "plates": [p.name for p in parts.plates], "mass_with_own_core_kg": plain(core.alone_kg[name]),
                   "differs": list(family.differences.get(name, ()))}
            for name, parts in family.adapters.items()
        },
        "checks": checks_json(core.checks),
    }  # fmt: skip


def _vehicle(row: Screened) -> Json:
    made: Json = {
        "vehicle": row.vehicle, "answer": row.answer, "reasons": list(row.reasons), "checks": checks_json(row.faults),
        "count": None, "energy_kwh": None, "axle_change_kg": None, "payload_kg": None, "range_km": None,
        "price": None, "frame_kg": None,
    }  # fmt: skip
    study = row.study
    if study is None:
        return made
    if study.placed is not None:
        count = study.placed.count
        made["count"] = {"wanted": count.wanted, "packed": count.packed, "upper_bound": count.upper_bound,
                         "proven": count.proven}  # fmt: skip
    if study.weighing is not None:
        made["axle_change_kg"] = axles_json(study.weighing.change.axle)
        made["payload_kg"] = _maybe(payload(study))
    if study.wiring is not None and study.wiring.pack is not None:
        made["energy_kwh"] = with_tolerance(study.wiring.pack.energy_kwh)
    if study.framed is not None and study.framed.frame is not None:
        made["frame_kg"] = plain(study.framed.frame.mass_kg)
    made["range_km"] = _maybe(shortest(study))
    if study.priced is not None:
        made["price"] = {"currency": study.priced.currency, "total": with_tolerance(study.priced.total)}
    return made


def _maybe(found: Measured | None) -> Json | None:
    return with_tolerance(found) if found is not None else None


def payload(study: Study) -> Measured | None:
    """The most that may be carried at the best place of the load floor, kg."""
    rows = study.weighing.payload if study.weighing is not None else ()
    return max((row.allowed_kg for row in rows), key=lambda m: m.value, default=None)


def shortest(study: Study) -> Measured | None:
    """The least range over the cycles and rounds, km."""
    ranges = study.driving.ranges if study.driving is not None else ()
    return min((r.range_km for r in ranges), key=lambda m: m.value, default=None)


def screen_lines(kit: str, found: Screening) -> list[list[str]]:
    """A table of all vehicles, then for each what stands against it, then the core frame they share."""
    head = (
        "vehicle",
        "answer",
        "modules",
        "front kg",
        "rear kg",
        "payload kg",
        "frame kg",
        "range km",
        "price",
    )
    fits = sum(row.answer == "fits" for row in found.rows)
    groups = [
        [
            f"{kit}: fits {fits} of {len(found.rows)} vehicles outright.",
            "",
            *table(head, [_cells(row) for row in found.rows]),
        ]
    ]
    for row in found.rows:
        if row.answer == "fits":
            continue
        lines = [f"{row.vehicle}: {row.answer}.", *(danger(row.study) if row.study is not None else ())]
        lines += [f"  {reason}" for reason in row.reasons[:MOST_REASONS]]
        if row.study is not None and row.study.layout is not None:
            lines += [f"  {line}" for line in check_lines(row.faults)[:-1]]
        groups.append(lines)
    if found.core is not None:
        groups.append(_core_lines(found.core))
    return [*groups, [CAUTION]]


def _core_lines(core: OneCore) -> list[str]:
    family, sections = core.family, ", ".join(dict.fromkeys(core.core_sections))
    shared = "one core frame serves all" if family.shared else "the core frames differ"
    rows = [
        (
            name,
            f"{parts.mass_kg:.1f}",
            f"{core.alone_kg[name]:.1f}",
            together(family.differences.get(name, ())) or "-",
        )
        for name, parts in family.adapters.items()
    ]
    return [
        f"Core frame of {sections}, {family.core.mass_kg:.1f} kg: {shared}.",
        *table(("vehicle", "adapter kg", "core and adapter alone kg", "differs"), rows),
        *check_lines(core.checks, every=True)[:-1],
    ]


def _cells(row: Screened) -> tuple[str, ...]:
    study = row.study
    if study is None or study.placed is None or study.layout is None:
        return row.vehicle, row.answer, *("-",) * 7
    count, frame = study.placed.count, study.framed.frame if study.framed is not None else None
    change = study.weighing.change.axle if study.weighing is not None else None
    spare, far = payload(study), shortest(study)
    return (
        row.vehicle,
        row.answer,
        f"{count.packed} of {count.wanted}",
        *((said(m, 0, signed=True) for m in change) if change is not None else ("-", "-")),
        said(spare) if spare is not None else "-",
        f"{frame.mass_kg:.1f}" if frame is not None else "-",
        said(far) if far is not None else "-",
        f"{said(study.priced.total)} {study.priced.currency}" if study.priced is not None else "-",
    )

"""Results as plain JSON: what `--json` prints for each stage, and `checks.json`.

Every figure that has a tolerance is `{"value": ..., "tolerance": ...}`, both lists for a position. What was not
computed is null, and named in `not_done`.
"""

import json
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path

from packlayout import __version__
from packlayout.export.danger import danger
from packlayout.export.document_weighing import comparison_json, weighing_json
from packlayout.export.electric_documents import drive_json, wire_json
from packlayout.export.layout_file import file_of, layouts
from packlayout.export.pack import Made, Written
from packlayout.export.plain import Json, checks_json, plain, with_tolerance
from packlayout.export.structure_documents import (
    member_use_json,
    mount_loads_json,
    structure_json,
    uses_of,
)  # fmt: skip
from packlayout.frame.design import Designed
from packlayout.frame.legs import Leg
from packlayout.frame.tubes import Member, Plate
from packlayout.mass.weighing import Comparison
from packlayout.model.check import Check
from packlayout.model.geometry import MassItem
from packlayout.model.layout import Layout, Placement
from packlayout.model.vehicle import MountPoint
from packlayout.placement.paths import service_of
from packlayout.study import Study
from packlayout.units import Measured

CHECKS = "checks.json"


def write_checks(study: Study, folder: Path, notes: tuple[str, ...]) -> Made:
    """Write every check of the study, with what it was computed from and what was left out.

    Args:
        study: What was computed.
        folder: Where to.
        notes: What the exporters before left out; written down.

    Returns:
        The file.
    """
    document = _about(study) | {
        "checks": checks_json(study.checks),
        "not_done": list(study.not_done),
        "left_out": list(notes),
        "notes": list(study.case.notes),
        "inputs": [{"path": path, "sha256": digest} for path, digest in study.case.inputs],
    }
    (folder / CHECKS).write_text(text_of(document), encoding="utf-8")
    return Made((folder / CHECKS,))


def text_of(document: Json) -> str:
    """A document as JSON text; `ValueError` for a figure that is not a number, which JSON cannot say."""
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _about(study: Study) -> Json:
    case = study.case
    return {
        "danger": list(danger(study)),
        "packlayout": __version__,
        "key": case.key,
        "vehicle": case.vehicle.name,
        "brief": case.brief.name,
        "seed": study.seed,
    }


def place_json(study: Study, elapsed_s: float | None = None) -> Json:
    """What `place` found: layouts best first, how many modules, why not more.

    Args:
        study: What was computed; a layout that the user gave counts as the only one.
        elapsed_s: How long it took, if the caller measured it.

    Returns:
        Plain values only.
    """
    placed = study.placed
    scored = placed.layouts if placed is not None else ()
    rows = [
        _layout(study, layout, number) | {
            "objectives": {k: float(v) for k, v in scored[number - 1].objectives.items()} if scored else None,
            "score": float(scored[number - 1].score) if scored else None,
            "structure": scored[number - 1].structure if scored else None,
        }
        for number, layout in enumerate(layouts(study), start=1)
    ]  # fmt: skip
    packed = len(study.layout.modules) if study.layout is not None else 0
    count: Json = {"wanted": study.case.modules_wanted, "packed": packed, "upper_bound": None, "proven": None,
                   "bound_basis": None}  # fmt: skip
    return _about(study) | {
        "layouts": rows,
        "count": plain(asdict(placed.count)) if placed is not None else count,
        "why_not_more": list(placed.why_not_more) if placed is not None else [],
        "dropped": list(placed.dropped) if placed is not None else [],
        "changes": [plain(asdict(change)) for change in placed.changes] if placed is not None else [],
        "stopped": placed.stopped if placed is not None else "",
        "checks": checks_json(placed.checks if placed is not None else _checks_of_layout(study)),
        "elapsed_s": elapsed_s,
        "not_done": list(study.not_done),
    }


def _checks_of_layout(study: Study) -> list[Check]:
    others = {
        check.id
        for stage in (study.framed, study.weighing) if stage is not None
        for check in stage.checks
    }  # fmt: skip
    return [check for check in study.checks if check.id not in others]


def _layout(study: Study, layout: Layout, number: int) -> Json:
    modules = [study.case.parts[p.part] for p in layout.modules]
    energy = sum(part.electrical.energy_kwh for part in modules if part.kind == "battery module")
    return {
        "file": file_of(number),
        "title": layout.title,
        "count": len(modules),
        "energy_kwh": round(energy, 6),
        "placements": [placement_json(placement) for placement in layout.placements],
        "service": plain(asdict(service_of(study.case, layout))),
    }


def placement_json(placement: Placement) -> Json:
    """One part in its place: its own origin and axes, its box in vehicle axes, and the words of the layout file."""
    pose, box = placement.pose, placement.box
    return {
        "name": placement.name,
        "part": placement.part,
        "zone": placement.zone,
        "origin_mm": plain(pose.origin),
        "rotation": plain(pose.rotation),
        "size_mm": plain(placement.size),
        "box_mm": {"min": plain(box.lo), "max": plain(box.hi)},
        "up": placement.up,
        "turn": placement.turn_deg,
        "block": placement.block,
        "locked": placement.locked,
    }


def weigh_json(study: Study, as_built: Comparison | None = None) -> Json:
    """What `weigh` found; every key is there, null when the vehicle could not be weighed.

    Args:
        study: What was computed.
        as_built: The finished vehicle's readings against the prediction, where there are any.
    """
    compared = None if as_built is None else comparison_json(as_built)
    return (
        _about(study)
        | weighing_json(study.weighing)
        | {"as_built": compared, "not_done": list(study.not_done)}
    )


def frame_json(study: Study) -> Json:
    """What `frame` made: members and plates with length and mass, and its statics, null where it was not solved."""
    frame = study.framed.frame if study.framed is not None else None
    legs = study.framed.legs if study.framed is not None else ()
    designed = study.framed.designed if study.framed is not None else None
    mounts = [_mount(mount, legs, designed) for mount in study.case.vehicle.mounts]
    made: Json = {"members": None, "plates": None, "material": None, "mass_kg": None}
    if frame is not None:
        items = {item.name: item for item in frame.mass_items}
        uses, cases = uses_of(designed), designed.cases if designed is not None else ()
        total = Measured(frame.mass_kg, sum(item.mass.tolerance for item in items.values()))
        made = {
            "members": [
                _member(member, items[member.name]) | member_use_json(uses.get(member.name), cases)
                for member in frame.members
            ],
            "plates": [_plate(plate, items[plate.name]) for plate in frame.plates],
            "material": frame.material.name,
            "mass_kg": with_tolerance(total),  # one delivery is thick or thin as a whole: tolerances add up
        }
    return _about(study) | made | structure_json(designed) | {
        "mounts": mounts,
        "checks": checks_json(study.framed.checks if study.framed is not None else ()),
        "not_done": list(study.not_done),
    }  # fmt: skip


def _member(member: Member, item: MassItem) -> Json:
    return {
        "name": member.name,
        "group": member.group,
        "section": member.section.name,
        "ends_mm": [plain(member.start), plain(member.end)],
        "cut_normals": [plain(member.start_cut), plain(member.end_cut)],
        "length_mm": float(member.length_mm),
        "longest_mm": float(member.longest_mm),
        "mass_kg": with_tolerance(item.mass),
    }


def _plate(plate: Plate, item: MassItem) -> Json:
    return {
        "name": plate.name,
        "group": plate.group,
        "origin_mm": plain(plate.pose.origin),
        "rotation": plain(plate.pose.rotation),
        "size_mm": plain(plate.size),
        "holes_mm": [{"x": x, "y": y, "diameter": d} for x, y, d in plain(plate.holes)],
        "mass_kg": with_tolerance(item.mass),
    }


def _mount(mount: MountPoint, legs: Iterable[Leg], designed: Designed | None) -> Json:
    return {
        "name": mount.name,
        "legs": [member.name for leg in legs if leg.mount == mount.name for member in leg.members],
        "thread": mount.thread,
        "holes_mm": plain(mount.holes),
        "face": plain(mount.face),
        "rated_n": mount.rated_n,
    } | mount_loads_json(mount.name, designed)


def export_json(written: Iterable[Written]) -> Json:
    """What was written."""
    return {"files": [{"path": w.path.as_posix(), "kind": w.kind, "sha256": w.sha256} for w in written]}


def fit_json(study: Study, written: Iterable[Written], elapsed_s: float | None = None) -> Json:
    """The whole job: what each stage found under its own name, all checks, the files."""
    return _about(study) | {
        "place": place_json(study, elapsed_s),
        "weigh": weigh_json(study, study.comparison),
        "frame": frame_json(study),
        "wire": wire_json(study.wiring),
        "drive": drive_json(study.driving, study.priced),
        "checks": checks_json(study.checks),
        "not_done": list(study.not_done),
    } | export_json(written)  # fmt: skip

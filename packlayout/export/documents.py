"""Results as plain JSON: what `--json` prints for each stage, and `checks.json`.

Every figure that has a tolerance is `{"value": ..., "tolerance": ...}`, both lists for a position. What was not
computed is null, and named in `not_done`.
"""

import json
import math
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path
from typing import Any

from packlayout import __version__
from packlayout.export.layout_file import file_of, layouts
from packlayout.export.pack import Made, Written
from packlayout.frame.legs import Leg
from packlayout.frame.tubes import Member, Plate
from packlayout.mass.weighing import State
from packlayout.model.check import Check
from packlayout.model.geometry import MassItem, MeasuredPoint
from packlayout.model.layout import Layout, Placement
from packlayout.model.vehicle import MountPoint
from packlayout.study import Study
from packlayout.units import Measured

Json = dict[str, Any]
CHECKS = "checks.json"
_LEDGER = {"removed": "removed", "added": "added", "part": "added", "frame": "added"}
_CORNERS = ("front_left", "front_right", "rear_left", "rear_right")


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
        "packlayout": __version__,
        "key": case.key,
        "vehicle": case.vehicle.name,
        "brief": case.brief.name,
        "seed": study.seed,
    }


def check_json(check: Check) -> Json:
    """One check, in the shape that all stages share."""
    made: Json = {key: _plain(value) for key, value in asdict(check).items() if key != "where"}
    return made | {"where_mm": None if check.where is None else [float(x) for x in check.where]}


def checks_json(checks: Iterable[Check]) -> list[Json]:
    """Checks in their order."""
    return [check_json(check) for check in checks]


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
        }
        for number, layout in enumerate(layouts(study), start=1)
    ]  # fmt: skip
    packed = len(study.layout.modules) if study.layout is not None else 0
    count: Json = {"wanted": study.case.modules_wanted, "packed": packed, "upper_bound": None, "proven": None,
                   "bound_basis": None}  # fmt: skip
    return _about(study) | {
        "layouts": rows,
        "count": _plain(asdict(placed.count)) if placed is not None else count,
        "why_not_more": list(placed.why_not_more) if placed is not None else [],
        "dropped": list(placed.dropped) if placed is not None else [],
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
    }


def placement_json(placement: Placement) -> Json:
    """One part in its place: its own origin and axes, its box in vehicle axes, and the words of the layout file."""
    pose, box = placement.pose, placement.box
    return {
        "name": placement.name,
        "part": placement.part,
        "zone": placement.zone,
        "origin_mm": _plain(pose.origin),
        "rotation": _plain(pose.rotation),
        "size_mm": _plain(placement.size),
        "box_mm": {"min": _plain(box.lo), "max": _plain(box.hi)},
        "up": placement.up,
        "turn": placement.turn_deg,
        "block": placement.block,
        "locked": placement.locked,
    }


def weigh_json(study: Study) -> Json:
    """What `weigh` found; every key is there, null when the vehicle could not be weighed."""
    weighing = study.weighing
    made: Json = dict.fromkeys(("states", "change", "payload", "ledger", "checks"))
    if weighing is not None:
        change = weighing.change
        made = {
            "states": [_state(state) for state in weighing.states],
            "change": {"mass_kg": _with_tolerance(change.mass), "cg_mm": _with_tolerance(change.cg),
                       "axle_kg": _axles(change.axle), "corner_kg": _corners(change.corner)},
            "payload": [
                {"x_mm": float(row.x_mm), "allowed_kg": _with_tolerance(row.allowed_kg), "bound_by": row.bound_by}
                for row in weighing.payload
            ],
            "ledger": _ledger(weighing.ledger),
            "checks": checks_json(weighing.checks),
        }  # fmt: skip
    return _about(study) | made | {"not_done": list(study.not_done)}


def _state(state: State) -> Json:
    return {
        "name": state.name,
        "mass_kg": _with_tolerance(state.mass),
        "cg_mm": _with_tolerance(state.cg),
        "inertia_kg_m2": _with_tolerance(state.inertia),
        "axle_kg": _axles(state.axle),
        "corner_kg": _corners(state.corner),
        "note": state.note,
    }


def _axles(axles: tuple[Measured, Measured]) -> Json:
    return {"front": _with_tolerance(axles[0]), "rear": _with_tolerance(axles[1])}


def _corners(corners: tuple[Measured, Measured, Measured, Measured]) -> Json:
    return {name: _with_tolerance(load) for name, load in zip(_CORNERS, corners, strict=True)}


def _ledger(items: Iterable[MassItem]) -> Json:
    rows: dict[str, list[Json]] = {"removed": [], "added": [], "other": []}
    for item in items:
        sort = _LEDGER.get(item.kind, "other")
        if item.kind == "fluid" and item.mass.value < 0:
            sort = "removed"  # the fuel that goes out with its tank
        rows[sort].append({
            "name": item.name, "kind": item.kind, "mass_kg": _with_tolerance(item.mass),
            "position_mm": _with_tolerance(item.position), "size_mm": _plain(item.size), "source": item.source,
        })  # fmt: skip
    return dict(rows)


def frame_json(study: Study) -> Json:
    """What `frame` made: members and plates with length and mass; what needs statics is null."""
    frame = study.framed.frame if study.framed is not None else None
    legs = study.framed.legs if study.framed is not None else ()
    mounts = [_mount(mount, legs) for mount in study.case.vehicle.mounts]
    made: Json = {"members": None, "plates": None, "material": None, "mass_kg": None}
    if frame is not None:
        items = {item.name: item for item in frame.mass_items}
        total = Measured(frame.mass_kg, sum(item.mass.tolerance for item in items.values()))
        made = {
            "members": [_member(member, items[member.name]) for member in frame.members],
            "plates": [_plate(plate, items[plate.name]) for plate in frame.plates],
            "material": frame.material.name,
            "mass_kg": _with_tolerance(total),  # one delivery is thick or thin as a whole: tolerances add up
        }
    return _about(study) | made | {
        "joints": None, "mounts": mounts, "model": None, "first_frequency_hz": None,
        "checks": checks_json(study.framed.checks if study.framed is not None else ()),
        "not_done": list(study.not_done),
    }  # fmt: skip


def _member(member: Member, item: MassItem) -> Json:
    return {
        "name": member.name,
        "group": member.group,
        "section": member.section.name,
        "ends_mm": [_plain(member.start), _plain(member.end)],
        "cut_normals": [_plain(member.start_cut), _plain(member.end_cut)],
        "length_mm": float(member.length_mm),
        "longest_mm": float(member.longest_mm),
        "mass_kg": _with_tolerance(item.mass),
        "utilisation": None,
        "load_case": None,
    }


def _plate(plate: Plate, item: MassItem) -> Json:
    return {
        "name": plate.name,
        "group": plate.group,
        "origin_mm": _plain(plate.pose.origin),
        "rotation": _plain(plate.pose.rotation),
        "size_mm": _plain(plate.size),
        "holes_mm": [{"x": x, "y": y, "diameter": d} for x, y, d in _plain(plate.holes)],
        "mass_kg": _with_tolerance(item.mass),
    }


def _mount(mount: MountPoint, legs: Iterable[Leg]) -> Json:
    return {
        "name": mount.name,
        "legs": [member.name for leg in legs if leg.mount == mount.name for member in leg.members],
        "thread": mount.thread,
        "holes_mm": _plain(mount.holes),
        "face": _plain(mount.face),
        "rated_n": mount.rated_n,
        "reaction_n": None,
    }


def export_json(written: Iterable[Written]) -> Json:
    """What was written."""
    return {"files": [{"path": w.path.as_posix(), "kind": w.kind, "sha256": w.sha256} for w in written]}


def fit_json(study: Study, written: Iterable[Written], elapsed_s: float | None = None) -> Json:
    """The whole job: what each stage found under its own name, all checks, the files."""
    return _about(study) | {
        "place": place_json(study, elapsed_s),
        "weigh": weigh_json(study),
        "frame": frame_json(study),
        "checks": checks_json(study.checks),
        "not_done": list(study.not_done),
    } | export_json(written)  # fmt: skip


def _with_tolerance(found: Measured | MeasuredPoint) -> Json:
    if isinstance(found, Measured):
        return {"value": _plain(found.value), "tolerance": _plain(found.tolerance)}
    return {"value": [_plain(m.value) for m in found], "tolerance": [_plain(m.tolerance) for m in found]}


def _plain(value: Any) -> Any:
    """Numbers of any library as Python's own, tuples as lists; what is not finite as null."""
    if isinstance(value, dict):
        return {str(key): _plain(member) for key, member in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(member) for member in value]
    if value is None or isinstance(value, str | bool):
        return value
    if hasattr(value, "item"):
        return _plain(value.item())
    if isinstance(value, float):
        return value + 0.0 if math.isfinite(value) else None
    return value

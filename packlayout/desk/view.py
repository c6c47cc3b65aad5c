"""The desk as plain JSON for the page. No figure is made here."""

from typing import Any, Literal, get_args, get_origin

from packlayout.desk.numbers import AtRest, Load, Moving, Near, Payload
from packlayout.desk.operations import block_name
from packlayout.desk.session import Desk
from packlayout.desk.state import Json, RefusedError
from packlayout.desk.tray import Kept
from packlayout.mass.states import CONVERTED, ORIGINAL
from packlayout.mass.weighing import State as Weighed
from packlayout.model.brief import Case
from packlayout.model.check import Check
from packlayout.model.layout import Layout, Placement
from packlayout.model.record import Record
from packlayout.placement.forms import reserve
from packlayout.units import Measured

_RANK = {"fail": 0, "unknown": 1, "marginal": 2, "pass": 3}
_WORDS = {
    "body_mm": "to the body", "parts_mm": "between parts", "moving_mm": "to moving things", "hot_mm": "to hot things",
    "road_mm": "to the road at full load", "surface": "tolerance of the surfaces counted in",
    "front_axle": "front axle load as before", "rear_axle": "rear axle load as before",
    "side_balance": "left and right alike", "cg_height": "low centre of gravity", "compactness": "parts close together",
    "cable_length": "short cables", "splitting": "few blocks", "front_target_kg": "front axle load to aim at",
    "shaft_angle": "straight propeller shaft, between layouts", "price": "low price, between layouts",
    "rear_target_kg": "rear axle load to aim at", "axle_band_kg": "axle load that may differ at no cost",
}  # fmt: skip


def state_view(desk: Desk) -> Json:
    """All that changes when the layout does."""
    state, case, rest, study = desk.state, desk.judged_case, desk.rest, desk.study
    checks = study.checks if study is not None else rest.checks
    return {
        "t": "state",
        "revision": desk.revision,
        "done": desk.history.now.title,
        "undo": desk.history.undo_title,
        "redo": desk.history.redo_title,
        "title": state.layout.title,
        "things": things_view(case, state.layout),
        "out": [_thing(case, p) for p in state.out],
        "energy_kwh": energy_kwh(case, state.layout),
        "modules": len(state.layout.modules),
        "wanted": case.modules_wanted,
        "loads": weighing_view(rest),
        "original": weighed_view(rest.weighing.state(ORIGINAL)),
        "change": {
            "mass": measured(rest.weighing.change.mass),
            "axle": [measured(m) for m in rest.weighing.change.axle],
            "corner": [measured(m) for m in rest.weighing.change.corner],
        },
        "goods": None if state.goods is None else {"x_mm": state.goods.x_mm, "mass_kg": state.goods.mass_kg},
        "payload": payload_view(rest.payload),
        "payload_rows": [[row.x_mm, row.allowed_kg.value, row.bound_by] for row in rest.weighing.payload],
        "checks": [check_view(c) for c in sorted(checks, key=lambda c: _RANK[c.verdict])],
        "fails": sum(c.verdict == "fail" for c in rest.checks),
        "whole": study is not None,
        "drawn": desk.studies.drawn.number if desk.studies.drawn is not None else 0,
        "outdated": list(desk.studies.outdated(state)),
        "made_kg": round(sum(i.mass.value for i in rest.made), 3),
        "not_done": list(study.not_done) if study is not None else [],
        "clearances": fields_view(state.clearances),
        "aims": fields_view(state.aims),
        "brief_differs": (state.clearances, state.aims) != (desk.case.brief.clearances, desk.case.brief.aims),
        "exchanged": sorted({p.part for p in state.layout.placements} - _asked_for(desk.case)),
    }


def _asked_for(case: Case) -> set[str]:
    return {case.brief.modules.part, *(order.part for order in case.brief.parts)}


def weighing_view(rest: AtRest) -> list[Json]:
    """The converted vehicle in each state, the slider's last."""
    states = [weighed_view(s) for s in rest.weighing.states if s.name != ORIGINAL]
    return states + ([load_view(rest.goods)] if rest.goods is not None else [])


def weighed_view(state: Weighed) -> Json:
    """One state of a weighing."""
    return {
        "name": state.name,
        "mass": measured(state.mass),
        "cg": [measured(c) for c in state.cg],
        "axle": [measured(a) for a in state.axle],
        "corner": [measured(c) for c in state.corner],
    }


def load_view(load: Load) -> Json:
    """The same of the slider's state, or of one while something is dragged."""
    return {
        "name": load.name,
        "mass": measured(load.mass),
        "cg": [measured(c) for c in load.cg],
        "axle": [measured(a) for a in load.axle],
        "corner": [measured(c) for c in load.corner],
    }


def moving_view(target: str, case: Case, layout: Layout, found: Moving) -> Json:
    """What follows the hand."""
    every = things_view(case, layout)
    held = next((t for t in every if t["name"] == target), None)
    if held is None:  # a module by itself: its whole block is sent
        held = next(t for t in every if any(m["name"] == target for m in t["modules"]))
    return {
        "t": "moved",
        "thing": held,
        "loads": [load_view(load) for load in found.loads],
        "payload": payload_view(found.payload),
        "near": [near_view(row) for row in found.near[:6]],
    }


def near_view(row: Near) -> Json:
    """One clearance."""
    return {
        "title": row.title, "distance": row.distance_mm, "limit": row.limit_mm, "verdict": row.verdict, "at": row.where
    }  # fmt: skip


def payload_view(payload: Payload | None) -> Json | None:
    """Payload at the slider's place."""
    if payload is None:
        return None
    return {"x_mm": payload.x_mm, "allowed": measured(payload.allowed), "bound_by": payload.bound_by}


def measured(value: Measured) -> list[float]:
    """Value and tolerance."""
    return [float(value.value), float(value.tolerance)]


def things_view(case: Case, layout: Layout) -> list[Json]:
    """What can be taken hold of: blocks with their modules, then the other parts."""
    made: list[Json] = []
    for block in layout.blocks:
        cradle = reserve(case, block)
        part = case.parts[block.modules[0].part]
        made.append(
            {
                "name": block_name(block.number),
                "kind": part.kind,
                "title": f"{len(block.modules)} of {part.name}",
                "zone": block.zone,
                "lo": block.box.lo,
                "hi": block.box.hi,
                "cradle": [cradle.lo, cradle.hi],
                "locked": any(p.locked for p in block.modules),
                "mass_kg": sum(case.parts[p.part].mass_kg.value for p in block.modules),
                "up": "",
                "ups": [],
                "turn": 0,
                "modules": [_thing(case, p) for p in block.modules],
            }
        )
    return made + [_thing(case, p) for p in layout.placements if p.block is None]


def _thing(case: Case, p: Placement) -> Json:
    part, box = case.parts[p.part], p.box
    return {
        "name": p.name,
        "part": p.part,
        "title": part.name,
        "maker": part.maker,
        "kind": part.kind,
        "zone": p.zone,
        "lo": box.lo,
        "hi": box.hi,
        "origin": p.pose.origin,
        "rotation": p.pose.rotation,
        "locked": p.locked,
        "mass_kg": part.mass_kg.value,
        "up": p.up,
        "ups": list(part.up),
        "turn": p.turn_deg,
        "block": p.block,
        "figures": _figures(part),
        "modules": [],
    }


def _figures(part: Any) -> list[list[str]]:
    """What the catalogue says of a part, for people."""
    x, y, z = part.box_size
    rows = [["size", f"{x:g} x {y:g} x {z:g} mm"], ["mass", f"{part.mass_kg} kg"]]
    for record in (getattr(part, "electrical", None), getattr(part, "gear", None)):
        if isinstance(record, Record):
            for name in type(record).model_fields:
                value = getattr(record, name)
                if isinstance(value, int | float | str):
                    stem, _, unit = name.rpartition("_")
                    rows.append(
                        [stem.replace("_", " "), f"{value:g} {unit}" if not isinstance(value, str) else value]
                    )
    return [*rows, ["source", part.source]]


def check_view(check: Check) -> Json:
    """One check; the words, the figure and where to look."""
    return {
        "id": check.id, "title": check.title, "verdict": check.verdict, "value": check.value, "limit": check.limit,
        "tolerance": check.tolerance, "sense": check.sense, "unit": check.unit, "margin": check.margin,
        "note": check.note, "basis": check.basis, "where": check.where,
    }  # fmt: skip


def energy_kwh(case: Case, layout: Layout) -> float:
    """Energy of the modules that are placed."""
    parts = (case.parts[p.part] for p in layout.modules)
    return round(sum(part.electrical.energy_kwh for part in parts if part.kind == "battery module"), 3)


def fields_view(record: Record) -> list[Json]:
    """The fields of a record that the page can offer: figures and choices."""
    made: list[Json] = []
    for name, field in type(record).model_fields.items():
        value = getattr(record, name)
        unit = "mm" if name.endswith("_mm") else "kg" if name.endswith("_kg") else ""
        label = _WORDS.get(name, name.rsplit("_", 1)[0].replace("_", " ") if unit else name.replace("_", " "))
        row: Json = {
            "name": name,
            "label": label,
            "unit": unit,
            "required": field.is_required() or value is not None,
        }
        if get_origin(field.annotation) is Literal:
            made.append({**row, "value": value, "choices": list(get_args(field.annotation))})
        elif isinstance(value, int | float) and not isinstance(value, bool):
            made.append({**row, "value": float(value)})
    return made


def kept_view(desk: Desk, kept: Kept) -> Json:
    """A layout of the tray with its figures; those of one with a part that is no longer there cannot be told."""
    head: Json = {"number": kept.number, "title": kept.title, "source": kept.source, "score": kept.score}
    try:
        rest = desk.kept_rest(kept)
    except RefusedError as error:
        return {**head, "fault": str(error)}
    case, layout = desk.judged_case, kept.state.layout
    fails = [c for c in rest.checks if c.verdict == "fail"]
    return {
        **head,
        "fault": "",
        "best": kept.number == desk.tray.best(),
        "things": things_view(case, layout),
        "out": [p.name for p in kept.state.out],
        "modules": len(layout.modules),
        "energy_kwh": energy_kwh(case, layout),
        "loads": [weighed_view(s) for s in rest.weighing.states if s.name == CONVERTED],
        "change": [measured(m) for m in rest.weighing.change.axle],
        "payload": payload_view(rest.payload),
        "fails": len(fails),
        "worst": fails[0].title if fails else "",
    }


def tray_view(desk: Desk) -> Json:
    """The tray."""
    return {"t": "tray", "layouts": [kept_view(desk, kept) for kept in desk.tray.layouts.values()]}

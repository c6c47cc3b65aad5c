"""The statics of the frame as plain JSON: how far things are used, what the mounts take, the model as it was solved.

The model is complete: another program can be fed with it and must come to the same reactions.
"""

from collections.abc import Mapping
from dataclasses import asdict

import numpy as np

from packlayout.export.plain import Json, plain
from packlayout.frame.bearing import BracketReport
from packlayout.frame.choose import TradeRow
from packlayout.frame.design import AID, Designed, JointUse, MemberUse
from packlayout.frame.model import FrameModel
from packlayout.frame.mounting import MountUse
from packlayout.frame.sheet import Sheet

KEYS = ("joints", "model", "first_frequency_hz", "trade", "sheets", "carried", "elsewhere", "brackets")
"""What statics answer beyond members and mounts; all null when the frame was not solved."""


def structure_json(designed: Designed | None) -> Json:
    """Joints, model, frequency, trade and calculation sheets.

    Args:
        designed: The frame as designed; None when nothing was.

    Returns:
        Every key of `KEYS`, and who decides. What needs a solved frame is null without one.
    """
    if designed is None:
        return dict.fromkeys(KEYS) | {"caution": AID}
    return {
        "joints": None if designed.model is None else [_joint(joint) for joint in designed.joints],
        "model": None if designed.model is None else model_json(designed.model),
        "first_frequency_hz": plain(designed.first_frequency_hz),
        "trade": {"tried": designed.trials, "rows": [_trade(row) for row in designed.trade]},
        "sheets": None if designed.model is None else [_sheet(sheet) for sheet in designed.sheets],
        "carried": list(designed.carried),
        "elsewhere": list(designed.elsewhere),
        "brackets": [_bracket(bracket, designed.cases) for bracket in designed.brackets],
        "caution": AID,
    }


def uses_of(designed: Designed | None) -> dict[str, MemberUse]:
    """Name of a member -> how far it is used; empty when that is not known."""
    return {use.name: use for use in designed.members} if designed is not None else {}


def member_use_json(use: MemberUse | None, cases: tuple[str, ...]) -> Json:
    """How far a tube is used, every key there; null when it was not solved."""
    keys = ("utilisation", "load_case", "by", "utilisation_by_case", "shift_mm")
    if use is None:
        return dict.fromkeys(keys)
    by_case = dict(zip(cases, plain(use.by_case), strict=True))
    values = (plain(use.utilisation), use.load_case, use.by, by_case, plain(use.shift_mm))
    return dict(zip(keys, values, strict=True))


def mount_loads_json(mount: str, designed: Designed | None) -> Json:
    """What a mounting point has to take in every load case: forces of the frame on the vehicle.

    Args:
        mount: Its name.
        designed: The frame as designed.

    Returns:
        `reactions` is null when nothing was solved and empty when the frame does not stand on this point.
    """
    found: Mapping[str, MountUse] = {m.mount: m for m in designed.mounts} if designed is not None else {}
    use = found.get(mount)
    if use is None:
        solved = designed is not None and designed.model is not None
        return {"reactions": [] if solved else None, "bolts": None, "foot_plate": None}
    return {
        "reactions": [plain(asdict(load)) for load in use.loads],
        "bolts": {"utilisation": plain(use.bolt_utilisation), "by": use.bolt_by or None,
                  "load_case": use.bolt_case or None},
        "foot_plate": {"thickness_mm": plain(use.plate_mm), "utilisation": plain(use.plate_utilisation),
                       "load_case": use.plate_case},
    }  # fmt: skip


def _joint(joint: JointUse) -> Json:
    return {
        "member": joint.member,
        "end": joint.end,
        "onto": joint.onto,
        "at_mm": plain(joint.at),
        "throat_mm": plain(joint.throat_mm),
        "line_force_n_per_mm": plain(joint.line_force_n_per_mm),
        "utilisation": plain(joint.utilisation),
        "wall_utilisation": plain(joint.wall_utilisation),
        "load_case": joint.load_case or None,
    }


def _bracket(bracket: BracketReport, cases: tuple[str, ...]) -> Json:
    return {
        "parts": list(bracket.parts),
        "onto": bracket.onto,
        "cradle": bracket.cradle,
        "strips": list(bracket.flats),
        "mass_kg": plain(bracket.mass_kg),
        "utilisation": plain(bracket.utilisation),
        "by": bracket.by,
        "load_case": bracket.load_case,
        "utilisation_by_case": dict(zip(cases, plain(bracket.by_case), strict=False)),
        "holds": [
            {"onto": hold.onto, "at_mm": plain(hold.at), "bolts": hold.bolts, "from_behind": hold.from_behind,
             "reactions": [plain(asdict(load)) for load in hold.loads]}
            for hold in bracket.holds
        ],
    }  # fmt: skip


def _trade(row: TradeRow) -> Json:
    choice = row.choice
    return {
        "sections_at_most": row.sections,
        "cradle": choice.cradle,
        "bars": choice.bars,
        "legs": choice.legs,
        "plate_mm": plain(choice.plate_mm),
        "mass_kg": plain(row.mass_kg),
        "utilisation": plain(row.worst),
        "first_frequency_hz": plain(row.first_frequency_hz),
        "holds": bool(row.holds),
        "chosen": bool(row.chosen),
    }


def _sheet(sheet: Sheet) -> Json:
    made: Json = plain(asdict(sheet))
    return {key: value for key, value in made.items() if key != "caution"}


def model_json(model: FrameModel) -> Json:
    """The analysis as it was solved: everything a second solver needs, in plain lists.

    Members are pieces of tubes between two nodes; `tube` names the tube. Local x runs from the first node to the
    second, `up` lies in the local x-z plane. A link makes its second node follow its first as one rigid body. Loads
    are in vehicle axes, moments after the right-hand rule; only what is loaded is listed.
    """
    s = model.structure
    lines = model.skeleton.lines
    members = [
        {
            "tube": lines[int(tube)].member.name,
            "nodes": plain(s.bars[n].tolist()),
            "up": plain(s.up[n].tolist()),
            "area_mm2": plain(s.area[n]),
            "inertia_y_mm4": plain(s.inertia_y[n]),
            "inertia_z_mm4": plain(s.inertia_z[n]),
            "torsion_mm4": plain(s.torsion[n]),
            "shear_area_mm2": plain(s.shear_area[n].tolist()),
            "modulus_mpa": plain(s.modulus[n]),
            "shear_modulus_mpa": plain(s.shear_modulus[n]),
        }
        for n, tube in enumerate(model.tube)
    ]
    supports = [
        {
            "mount": support.mount,
            "node": int(support.node),
            "held": s.fixed[support.node].tolist(),
            "spring_n_per_mm": plain(s.springs[support.node, :3].tolist()),
            "spring_n_mm_per_rad": plain(s.springs[support.node, 3:].tolist()),
        }
        for support in model.supports
    ]
    return {
        "nodes_mm": plain(s.nodes.tolist()),
        "members": members,
        "links": s.links.tolist(),
        "supports": supports,
        "loads": [_loads(model, n) for n in range(len(model.cases))],
        "vibrating_mass_kg": plain(model.masses.tolist()),
        "mass_kg": plain(model.mass_kg),
        "cg_mm": plain(model.pushed.tolist()),
    }


def _loads(model: FrameModel, n: int) -> Json:
    case, nodes, lines = model.cases[n], model.loads[n], model.line_loads[n]
    return {
        "load_case": case.name,
        "kind": case.kind,
        "push_g": plain(case.push_g),
        "own_weight": case.own_weight,
        "factor": plain(case.factor),
        "source": case.source,
        "clause": case.clause,
        "nodes": [
            {"node": int(k), "force_n": plain(nodes[k, :3].tolist()), "moment_n_mm": plain(nodes[k, 3:].tolist())}
            for k in np.flatnonzero(nodes.any(axis=1))
        ],
        "members": [
            {"member": int(k), "line_load_n_per_mm": plain(lines[k].tolist())}
            for k in np.flatnonzero(lines.any(axis=1))
        ],
    }  # fmt: skip

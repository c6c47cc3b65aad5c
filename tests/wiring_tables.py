"""The repository's own tables, and small packs made by hand, for the tests of electrics, driving and price."""

from functools import cache
from typing import Any

from packlayout.inputs.case import read_case
from packlayout.inputs.reader import CABLES, CYCLES, ELECTRICAL, FUSES, PRICES, SHAFTS
from packlayout.model.brief import Case, Tables
from packlayout.model.catalogue import Part
from packlayout.model.electrics import WiringOrder
from packlayout.model.geometry import Vec
from packlayout.model.layout import Layout, Placement
from tests.bays import job, part
from tests.demo import ROOT, held


@cache
def tables() -> Tables:
    """As they stand in shared/."""
    names = {"cables": CABLES, "fuses": FUSES, "electrical": ELECTRICAL, "cycles": CYCLES, "shafts": SHAFTS,
             "prices": PRICES}  # fmt: skip
    return Tables(
        **{name: held(adapter, ROOT / "shared" / f"{name}.yaml") for name, adapter in names.items()}
    )


@cache
def demo(brief: str) -> Case:
    """One of the demo briefs, such as `quillon-estate/piano-tuner`."""
    return read_case(ROOT / "bays" / f"{brief}.yaml")


SIZE = (340.0, 175.0, 118.0)
TERMINALS = [
    {"name": "positive", "kind": "HV", "at": [340, 40, 60], "direction": "+x"},
    {"name": "negative", "kind": "HV", "at": [340, 135, 60], "direction": "+x"},
]
MODULE = part("battery module", SIZE, 14, ports=TERMINALS)
"""33, 44, 50 V; 100 and 200 A; 2.4 kWh."""


def placed(
    name: str, kind: str, at: Vec, size: Vec = SIZE, block: int | None = None, turn: int = 0
) -> Placement:
    """One part in its place, upright."""
    return Placement(name, kind, "bay", at, "+z", turn, size, block)


def pack_job(
    count: int = 8, *, parts: dict[str, Part] | None = None, wiring: dict[str, Any] | None = None, spare: int = 0,
    with_tables: bool = True, module: Part = MODULE,
) -> tuple[Case, Layout]:  # fmt: skip
    """`count` modules in a row along y, 2 mm apart, and other parts behind them."""
    known: dict[str, Part] = {"module": module, **(parts or {})}
    modules = [placed(f"module {n + 1}", "module", (0.0, 177.0 * n, 300.0), block=1) for n in range(count)]
    others = [
        placed(name, name, (600.0, 300.0 * n, 300.0), known[name].box_size)
        for n, name in enumerate(parts or {})
    ]
    case = job(
        count=count, parts=(), known=known, wiring=WiringOrder.model_validate(wiring or {}),
    )  # fmt: skip
    from dataclasses import replace

    return replace(case, tables=tables() if with_tables else Tables()), Layout((*modules, *others))

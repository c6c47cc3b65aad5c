"""A layout whose parts are in the way of their own brackets and cables: what is moved, what is kept, when it is left."""

from dataclasses import replace
from functools import cache

import pytest

from packlayout import mending
from packlayout.electrical.wire import Wiring
from packlayout.mass.ledger import base_items
from packlayout.mending import TRIED, Worked, mended
from packlayout.model.geometry import Vec
from packlayout.model.layout import Layout
from packlayout.placement.place import place
from packlayout.space.routes import End
from packlayout.stages import Framed, silent
from tests.bays import job
from tests.test_electrical_cables import run


@cache
def usual():
    """The roomy job and the layout that is best in it."""
    case = job()
    return case, place(case, base_items(case)).layouts[0].layout


def spot(layout: Layout, name: str) -> Vec:
    return next(p.at for p in layout.placements if p.name == name)


def with_cables(monkeypatch: pytest.MonkeyPatch, *stuck: str) -> list[Layout]:
    """Frames that hold, and from each of some parts a cable without a way while the part stands where it stood.

    Returns:
        The layouts that were wired, filled as they are.
    """
    case, layout = usual()
    tried: list[Layout] = []

    def wired_up(there: Layout, framed: Framed, _: object) -> Worked:
        tried.append(there)
        cables = tuple(
            run(name=name, goal=End(name, "p", (0, 0, 0), (1, 0, 0)),
                **({"line": None} if spot(there, name) == spot(layout, name) else {}))
            for name in stuck
        )  # fmt: skip
        return Worked(there, framed, Wiring(None, None, cables, (), ()))

    monkeypatch.setattr(mending, "wired_up", wired_up)
    for stage in ("designed_for", "frame_for"):
        monkeypatch.setattr(mending, stage, lambda *_: Framed(case, None, ()))
    monkeypatch.setattr(mending, "alone_without_way", lambda *_: ())
    return tried


def begun(tried: list[Layout]) -> Worked:
    case, layout = usual()
    first = mending.wired_up(layout, Framed(case, None, ()), silent)
    tried.clear()
    return first


def test_each_part_whose_cable_finds_no_way_is_put_elsewhere_and_the_rest_stays(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    case, layout = usual()
    tried = with_cables(monkeypatch, "controller", "junction box")
    done = mended(case, begun(tried), base_items(case), silent)
    assert done.faults[1] == 0
    moved = {p.name for p, q in zip(layout.placements, done.layout.placements, strict=True) if p != q}
    assert moved == {"controller", "junction box"}
    assert len(tried) == 2


def test_a_layout_without_a_fault_is_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    case, _ = usual()
    tried = with_cables(monkeypatch)
    first = begun(tried)
    assert mended(case, first, base_items(case), silent) is first
    assert tried == []


def test_it_is_left_where_no_other_place_is_better(monkeypatch: pytest.MonkeyPatch) -> None:
    case, _ = usual()
    tried = with_cables(monkeypatch, "controller")
    first = begun(tried)
    good = mending.wired_up

    def never(there: Layout, framed: Framed, progress: mending.Progress) -> Worked:
        made = good(there, framed, progress)
        assert made.wiring is not None
        lost = tuple(replace(r, line=None) for r in made.wiring.runs)
        return replace(made, wiring=replace(made.wiring, runs=lost))

    monkeypatch.setattr(mending, "wired_up", never)
    assert mended(case, first, base_items(case), silent) is first
    assert 1 < len(tried) <= TRIED


def test_a_place_whose_single_cables_find_no_way_is_not_solved(monkeypatch: pytest.MonkeyPatch) -> None:
    case, _ = usual()
    tried = with_cables(monkeypatch, "controller")
    first = begun(tried)
    monkeypatch.setattr(mending, "alone_without_way", lambda *_: ("controller",))
    assert mended(case, first, base_items(case), silent) is first
    assert tried == []

"""Bolts and the bores they go into: how many, how long, how heavy, where."""

from dataclasses import replace
from math import pi, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packlayout.frame.bolting import MASS_SHARE, bolt_items, bolts_of, bore_mm, bores
from packlayout.frame.tubes import Member, Plate, TubeFrame
from packlayout.model.catalogue import Thread
from packlayout.model.geometry import Pose, Vec
from tests.studies import S235, SHS40

M8 = Thread(thread="M8", clearance_hole_mm=9, washer_diameter_mm=16, diameter_mm=8, head_flats_mm=13, head_height_mm=5.3,
            nut_height_mm=6.8, washer_thickness_mm=1.6, blind_nut_bore_mm=11)  # fmt: skip
THREADS = {"M8": M8}
RAIL = Member("rail", "cradle 1", SHS40, (0.0, 0.0, 0.0), (600.0, 0.0, 0.0), (0.0, 0.0, 1.0), (-1.0, 0.0, 0.0),
              (1.0, 0.0, 0.0))  # fmt: skip
# stands on edge against the side of the rail that looks to +y, from y 20 to y 26
UPRIGHT = ((1.0, 0.0, 0.0), (0.0, 0.0, -1.0), (0.0, 1.0, 0.0))
CAP = Plate("bar end plate start", "cradle 1", Pose((200.0, 26.0, -20.0), UPRIGHT), (90.0, 40.0, 6.0),
            ((14.0, 20.0, 9.0), (76.0, 20.0, 9.0)))  # fmt: skip
FOOT = Plate("foot plate", "leg", Pose((0.0, 300.0, 0.0)), (120.0, 60.0, 8.0), ((30.0, 30.0, 9.0),))


def frame(*plates: Plate) -> TubeFrame:
    return TubeFrame((RAIL,), plates, S235)


# ---- by hand


def test_bores_by_hand() -> None:
    """Both holes lie in the rail's side at y 20, its middle height, 14 and 76 along the plate."""
    first, second = bores(frame(CAP))
    assert (first.member, first.plate, first.clearance_mm) == ("rail", "bar end plate start", 9.0)
    assert first.at == pytest.approx((214.0, 20.0, 0.0))
    assert second.at == pytest.approx((276.0, 20.0, 0.0))
    assert first.into == pytest.approx((0.0, -1.0, 0.0))
    assert bore_mm(9.0, THREADS) == 11


def test_length_and_mass_by_hand() -> None:
    """6 of plate, 3 of wall, 1.6 of washer and 12 of thread are 22.6: 25 as sold."""
    (found,) = bolts_of(frame(CAP), (), THREADS)
    assert (found.thread, found.count, found.length_mm, found.least) == ("M8", 2, 25.0, False)
    assert found.with_what == "washer and blind nut"
    hexagon = sqrt(3) / 2 * 13**2
    volume = pi * 16 * 25 + hexagon * 5.3 + (hexagon - pi * 16) * 6.8 + pi / 4 * (16**2 - 9**2) * 1.6
    assert found.mass is not None
    assert found.mass.value == pytest.approx(2 * volume * 7.85e-6)
    assert found.mass.tolerance == pytest.approx(MASS_SHARE * found.mass.value)


def test_a_plate_on_nothing_is_bolted_through() -> None:
    """8 of plate, two washers and 12 of thread are 23.2: 25, and what it is bolted to on top of that."""
    (found,) = bolts_of(frame(FOOT), (), THREADS)
    assert (found.length_mm, found.least, found.with_what) == (25.0, True, "nut and washers")


def test_bolts_stand_in_the_weighing_amid_their_holes() -> None:
    """The two bolts of the cap sit at x 214 and 276, so their middle is at 245; their mass is that of the list."""
    (found,) = bolts_of(frame(CAP), (), THREADS)
    (item,) = bolt_items(frame(CAP), (), THREADS)
    assert found.mass is not None
    assert item.name == f"bolts of {CAP.group}"
    assert item.mass.value == pytest.approx(found.mass.value)
    assert item.mass.tolerance == pytest.approx(found.mass.tolerance)
    assert item.position[0].value == pytest.approx(245.0)


# ---- reference


@pytest.mark.parametrize(("thread", "grams"), [("M8", 21.0), ("M10", 38.0)])
def test_bolts_weigh_what_catalogues_say(thread: str, grams: float) -> None:
    """M8 x 40 about 21 g, M10 x 40 about 38 g without nut and washers: catalogue figures from memory, so to a fifth."""
    from tests.wiring_tables import demo

    row = demo("quillon-estate/piano-tuner").threads[thread]
    plate = Plate(
        "p", "g", Pose((0.0, 300.0, 0.0)), (100.0, 60.0, 20.0), ((30.0, 30.0, row.clearance_hole_mm),)
    )
    (found,) = bolts_of(frame(plate), (), {thread: row})
    assert found.mass is not None
    assert found.length_mm is not None
    shank = 7.85e-3 * pi / 4 * (row.diameter_mm or 0) ** 2
    alone = 1000 * found.mass.value - shank * (found.length_mm - 40)
    nuts = {"M8": 5.2 + 2 * 1.7, "M10": 11.6 + 2 * 3.5}[thread]
    assert alone - nuts == pytest.approx(grams, rel=0.2)


# ---- invariant


@given(st.integers(0, 5), st.floats(5, 40))
def test_every_hole_gets_one_bolt(count: int, thick: float) -> None:
    holes = tuple((20.0 * n + 15.0, 30.0, 9.0) for n in range(count))
    plates = (replace(FOOT, size=(140.0, 60.0, thick), holes=holes), CAP)
    found = bolts_of(frame(*plates), (), THREADS)
    assert sum(b.count for b in found) == count + 2
    listed = sum(b.mass.value for b in found if b.mass is not None)
    assert sum(i.mass.value for i in bolt_items(frame(*plates), (), THREADS)) == pytest.approx(listed)
    for bolt in found:
        assert bolt.length_mm is not None
        assert bolt.length_mm % 5 == 0
        assert bolt.length_mm >= 6 + 12


# ---- refusal


def test_bolts_without_figures_weigh_nothing() -> None:
    assert bolt_items(frame(replace(FOOT, holes=((30.0, 30.0, 7.3),))), (), THREADS) == ()


@pytest.mark.parametrize(("at", "count"), [((200.0, 60.0, -20.0), 0), ((560.0, 26.0, -20.0), 1)])
def test_what_does_not_lie_against_a_tube_makes_no_bore(at: Vec, count: int) -> None:
    """Away from the rail; and with its second hole beyond the rail's end."""
    assert len(bores(frame(replace(CAP, pose=Pose(at, UPRIGHT))))) == count


def test_a_hole_of_no_known_thread_is_told() -> None:
    (found,) = bolts_of(frame(replace(FOOT, holes=((30.0, 30.0, 7.3),))), (), THREADS)
    assert (found.thread, found.length_mm, found.mass) == ("for holes of 7.3 mm", None, None)

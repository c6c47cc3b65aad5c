"""How much is missing where a cable finds no way, and where: by hand, and by routing again with it taken off."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.model.geometry import Box
from packlayout.space.course import Barrier, Course
from packlayout.space.envelope import box_mesh
from packlayout.space.fields import course
from packlayout.space.routes import End, Need, NoRoute, Route, route
from packlayout.space.shortfall import BEND_STEP_MM, ROOM_STEP_MM, shortfall

GAP_MM = 4.0


def end(at: tuple[float, float, float], way: tuple[float, float, float], name: str = "a") -> End:
    return End(name, "port", at, way, True)


def lacking(space: Course, a: End, b: End, need: Need) -> NoRoute:
    found = route(space, a, b, need)
    assert isinstance(found, NoRoute)
    return shortfall(space, a, b, need, found)


def slit(wide: float, pitch: float = 5.0) -> Course:
    """A room of 900 x 600 x 400 mm parted by a wall 20 mm thick with a slit from floor to roof, round y = 300."""
    wings = [
        Barrier(name, box_mesh(Box((440, y0, 0), (460, y1, 400))), GAP_MM)
        for name, y0, y1 in (("left wing", 0, 300 - wide / 2), ("right wing", 300 + wide / 2, 600))
    ]
    return course([("bay", box_mesh(Box((0, 0, 0), (900, 600, 400))), GAP_MM)], (), wings, pitch)


SLIT_ENDS = end((0, 300, 200), (1, 0, 0)), end((900, 300, 200), (-1, 0, 0), "b")


def elbow(side: float) -> tuple[Course, End, End]:
    """A square duct with one corner, and ends in the middle of both its mouths."""
    level = Box((0.0, 0.0, 0.0), (500.0, side, side))
    upright = Box((500.0 - side, 0.0, 0.0), (500.0, side, 500.0))
    space = course([], [("floor", level), ("riser", upright)], [], 5.0)
    return (
        space,
        end((0, side / 2, side / 2), (1, 0, 0)),
        end((500 - side / 2, side / 2, 500), (0, 0, -1), "b"),
    )


# ---- by hand


def test_a_slit_that_is_too_narrow() -> None:
    """24 mm less 4 mm on each side hold a radius of 8 mm; 14 are asked for, so 6 are missing, beside a wing."""
    found = lacking(slit(24.0), *SLIT_ENDS, Need(14.0, 60.0, 15.0))
    assert found.of == "room"
    # the line may lie half a cell beside the middle of the slit, and its bends in the wall's thickness
    assert found.missing_mm == pytest.approx(6.0, abs=2.5 + ROOM_STEP_MM)
    assert 430 <= found.at[0] <= 470
    assert found.near in ("left wing", "right wing")
    assert "as searched on cells of 5 mm" in found.why


def test_a_bend_in_a_duct() -> None:
    """How far a bend of radius R cuts a corner: R (sqrt 2 - 1), against the duct's inner corner at 60 sqrt 2.

    Along the outer walls, 8 mm off them, the line's corner lies 52 sqrt 2 from the inner one, of which 8 mm stay clear:
    R is at most 158 mm. Along the middle it is 83 mm; the search by cells of 5 mm may miss a quarter of that.
    """
    space, a, b = elbow(60.0)
    need = Need(8.0, 600.0, 10.0, 300.0)
    found = lacking(space, a, b, need)
    assert found.of == "bend"
    assert found.missing_mm is not None
    left = need.bend_mm - found.missing_mm
    assert 0.75 * (30 * 2**0.5 - 8) / (2**0.5 - 1) - BEND_STEP_MM <= left <= (52 * 2**0.5 - 8) / (2**0.5 - 1)
    assert found.at[0] > 440 - left  # the bend at the corner, not the straight before it
    assert found.at[2] < 60 + left
    assert found.remedy.endswith("mm less bend radius would do")
    assert found.near


def test_a_wall_between_two_rooms() -> None:
    rooms = [
        (name, box_mesh(Box((x, 0, 0), (x + 400, 300, 300))), GAP_MM)
        for name, x in (("bay", 0), ("tank", 520))
    ]
    space = course(rooms, (), (), 10.0)
    found = lacking(
        space, end((50, 150, 150), (1, 0, 0)), end((870, 150, 150), (-1, 0, 0), "b"), Need(8, 50, 15)
    )
    assert found.of == "wall"
    assert found.missing_mm == pytest.approx(120, abs=20)
    assert found.at[0] == pytest.approx(460, abs=20)
    assert found.remedy == f"a cable way through {found.missing_mm:.0f} mm would do"


# ---- invariant


@settings(max_examples=8, deadline=None)
@given(st.floats(18.0, 40.0), st.floats(2.0, 8.0))
def test_with_what_is_missing_taken_off_there_is_a_way(wide: float, over: float) -> None:
    space, need = slit(wide, 10.0), Need(wide / 2 - GAP_MM + over, 50.0, 15.0)
    found = lacking(space, *SLIT_ENDS, need)
    assert found.missing_mm is not None
    assert found.missing_mm >= over - 0.1 - ROOM_STEP_MM  # never less than is missing by the slit's own size
    less = replace(need, radius_mm=need.radius_mm - found.missing_mm)
    assert isinstance(route(space, *SLIT_ENDS, less), Route)
    more = replace(need, radius_mm=less.radius_mm + ROOM_STEP_MM)
    assert isinstance(route(space, *SLIT_ENDS, more), NoRoute)


def test_with_a_bend_as_told_there_is_a_way() -> None:
    space, a, b = elbow(60.0)
    need = Need(8.0, 600.0, 10.0, 300.0)
    found = lacking(space, a, b, need)
    assert found.missing_mm is not None
    told = need.bend_mm - found.missing_mm
    assert isinstance(route(space, a, b, replace(need, bend_mm=told)), Route)
    assert isinstance(route(space, a, b, replace(need, bend_mm=told + BEND_STEP_MM)), NoRoute)


def test_the_same_question_has_the_same_answer() -> None:
    space, need = slit(24.0, 10.0), Need(14.0, 60.0, 15.0)
    assert lacking(space, *SLIT_ENDS, need) == lacking(space, *SLIT_ENDS, need)


# ---- refusal


def test_a_port_that_is_walled_in_says_how_much() -> None:
    """A wall 20 mm in front of the port: 20 less 4 mm of gap is what a radius has, whatever bends there are."""
    wall = Barrier("wall", box_mesh(Box((20, 0, 0), (60, 600, 400))), GAP_MM)
    space = course([("bay", box_mesh(Box((0, 0, 0), (900, 600, 400))), GAP_MM)], (), [wall], 10.0)
    found = lacking(space, *SLIT_ENDS, Need(10.0, 50.0, 15.0))
    assert found.missing_mm is not None
    assert found.missing_mm > 0
    assert found.near == "wall"

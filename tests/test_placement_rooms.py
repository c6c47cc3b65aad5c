"""Room to plug cables in: kept free by the search and judged by the check outside it."""

from dataclasses import replace

import pytest

from packlayout.model.brief import PartOrder
from packlayout.model.catalogue import Part
from packlayout.model.geometry import Box, Pose
from packlayout.model.layout import Layout, Placement
from packlayout.placement.forms import PLUG_MM, access_rooms, slabs
from packlayout.placement.verify import check_layout
from tests.bays import PARTS, job, part

SIZE = (200.0, 150.0, 100.0)


def with_port(kind: str = "HV", direction: object = "+x", access: float = 0.0, **more: object) -> Part:
    port = {"name": "supply", "kind": kind, "at": [200, 75, 50], "direction": direction, **more}
    faces = [{"face": "+x", "depth": access}] if access else []
    return part("charger", SIZE, 5, ports=[port], access=faces)


# ---------------------------------------------------------------- by hand


@pytest.mark.parametrize(("kind", "deep"), [("HV", 45), ("coolant", 45), ("12 V", 30)])
def test_room_straight_out_of_a_port_by_its_kind(kind: str, deep: float):
    (room,) = slabs(with_port(kind), Pose((0.0, 0.0, 0.0)))
    assert room.box == Box((200, 75 - PLUG_MM, 50 - PLUG_MM), (200 + deep, 75 + PLUG_MM, 50 + PLUG_MM))
    assert room.depth_mm == deep
    assert room.face == (1, 0, 0)
    assert "supply" in room.wanted_for


@pytest.mark.parametrize("kind", ["signal", "shaft"])
def test_no_room_for_a_signal_plug_or_a_shaft(kind: str):
    assert slabs(with_port(kind), Pose((0.0, 0.0, 0.0))) == ()


def test_a_stated_room_goes_before_the_usual_one():
    (room,) = slabs(with_port(room=80), Pose((0.0, 0.0, 0.0)))
    assert room.depth_mm == 80
    assert slabs(with_port(room=0), Pose((0.0, 0.0, 0.0))) == ()


def test_an_access_face_as_deep_covers_the_port():
    covered = slabs(with_port(access=60), Pose((0.0, 0.0, 0.0)))
    assert [r.depth_mm for r in covered] == [60]
    shallow = slabs(with_port(access=20), Pose((0.0, 0.0, 0.0)))
    assert [r.depth_mm for r in shallow] == [20, 45]
    assert [r.depth_mm for r in access_rooms(with_port(access=20), Pose((0.0, 0.0, 0.0)))] == [20]


def test_the_room_turns_with_the_part():
    placed = Placement("charger", "charger", "bay", (10.0, 20.0, 30.0), "+z", 90, SIZE)
    (room,) = slabs(with_port(), placed.pose)
    # a quarter turn anticlockwise brings own +x to vehicle +y, or -y: the room lies outside its own box that way
    assert room.box.overlap_depth(placed.box) <= 1e-9
    assert abs(room.face[1]) == pytest.approx(1)
    assert room.depth_mm == pytest.approx(45)


# ---------------------------------------------------------------- the check outside the search


def test_a_part_before_a_port_fails_and_is_named():
    parts = {**PARTS, "plugged": with_port(), "controller": PARTS["controller"]}
    case = job(count=4, known=parts, parts=(PartOrder(part="plugged", zones=("bay",)),))
    one = Placement("plugged", "plugged", "bay", (-200.0, 0.0, 320.0), "+z", 0, SIZE)
    near = Placement("controller", "controller", "bay", (25.0, 0.0, 320.0), "+z", 0, (360.0, 240.0, 120.0))
    failed = [c for c in check_layout(case, Layout((one, near))) if c.verdict == "fail"]
    (check,) = [c for c in failed if c.id.startswith("place.access")]
    assert check.value == pytest.approx(25)
    assert check.limit == 45
    assert "controller" in check.title
    assert check.basis == "room to plug in supply"
    far = replace(near, at=(46.0, 0.0, 320.0))
    assert not [
        c
        for c in check_layout(case, Layout((one, far)))
        if c.id.startswith("place.access") and c.verdict == "fail"
    ]

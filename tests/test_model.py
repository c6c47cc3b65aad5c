"""The records: names in a file, ranges, and what they hold themselves to."""

import inspect
from importlib import import_module
from pkgutil import iter_modules
from typing import Annotated

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from packlayout import model
from packlayout.model.catalogue import KINDS, PART, BatteryModule, MotorData
from packlayout.model.geometry import Box, Pose, TriMesh, box_between
from packlayout.model.layout import Layout, Placement, axis, rotation, turned_size
from packlayout.model.record import Direction, Record, Within, file_name, told
from packlayout.model.vehicle import KeepOut, MountPoint
from packlayout.units import Measured

MODULES = [import_module(f"packlayout.model.{module.name}") for module in iter_modules(model.__path__)]
RECORDS = sorted(
    {
        record
        for module in MODULES
        for record in vars(module).values()
        if inspect.isclass(record) and issubclass(record, Record)
    },
    key=lambda record: record.__qualname__,
)
UPS = ("+x", "-x", "+y", "-y", "+z", "-z")


# ---- by hand


@pytest.mark.parametrize(
    ("name", "in_file"),
    [
        ("wheelbase_mm", "wheelbase"), ("kerb_mass_kg", "kerb_mass"), ("density_kg_per_m3", "density"),
        ("mass_kg", "mass"), ("turn_deg", "turn"), ("name", "name"), ("area_mm2", "area_mm2"),
    ],
)  # fmt: skip
def test_a_file_has_no_unit_suffix(name: str, in_file: str) -> None:
    assert file_name(name) == in_file


def test_quantities_are_read_with_unit_and_tolerance() -> None:
    class Thing(Record):
        """For this test."""

        length_mm: Annotated[Measured, Within("mm", 0, 1000)]
        mass_kg: Annotated[float, Within("kg", 0, 10)]

    thing = Thing.model_validate({"length": "10 in +/- 1 mm", "mass": "500 g"})
    assert thing.length_mm == Measured(254, 1)
    assert thing.mass_kg == 0.5
    assert thing.model_dump(by_alias=True) == {"length": "254 +/- 1", "mass": 0.5}


def test_a_part_without_its_own_cg_has_it_in_the_middle() -> None:
    part = PART.validate_python(
        {"kind": "pump", "name": "p", "maker": "m", "size": [100, 50, 20], "mass": 1, "source": "test"}
    )
    assert [c.value for c in part.centre_of_gravity] == [50, 25, 10]
    assert [c.tolerance for c in part.centre_of_gravity] == [10, 5, 2]


def test_what_fills_a_message_is_short() -> None:
    assert len(told("x" * 5000)) < 70
    assert len(told([list(range(100))] * 100)) < 100


def test_a_box_turned_by_hand() -> None:
    # stands on its back: own y up, quarter turn
    assert turned_size((300, 180, 120), "+z", 0) == (300, 180, 120)
    assert turned_size((300, 180, 120), "+z", 90) == (180, 300, 120)
    assert turned_size((300, 180, 120), "+x", 0)[2] == 300
    assert turned_size((300, 180, 120), "+y", 0)[2] == 180


def test_volume_of_a_far_off_box_keeps_its_digits() -> None:
    corners = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=float) + 1e6
    faces = np.array([[0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
                      [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3]])  # fmt: skip
    assert TriMesh(corners, faces).volume == pytest.approx(1, rel=1e-9)
    assert TriMesh(corners, faces[:, ::-1]).volume == pytest.approx(-1, rel=1e-9)


# ---- invariant


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: record.__name__)
def test_no_two_fields_share_a_name_in_a_file(record: type[Record]) -> None:
    names = [field.alias for field in record.model_fields.values()]
    assert len(set(names)) == len(names)


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: record.__name__)
def test_each_attribute_that_is_told_is_a_field(record: type[Record]) -> None:
    words = (record.__doc__ or "").partition("Attributes:")[2]
    told_of = {line.strip().split(":")[0] for line in words.splitlines() if ":" in line}
    assert told_of <= set(record.model_fields)


def test_each_kind_of_part_has_a_record() -> None:
    kinds = PART.json_schema()["discriminator"]["mapping"]
    assert set(kinds) == set(KINDS)


@pytest.mark.parametrize("up", UPS)
@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_rotations_keep_hand_and_lengths(up: str, turn: int) -> None:
    matrix = np.array(rotation(up, turn))  # type: ignore[arg-type]
    assert matrix @ matrix.T == pytest.approx(np.eye(3))
    assert np.linalg.det(matrix) == pytest.approx(1)
    assert matrix @ axis(up) == pytest.approx([0, 0, 1])  # type: ignore[arg-type]


def test_the_24_rotations_differ() -> None:
    assert len({rotation(up, turn) for up in UPS for turn in (0, 90, 180, 270)}) == 24  # type: ignore[arg-type]


sides = st.tuples(*[st.floats(1, 1000)] * 3)


@given(sides, sides, st.sampled_from(UPS), st.sampled_from([0, 90, 180, 270]))
def test_a_placed_part_fills_its_box(size, at, up, turn) -> None:  # type: ignore[no-untyped-def]
    placement = Placement("a", "a", "z", at, up, turn, size)
    corners = [
        placement.pose.point((x, y, z)) for x in (0, size[0]) for y in (0, size[1]) for z in (0, size[2])
    ]
    lo = tuple(min(corner[k] for corner in corners) for k in range(3))
    hi = tuple(max(corner[k] for corner in corners) for k in range(3))
    assert lo == pytest.approx(placement.box.lo)
    assert hi == pytest.approx(placement.box.hi)


@given(sides, sides, sides, sides)
def test_boxes_that_keep_apart(a, b, c, d) -> None:  # type: ignore[no-untyped-def]
    one, other = box_between(a, b), box_between(c, d)
    assert (one.distance(other) == 0) == (one.overlap_depth(other) >= 0)
    assert one.distance(other) == other.distance(one)
    both = one.joined(other)
    assert both.overlap_depth(one) == pytest.approx(min(one.size))


def test_blocks_are_made_of_their_modules() -> None:
    modules = tuple(
        Placement(f"module {k}", "m", "z", (100.0 * k, 0, 0), "+z", 0, (90, 50, 40), block=1 + k // 2)
        for k in range(4)
    )
    motor = Placement("motor", "x", "z", (0, 500, 0), "+z", 0, (10, 10, 10))
    layout = Layout((*modules, motor))
    assert [block.number for block in layout.blocks] == [1, 2]
    assert layout.blocks[1].box == Box((200, 0, 0), (390, 50, 40))
    assert layout.modules == modules


def test_a_pose_turns_then_shifts() -> None:
    pose = Pose((10, 20, 30), rotation("+z", 90))
    assert pose.point((1, 0, 0)) == pytest.approx((10, 21, 30))  # x towards y


# ---- refusal


@pytest.mark.parametrize("found", ["up", [0, 0, 0], [1, 2], "+w", 5, None, {"x": 1}])
def test_what_is_no_direction(found: object) -> None:
    with pytest.raises(ValidationError):
        TypeAdapter(Direction).validate_python(found)


def test_records_are_frozen_and_closed() -> None:
    data = MotorData(min_v=1, max_v=2, continuous_kw=1, peak_kw=2, peak_nm=3, max_rpm=600)
    with pytest.raises(ValidationError, match="frozen"):
        data.peak_kw = 5
    with pytest.raises(ValidationError, match="Extra inputs"):
        KeepOut.model_validate({"name": "a", "sphere": {}})


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"electrical": {"energy": 1, "capacity": 10, "min": 40, "nominal": 36, "max": 50, "continuous": 1,
                         "peak": 1}}, "voltages out of order; allowed: min < nominal < max"),
        ({"size": None}, "neither size nor body is given"),
        ({"up": []}, "at least 1 item"),
        ({"mass": True}, "True is not a quantity"),
        ({"source": ""}, "at least 1 character"),
    ],
)  # fmt: skip
def test_parts_that_are_none(change: dict[str, object], message: str) -> None:
    module = {
        "kind": "battery module", "name": "a", "maker": "b", "size": [1, 1, 1], "mass": 1, "source": "test",
        "electrical": {"energy": 1, "capacity": 10, "min": 30, "nominal": 36, "max": 50, "continuous": 1, "peak": 1},
    }  # fmt: skip
    assert isinstance(PART.validate_python(module), BatteryModule)
    with pytest.raises(ValidationError, match=message):
        PART.validate_python({**module, **change})


def test_mount_holes_out_of_their_plane() -> None:
    mount = {"name": "a", "face": "+z", "holes": [[0, 0, 0], [60, 0, 5]], "thread": "M10"}
    with pytest.raises(
        ValidationError, match=r"the holes are 5\.0 mm out of one plane across the face; allowed: 2 mm"
    ):
        MountPoint.model_validate(mount)

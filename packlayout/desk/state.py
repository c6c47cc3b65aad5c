"""What the desk holds at one moment, and how that is written down."""

from dataclasses import asdict, dataclass, replace
from typing import Any, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, TypeAdapter, ValidationError

from packlayout.errors import GeometryError
from packlayout.model.brief import Aims, Case, Clearances
from packlayout.model.catalogue import SignedAxis
from packlayout.model.geometry import Vec
from packlayout.model.layout import Layout, Placement

Json = dict[str, Any]
Settings = TypeVar("Settings", Clearances, Aims)


class RefusedError(GeometryError):
    """An operation that was not carried out; the message says why and what is allowed."""


@dataclass(frozen=True, slots=True)
class Goods:
    """Goods on the load floor.

    Attributes:
        x_mm: Where their centre of gravity is, behind the front axle.
        mass_kg: How much.
    """

    x_mm: float
    mass_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class State:
    """One moment of the work.

    Attributes:
        layout: Where everything stands.
        out: Things taken out, each as it last stood.
        clearances: As set at the desk; at first those of the brief.
        aims: Likewise.
        goods: On the load floor; None for a vehicle without one.
    """

    layout: Layout
    out: tuple[Placement, ...]
    clearances: Clearances
    aims: Aims
    goods: Goods | None = None


class _Placed(BaseModel):
    """A placement as it stands in the history."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)
    name: str
    part: str
    zone: str
    at: Vec
    up: SignedAxis
    turn_deg: Literal[0, 90, 180, 270]
    size: Vec
    block: int | None
    locked: bool


_PLACED = TypeAdapter(tuple[_Placed, ...])
_GOODS = TypeAdapter(Goods | None)


def first_state(case: Case, layout: Layout) -> State:
    """The state that work begins with: what the brief asks for and the layout lacks is out."""
    floor = case.vehicle.load_floor
    goods = None if floor is None else Goods((floor.begin_x_mm + floor.end_x_mm) / 2)
    state = State(layout, (), case.brief.clearances, case.brief.aims, goods)
    return replace(state, out=missing(case, layout))


def missing(case: Case, layout: Layout) -> tuple[Placement, ...]:
    """What the brief asks for and a layout does not hold, each at the bottom middle of its first zone."""
    there = {p.name for p in layout.placements}
    out: list[Placement] = []
    order = case.brief.modules
    n = 0
    for _ in range(case.modules_wanted - len(layout.modules)):
        n += 1
        while f"module {n}" in there:
            n += 1
        out.append(_unplaced(case, f"module {n}", order.part, order.zones[0], 1))
    placed: dict[str, int] = {}
    for p in layout.placements:
        placed[p.part] = placed.get(p.part, 0) + 1
    for wanted in case.brief.parts:
        if placed.get(wanted.part, 0) > 0:
            placed[wanted.part] -= 1
            continue
        name = distinct(wanted.name or case.parts[wanted.part].name, {*there, *(p.name for p in out)})
        out.append(_unplaced(case, name, wanted.part, wanted.zones[0], None))
    return tuple(out)


def distinct(name: str, taken: set[str]) -> str:
    """A name that is not taken: the name itself, or with the first free number from 2."""
    if name not in taken:
        return name
    n = 2
    while f"{name} {n}" in taken:
        n += 1
    return f"{name} {n}"


def _unplaced(case: Case, name: str, part: str, zone: str, block: int | None) -> Placement:
    record = case.parts[part]
    room = case.zones[zone].bounds
    stands = Placement(name, part, zone, room.lo, record.up[0], 0, record.box_size, block)
    size = stands.box.size
    gap = case.brief.clearances.body_mm
    at = (room.centre[0] - size[0] / 2, room.centre[1] - size[1] / 2, room.lo[2] + gap)
    return replace(stands, at=(round(at[0], 3), round(at[1], 3), round(at[2], 3)))


def case_of(case: Case, state: State) -> Case:
    """The case with the clearances and aims of a state, so that every function judges by them."""
    brief = case.brief
    if (brief.clearances, brief.aims) == (state.clearances, state.aims):
        return case
    changed = brief.model_copy(update={"clearances": state.clearances, "aims": state.aims})
    return replace(case, brief=changed)


def state_json(state: State) -> Json:
    """A state as plain JSON, for the history."""
    return {
        "title": state.layout.title,
        "placements": [asdict(p) for p in state.layout.placements],
        "out": [asdict(p) for p in state.out],
        "clearances": state.clearances.model_dump(),
        "aims": state.aims.model_dump(),
        "goods": None if state.goods is None else asdict(state.goods),
    }


def state_of(document: Json) -> State:
    """The state that was written; `ValueError` (pydantic's) where it is not one."""
    placements = tuple(Placement(**p.model_dump()) for p in _PLACED.validate_python(document["placements"]))
    out = tuple(Placement(**p.model_dump()) for p in _PLACED.validate_python(document["out"]))
    return State(
        Layout(placements, str(document["title"])),
        out,
        clearances_of(document["clearances"]),
        aims_of(document["aims"]),
        _GOODS.validate_python(document["goods"]),
    )


def clearances_of(values: Json) -> Clearances:
    """Clearances by the names of their fields.

    Raises:
        RefusedError: for a value out of range; the message says what is allowed.
    """
    return _settings(Clearances, values)


def aims_of(values: Json) -> Aims:
    """Aims by the names of their fields.

    Raises:
        RefusedError: likewise.
    """
    return _settings(Aims, values)


def _settings(kind: type[Settings], values: Json) -> Settings:
    try:
        return kind.model_validate(values, by_name=True, by_alias=True)
    except ValidationError as error:
        first = error.errors()[0]
        name = ".".join(str(step) for step in first["loc"])
        raise RefusedError(f"{name}: {first['msg'].removeprefix('Value error, ')}") from None

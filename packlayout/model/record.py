"""The base of every input record, and the types of its fields.

Two rules hold for all records and are stated once, here:

* A scalar field ends with its unit in Python (`wheelbase_mm`) and has no suffix in a user's file
  (`wheelbase`), where its value may bear a unit and a tolerance.
* A field says what it allows next to its type: `Annotated[Measured, Within("mm", 1000, 6000)]`.
"""

from collections.abc import Sequence
from reprlib import Repr
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    Strict,
    ValidationError,
)  # fmt: skip
from pydantic_core import PydanticCustomError, core_schema

from packlayout.model.geometry import MeasuredPoint, Vec
from packlayout.units import LABEL, Measured, parse


def file_name(field_name: str) -> str:
    """Name of a field in a user's file: the Python name without its unit suffix."""
    for unit in sorted(LABEL, key=len, reverse=True):
        if field_name.endswith(f"_{unit}"):
            return field_name.removesuffix(f"_{unit}")
    return field_name


_shorten = Repr()
_shorten.maxstring = _shorten.maxother = _shorten.maxlong = 60
_shorten.maxlist, _shorten.maxdict, _shorten.maxlevel = 4, 3, 2


def told(value: object) -> str:
    """A value as a message quotes it: short, whatever a file holds."""
    return _shorten.repr(value)


class Record(BaseModel):
    """A frozen input record that refuses unknown fields."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        alias_generator=file_name,
        populate_by_name=True,
        allow_inf_nan=False,
        arbitrary_types_allowed=True,
        str_strip_whitespace=True,
    )


class Within:
    """Reads a quantity in a unit and holds it to a range.

    Put it in `Annotated[float, Within(...)]` for an exact figure, in `Annotated[Measured, Within(...)]`
    for one that may carry a tolerance.

    Args:
        unit: House unit key of `packlayout.units`, `1` for a plain number.
        lo: Smallest value allowed, in that unit.
        hi: Largest value allowed.
    """

    def __init__(self, unit: str, lo: float, hi: float) -> None:
        self.unit, self.lo, self.hi = unit, lo, hi

    def allowed(self) -> str:
        """The range in words."""
        return f"{self.lo:.10g} to {self.hi:.10g} {LABEL[self.unit]}".rstrip()

    def read(self, found: object) -> Measured:
        """A value as a user writes it -> `Measured`; `ValueError` says what is allowed."""
        measured = parse(found, self.unit)
        if not self.lo <= measured.value <= self.hi:
            slip = self._slip(measured.value) if not isinstance(found, str) else ""
            raise ValueError(f"{told(found)} is out of range; allowed: {self.allowed()}{slip}")
        return measured

    def _slip(self, value: float) -> str:
        """The likely slip: metres, centimetres, inches or tonnes written as a bare number."""
        slips = {"mm": (("m", 1000.0), ("cm", 10.0), ("in", 25.4)), "kg": (("t", 1000.0),)}
        for word, size in slips.get(self.unit, ()):
            if value > 0 and self.lo <= value * size <= self.hi:
                return (
                    f"; a bare number is in {LABEL[self.unit]}: if it is in {word}, write '{value:g} {word}'"
                )
        return ""

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        def exact(found: object) -> float:
            measured = self.read(found)
            if measured.tolerance:
                raise ValueError(f"{told(found)} has a tolerance; allowed: a plain figure, {self.allowed()}")
            return measured.value

        return core_schema.no_info_plain_validator_function(
            exact if source is float else self.read,
            metadata={"exact": source is float},
            serialization=core_schema.plain_serializer_function_ser_schema(_plain),
        )

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        words = self.allowed()
        if LABEL[self.unit]:
            words += f"; a bare number is in {LABEL[self.unit]}, a quoted one may bear its own unit"
        if not schema.get("metadata", {}).get("exact"):  # pyright: ignore[reportUnknownMemberType]
            words += "; may bear a tolerance, '612 +/- 3'"
        number = {"type": "number", "minimum": self.lo, "maximum": self.hi}
        return {"anyOf": [number, _QUANTITY_TEXT], "description": words}


_QUANTITY_TEXT = {"type": "string", "pattern": r"^\s*[-+]?\s*[0-9.]"}


class Distinct:
    """Holds the records of a list to differ in one field; told at the second of two.

    Args:
        field: Name of that field in a file, such as `name`.
        word: What one record is called, such as `zone`.
    """

    def __init__(self, field: str, word: str) -> None:
        self.field, self.word = field, word

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_after_validator_function(self._hold, handler(source))

    def _hold(self, rows: tuple[Any, ...]) -> tuple[Any, ...]:
        seen: set[object] = set()
        errors: list[Any] = []
        for index, row in enumerate(rows):
            value = getattr(row, self.field)
            if value in seen:
                message = f"a second {self.word} called {told(value)}; allowed: each {self.field} once"
                fault = PydanticCustomError("value_error", "{said}", {"said": message})
                errors.append({"type": fault, "loc": (index, self.field), "input": value})
            seen.add(value)
        if errors:
            raise ValidationError.from_exception_data(self.word, errors)
        return rows


def one_of(record: Record, *names: str) -> None:
    """Refuse a record that has none of these fields, or more than one."""
    given = [name for name in names if getattr(record, name) is not None]
    if len(given) != 1:
        said = " and ".join(given) or "none of them"
        raise ValueError(f"{said} given; allowed: exactly one of {', '.join(names)}")


Flag = Annotated[bool, Strict()]
"""true or false, and no other word for them."""

Whole = Annotated[int, Strict()]
"""A whole number."""


def _quarter(found: object) -> object:
    if isinstance(found, bool) or found not in (0, 90, 180, 270):
        raise ValueError(f"{told(found)} is not a quarter turn; allowed: 0, 90, 180, 270")
    return int(found)  # pyright: ignore[reportArgumentType] - one of the four


Quarter = Annotated[Literal[0, 90, 180, 270], BeforeValidator(_quarter)]
"""Quarter turns, degrees."""


def _plain(value: Measured | float) -> float | str:
    if isinstance(value, Measured):
        return str(value) if value.tolerance else value.value
    return value


_COORDINATE = Within("mm", -20_000, 20_000)
_SIDE = Within("mm", 0.1, 10_000)


def _three(found: object, item: Within) -> tuple[Measured, Measured, Measured]:
    if isinstance(found, str) or not isinstance(found, Sequence) or len(found) != 3:
        raise ValueError(f"{told(found)} is not a point; allowed: a list of three lengths [x, y, z]")
    x, y, z = (item.read(value) for value in found)
    return x, y, z


def _exact_three(found: object, item: Within) -> Vec:
    point = _three(found, item)
    if any(value.tolerance for value in point):
        raise ValueError(f"{told(found)} has a tolerance; allowed: three plain lengths")
    return point[0].value, point[1].value, point[2].value


def _direction(found: object) -> Vec:
    axes = {
        "+x": (1, 0, 0),
        "-x": (-1, 0, 0),
        "+y": (0, 1, 0),
        "-y": (0, -1, 0),
        "+z": (0, 0, 1),
        "-z": (0, 0, -1),
    }
    if isinstance(found, str):
        if found not in axes:
            raise ValueError(f"{told(found)} is not a direction; allowed: {', '.join(axes)} or three numbers")
        x, y, z = axes[found]
    else:
        (x, y, z) = _exact_three(found, _COORDINATE)
    length = (x * x + y * y + z * z) ** 0.5
    if length < 1e-9:
        raise ValueError(f"{told(found)} has no length; allowed: {', '.join(axes)} or three numbers")
    return x / length, y / length, z / length


class _PointSchema:
    """JSON Schema of a point: the validators above read more than a tuple's own schema would tell."""

    def __init__(self, words: str, *, direction: bool = False) -> None:
        self.words, self.direction = words, direction

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        item = {"anyOf": [{"type": "number"}, _QUANTITY_TEXT]}
        three: dict[str, Any] = {"type": "array", "items": item, "minItems": 3, "maxItems": 3}
        signed = {"type": "string", "enum": ["+x", "-x", "+y", "-y", "+z", "-z"]}
        return {"description": self.words, **({"anyOf": [signed, three]} if self.direction else three)}


Point = Annotated[
    Vec, BeforeValidator(lambda found: _exact_three(found, _COORDINATE)), _PointSchema("[x, y, z] in mm")
]
"""An exact position, mm."""

PointWithTolerance = Annotated[
    MeasuredPoint,
    BeforeValidator(lambda found: _three(found, _COORDINATE)),
    _PointSchema("[x, y, z] in mm, each may bear a tolerance"),
]
"""A measured position, mm, each coordinate with its own tolerance."""

Size = Annotated[
    Vec,
    BeforeValidator(lambda found: _exact_three(found, _SIDE)),
    _PointSchema("[length, width, height] in mm"),
]
"""Sides of a box along its own axes, mm."""

Direction = Annotated[
    Vec, BeforeValidator(_direction), _PointSchema("+x ... -z, or three numbers", direction=True)
]
"""A unit vector."""

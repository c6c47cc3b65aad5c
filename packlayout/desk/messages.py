"""What the page may say, and nothing else: each message is read into one of these records or refused."""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from packlayout.desk.state import RefusedError
from packlayout.model.catalogue import SignedAxis

Name = Annotated[str, Field(min_length=1, max_length=160)]
Number = Annotated[float, Field(allow_inf_nan=False, ge=-1e6, le=1e6)]
At = tuple[Number, Number, Number]


class Message(BaseModel):
    """What every message has.

    Attributes:
        seq: Its number; the answer bears it too.
        base: The revision the page had in front of it; an edit on an older one is refused.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)
    seq: int = Field(ge=0)
    base: int | None = None


class Begin(Message):
    """Take hold of a thing."""

    op: Literal["begin"]
    target: Name


class Move(Message):
    """Where it is held now: the lowest corner of its box; `snap` names the axes along which it may snap."""

    op: Literal["move"]
    at: At
    snap: Literal["", "xy", "xz", "z"] = ""


class Commit(Message):
    """Let go."""

    op: Literal["commit"]


class Cancel(Message):
    """Put it back."""

    op: Literal["cancel"]


class Put(Message):
    """Put a thing at typed coordinates."""

    op: Literal["put"]
    target: Name
    at: At


class Nudge(Message):
    """Push a thing by a step."""

    op: Literal["nudge"]
    target: Name
    by: At


class Snap(Message):
    """Push a thing to its neighbours and walls where it is close to them."""

    op: Literal["snap"]
    target: Name


class Turn(Message):
    """Turn a thing by quarter turns."""

    op: Literal["turn"]
    target: Name
    quarters: int = Field(ge=-3, le=3)


class Stand(Message):
    """Stand a part on another face."""

    op: Literal["stand"]
    target: Name
    up: SignedAxis


class Lock(Message):
    """Lock or unlock a thing."""

    op: Literal["lock"]
    target: Name
    locked: bool


class TakeOut(Message):
    """Set a thing aside."""

    op: Literal["take out"]
    target: Name


class PutIn(Message):
    """Put a thing back."""

    op: Literal["put in"]
    target: Name


class Exchange(Message):
    """Another part in its place."""

    op: Literal["exchange"]
    target: Name
    part: Name


class SetClearances(Message):
    """Other clearances: field -> value."""

    op: Literal["clearances"]
    values: dict[Name, Any] = Field(max_length=20)


class SetAims(Message):
    """Other aims: field -> value."""

    op: Literal["aims"]
    values: dict[Name, Any] = Field(max_length=20)


class SetGoods(Message):
    """Goods on the load floor; `live` while the slider moves, which is not kept."""

    op: Literal["goods"]
    x_mm: Number
    mass_kg: Number
    live: bool = False


class Undo(Message):
    """One state back."""

    op: Literal["undo"]


class Redo(Message):
    """One state forward."""

    op: Literal["redo"]


class Solve(Message):
    """Search layouts with what is locked."""

    op: Literal["solve"]


class Stop(Message):
    """Stop searching or exporting."""

    op: Literal["stop"]


class Keep(Message):
    """Put the present layout on the tray."""

    op: Literal["keep"]
    title: str = Field(default="", max_length=120)


class Take(Message):
    """Go on with a layout of the tray."""

    op: Literal["take"]
    number: int


class Discard(Message):
    """Take a layout off the tray."""

    op: Literal["discard"]
    number: int


class Export(Message):
    """Write the files for the workshop."""

    op: Literal["export"]


AnyMessage = Annotated[
    Begin | Move | Commit | Cancel | Put | Nudge | Snap | Turn | Stand | Lock | TakeOut | PutIn | Exchange
    | SetClearances | SetAims | SetGoods | Undo | Redo | Solve | Stop | Keep | Take | Discard | Export,
    Field(discriminator="op"),
]  # fmt: skip
_MESSAGE: TypeAdapter[AnyMessage] = TypeAdapter(AnyMessage)


def read_message(text: str) -> AnyMessage:
    """One message of the page.

    Raises:
        RefusedError: for anything that is none; the message says what is wrong with it.
    """
    try:
        return _MESSAGE.validate_json(text)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(step) for step in first["loc"][-2:])
        raise RefusedError(f"the page sent something that is no operation: {where}: {first['msg']}") from None

"""What a frame has to bear by a design code: load cases, partial factors, least frequency. Data, not law."""

from typing import Annotated, Literal

from pydantic import Field

from packlayout.model.record import Flag, Record, Within
from packlayout.model.stock import Name, Text

Gees = Annotated[float, Within("1", -100, 100)]


class LoadCase(Record):
    """What the frame has to bear at one time.

    Attributes:
        name: For people, such as `crash forward`.
        kind: What for; a crash may use the plastic strength once.
        push_g: The way every carried mass is thrown, in g, vehicle axes: a frontal crash is [-20, 0, 0].
        own_weight: true: gravity acts besides.
        factor: Partial factor on all of it.
        source: Where it is from.
        clause: Where it stands there.
    """

    name: Name
    kind: Literal["crash", "road", "towing", "jacking"]
    push_g: tuple[Gees, Gees, Gees]
    own_weight: Flag = True
    factor: Annotated[float, Within("1", 0.5, 5)] = 1.0
    source: Annotated[str, Field(min_length=1, max_length=2000)]
    clause: Text = ""

    @property
    def thrown_g(self) -> tuple[float, float, float]:
        """The way every carried mass is thrown in all, in g, its factor and gravity included."""
        x, y, z = self.push_g
        return x * self.factor, y * self.factor, (z - (1.0 if self.own_weight else 0.0)) * self.factor


class PartialFactors(Record):
    """Partial factors on strength.

    Attributes:
        yielding: Of cross-sections; gamma M0 of EN 1993-1-1 clause 6.1 is 1.0 (value from memory).
        buckling: Of members, gamma M1, the same place.
        joints: Of bolts and welds; gamma M2 of EN 1993-1-8 table 2.1 is 1.25 (value from memory).
        aluminium: Of aluminium members; gamma M1 of EN 1999-1-1 table 6.1 is 1.1 (value from memory).
        source: Of figures that differ from those.
    """

    yielding: Annotated[float, Within("1", 1, 2)] = 1.0
    buckling: Annotated[float, Within("1", 1, 2)] = 1.0
    joints: Annotated[float, Within("1", 1, 2)] = 1.25
    aluminium: Annotated[float, Within("1", 1, 2)] = 1.1
    source: Text = ""


class LeastFrequency(Record):
    """The first natural frequency that a frame should have, to stay clear of what the road excites."""

    hz: Annotated[float, Within("1", 0.1, 500)]
    source: Annotated[str, Field(min_length=1, max_length=2000)]

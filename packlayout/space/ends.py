"""Where a cable begins and ends, and what it asks for."""

from dataclasses import dataclass

from packlayout.model.geometry import Vec


@dataclass(frozen=True, slots=True)
class End:
    """Where a cable begins or ends.

    Attributes:
        part: Name of the placed part, or of the fixed point.
        port: Name of its port.
        at: mm, vehicle axes.
        direction: The way out of the port.
        fixed: True for a point on the wall of the vehicle, which need not keep from that wall.
    """

    part: str
    port: str
    at: Vec
    direction: Vec
    fixed: bool = False


@dataclass(frozen=True, slots=True)
class Need:
    """What a cable asks for.

    Attributes:
        radius_mm: Of the cable or bundle.
        bend_mm: Least radius of its middle line.
        straight_mm: Straight out of each port.
        elbow_mm: Height of an elbow connector over the port, to the middle of the cable.
        sleeve_mm: How much thicker on each side it is within the course's boxes for sleeves, where it lies in conduit.
    """

    radius_mm: float
    bend_mm: float
    straight_mm: float
    elbow_mm: float = 25.0
    sleeve_mm: float = 0.0

"""One core frame for many vehicles: what is the same in several frames, and what each vehicle adds to it.

The core is cradles with their bars, studs and lips, and the links between cradles; the adapter is the legs and their
foot plates; the brackets of the other parts are each vehicle's own. The core depends on the block of modules alone, so
vehicles that use one arrangement share it.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from packlayout.frame.generate import Generated
from packlayout.frame.tubes import Member, Plate

ALIKE_MM = 0.1
"""Pieces whose ends differ by less are one piece: well below what a saw holds."""

Piece = tuple[str, tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class Parts:
    """A part of a frame.

    Attributes:
        members: Its tubes.
        plates: Its plates.
        mass_kg: Of both.
    """

    members: tuple[Member, ...]
    plates: tuple[Plate, ...]
    mass_kg: float


@dataclass(frozen=True, slots=True)
class Family:
    """Several vehicles and their frames.

    Attributes:
        shared: True when all have the same core.
        core: That of the first; build it once.
        adapters: Vehicle -> what it alone needs.
        differences: Vehicle -> pieces of its core that the first does not have, and the other way round.
        brackets: Vehicle -> the brackets of its other parts.
    """

    shared: bool
    core: Parts
    adapters: dict[str, Parts]
    differences: dict[str, tuple[str, ...]]
    brackets: dict[str, Parts]


def is_core(group: str) -> bool:
    """Whether a member or plate of this group belongs to the core."""
    return group.startswith(("cradle ", "link "))


def core_of(made: Generated) -> Parts:
    """Cradles and links of a frame."""
    return _parts(made, is_core)


def adapter_of(made: Generated) -> Parts:
    """Legs and foot plates of a frame."""
    return _parts(made, lambda group: group.startswith("leg "))


def brackets_of(made: Generated) -> Parts:
    """Brackets of a frame."""
    return _parts(made, lambda group: group.startswith("bracket "))


def _parts(made: Generated, wanted: Callable[[str], bool]) -> Parts:
    members = tuple(m for m in made.frame.members if wanted(m.group))
    plates = tuple(p for p in made.frame.plates if wanted(p.group))
    mass = sum(piece.mass_item(made.frame.material).mass.value for piece in (*members, *plates))
    return Parts(members, plates, mass)


def core_pieces(made: Generated) -> dict[Piece, str]:
    """Every piece of the core by its shape and its place from the first cradle's corner -> its name.

    Two frames whose pieces agree have the same core, wherever it stands in the vehicle; not so when it is turned.
    """
    origin = made.cradles[0].box.lo
    found: dict[Piece, str] = {}
    core = core_of(made)
    for m in core.members:
        numbers = [p - o for end in sorted((m.start, m.end)) for p, o in zip(end, origin, strict=True)]
        found[m.section.name, _rounded(numbers)] = m.name
    for p in core.plates:
        corners = (p.pose.point((0.0, 0.0, 0.0)), p.pose.point(p.size))
        numbers = [v - o for end in sorted(corners) for v, o in zip(end, origin, strict=True)]
        found["plate", (*_rounded(numbers), *_rounded([v for hole in p.holes for v in hole]))] = p.name
    return found


def _rounded(numbers: list[float]) -> tuple[int, ...]:
    return tuple(round(v / ALIKE_MM) for v in numbers)


def family(frames: Mapping[str, Generated]) -> Family:
    """Hold the frames of several vehicles against each other.

    Args:
        frames: Vehicle -> its frame; at least one. All are held against the first.

    Returns:
        The shared core, one adapter for each, and what differs where a core is not the same.

    Raises:
        ValueError: for no frames, or one without a cradle.
    """
    names = list(frames)
    if not names or any(not frames[name].cradles for name in names):
        raise ValueError("no frames, or one without a cradle; allowed: one or more frames that carry modules")
    first = frames[names[0]]
    pieces = core_pieces(first)
    differences: dict[str, tuple[str, ...]] = {}
    for name in names[1:]:
        own = core_pieces(frames[name])
        only = [own[key] for key in own if key not in pieces]
        lacking = [f"lacks {pieces[key]}" for key in pieces if key not in own]
        if only or lacking or frames[name].frame.material != first.frame.material:
            differences[name] = (*only, *lacking) or (f"material {frames[name].frame.material.name}",)
    adapters = {name: adapter_of(frames[name]) for name in names}
    brackets = {name: brackets_of(frames[name]) for name in names}
    return Family(not differences, core_of(first), adapters, differences, brackets)

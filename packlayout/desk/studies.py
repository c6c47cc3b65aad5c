"""The whole calculations that have come in: found again by what they are of, and the last one to draw from."""

from dataclasses import dataclass

from packlayout.desk.operations import block_name
from packlayout.desk.state import State
from packlayout.model.brief import Aims, Clearances
from packlayout.model.geometry import MassItem
from packlayout.model.layout import Layout, Placement
from packlayout.study import Study, made_items

KEPT = 12

Key = tuple[tuple[tuple[object, ...], ...], Clearances, Aims]
"""All of a state that a whole calculation goes by: locks, goods and what is out are not in it."""


def key_of(state: State) -> Key:
    """What a whole calculation of a state is found by."""
    stands = tuple((p.name, p.part, p.zone, p.at, p.up, p.turn_deg, p.block) for p in state.layout.placements)
    return stands, state.clearances, state.aims


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """The calculation that frame, cables and their figures are shown from.

    Attributes:
        number: Its own, from 1; another one has another.
        key: What it is of.
        state: Likewise, whole.
        study: It.
    """

    number: int
    key: Key
    state: State
    study: Study


class Studies:
    """The last few calculations."""

    def __init__(self) -> None:
        self._by: dict[Key, Drawn] = {}
        self._count = 0
        self.drawn: Drawn | None = None

    def take(self, state: State, study: Study) -> None:
        """One has come in."""
        self._count += 1
        self.drawn = Drawn(self._count, key_of(state), state, study)
        self._by.pop(self.drawn.key, None)
        self._by[self.drawn.key] = self.drawn
        while len(self._by) > KEPT:
            del self._by[next(iter(self._by))]

    def of(self, state: State) -> Study | None:
        """That of a state; None when there is none."""
        found = self._by.get(key_of(state))
        return found.study if found is not None else None

    def draw(self, state: State) -> None:
        """Show from the one of a state, if there is one; else from the last one still."""
        self.drawn = self._by.get(key_of(state), self.drawn)

    @property
    def made(self) -> tuple[MassItem, ...]:
        """What frame, cables and shaft weigh by the one that is drawn; nothing before there is one."""
        return made_items(self.drawn.study) if self.drawn is not None else ()

    def outdated(self, state: State) -> tuple[str, ...]:
        """What has changed since the one that is drawn: names of things, `clearances`, `aims`."""
        if self.drawn is None or self.drawn.key == key_of(state):
            return ()
        before = self.drawn.state
        own = ("clearances", before.clearances != state.clearances), ("aims", before.aims != state.aims)
        return (*_changed(before.layout, state.layout), *(word for word, differs in own if differs))


def _changed(before: Layout, after: Layout) -> tuple[str, ...]:
    old, new = ({p.name: p for p in layout.placements} for layout in (before, after))
    names: dict[str, None] = {}
    for name in (*new, *(n for n in old if n not in new)):
        a, b = old.get(name), new.get(name)
        if a is None or b is None or _stands(a) != _stands(b):
            block = next((p.block for p in (b, a) if p is not None), None)
            names[name if block is None else block_name(block)] = None
    return tuple(names)


def _stands(p: Placement) -> tuple[object, ...]:
    return p.part, p.zone, p.at, p.up, p.turn_deg, p.block

"""Which sections to buy: the lightest set of the stock, of at most so many different ones, that bears everything.

The tubes form three groups: the cradle's rings and posts, the bars and studs between them, the legs and links. A set
gives each group one section. Sets are tried from the lightest up, each with its own geometry, so that what is chosen
has been drawn, found clear of everything and solved.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import product

from packlayout.frame.generate import Generated
from packlayout.frame.section import tube_values
from packlayout.frame.trial import (
    Choice,
    Rooms,
    Shape,
    Trial,
    group_of,
    shape_of,
    stated,
    try_choice,
    with_choice,
)
from packlayout.model.brief import Case
from packlayout.model.catalogue import TubeSection
from packlayout.model.layout import Layout

GROUPS = ("cradle", "bars", "legs")
PLATES_MM = (6.0, 8.0, 10.0, 12.0, 15.0, 20.0)  # thicknesses a stockholder keeps (common practice, no source)
MOST_TRIALS = 40
HOPELESS = 1.6
"""A set whose groups would be used this much with the forces of the first trial is not tried."""


@dataclass(frozen=True, slots=True)
class TradeRow:
    """The lightest frame of so many different sections.

    Attributes:
        sections: How many may differ.
        choice: The set that was found.
        mass_kg: Of the frame.
        worst: Largest utilisation of tubes, welds and foot plates.
        first_frequency_hz: Of the loaded frame.
        holds: False: no set of the stock holds, this one comes nearest.
        chosen: Whether it is the one taken.
    """

    sections: int
    choice: Choice
    mass_kg: float
    worst: float
    first_frequency_hz: float | None
    holds: bool
    chosen: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Chosen:
    """The answer of the search.

    Attributes:
        trial: What is taken.
        trade: The lightest frame for each number of different sections.
        trials: How many sets were drawn and solved.
    """

    trial: Trial
    trade: tuple[TradeRow, ...]
    trials: int


def choose(
    case: Case,
    layout: Layout,
    rooms: Rooms,
    made: Generated | None = None,
    say: Callable[[str], None] | None = None,
) -> Chosen:
    """Find the lightest set.

    Args:
        case: Of the job; its brief says how many sections may differ, and the thinnest wall.
        layout: What is carried.
        rooms: Access room of the parts.
        made: The frame with the sections the brief names, when it is there already.
        say: Told what is being tried.

    Returns:
        The lightest set that holds; where none does, the one that comes nearest, and its trade rows say so. The brief's
        own sections alone when it asks for no choice, or when the frame cannot be solved at all.
    """
    shape = shape_of(with_choice(case, stated(case)), layout, rooms, made)
    first = try_choice(case, layout, stated(case), rooms, shape)
    if not case.brief.frame.choose_sections or first.uses is None:
        return Chosen(first, (), 1)
    search = _Search(case, layout, rooms, (first, shape), say)
    most = case.brief.frame.sections_at_most
    best = {count: search.lightest(count) for count in range(1, min(most + 1, len(GROUPS)) + 1)}
    taken = best[min(most, len(GROUPS))]
    least = search.least_hz
    trade = tuple(
        TradeRow(
            n,
            t.choice,
            t.mass_kg,
            t.worst,
            t.frequency_hz,
            t.holds(least) and not search.unclear(t),
            n == most,
        )
        for n, t in best.items()
    )
    return Chosen(taken, trade, len(search.trials))


def larger(case: Case) -> Case | None:
    """The case with the next larger tubes of the stock in its brief, to be placed anew with room for them.

    For a layout whose frame does not hold: its cradle was given the room of the tubes that the brief names, so larger
    ones do not fit there. Cradle, bars and legs get the same section, the thinnest wall of the next side; `design`
    picks the walls. None when the stock has none larger.
    """
    frame = case.brief.frame
    side = case.sections[frame.cradle_tube].side_mm
    more = [s for s in case.sections.values() if s.side_mm > side and s.wall_mm >= frame.least_wall_mm - 1e-9]
    if not more:
        return None
    name = min(more, key=lambda s: (s.side_mm, s.wall_mm)).name
    return with_choice(case, Choice(name, name, name, frame.plate_mm))


class _Search:
    def __init__(
        self,
        case: Case,
        layout: Layout,
        rooms: Rooms,
        first: tuple[Trial, Shape],
        say: Callable[[str], None] | None,
    ) -> None:
        self.case, self.layout, self.rooms = case, layout, rooms
        self.first, shape = first
        first_choice = self.first.choice
        self.shapes: dict[tuple[float, ...], Shape] = {self._sides(first_choice): shape}
        self.say = say or (lambda _: None)
        code = case.design_code.least_frequency
        self.least_hz = code.hz if code else None
        self.trials: dict[tuple[str, str, str], Trial] = {}
        self.trials[first_choice.cradle, first_choice.bars, first_choice.legs] = self._thicken(self.first)
        frame = case.brief.frame
        self.stock = [s for s in case.sections.values() if s.wall_mm >= frame.least_wall_mm - 1e-9]
        members = self.first.made.frame.members
        density = self.first.made.frame.material.density_kg_per_m3 * 1e-9
        self.length = {g: sum(m.length_mm for m in members if group_of(m) == g) * density for g in GROUPS}
        assert self.first.uses is not None
        peak = self.first.uses.tubes.worst.max(axis=0)
        self.peak = {
            g: max((float(u) for u, m in zip(peak, members, strict=True) if group_of(m) == g), default=0.0)
            for g in GROUPS
        }
        self.base = {
            g: max((self._w(m.section) for m in members if group_of(m) == g), default=1.0) for g in GROUPS
        }

    @staticmethod
    def _w(section: TubeSection) -> float:
        return tube_values(section).plastic_mm3

    def _sides(self, choice: Choice) -> tuple[float, ...]:
        names = (choice.cradle, choice.bars, choice.legs)
        return (*(self.case.sections[name].side_mm for name in names), choice.plate_mm)

    def _try(self, choice: Choice) -> Trial:
        key = self._sides(choice)
        if key not in self.shapes:
            self.shapes[key] = shape_of(with_choice(self.case, choice), self.layout, self.rooms)
        return try_choice(self.case, self.layout, choice, self.rooms, self.shapes[key])

    def _order(self, count: int) -> list[tuple[TubeSection, TubeSection, TubeSection]]:
        sets = [
            (cradle, bars, legs)
            for cradle, bars, legs in product(self.stock, self.stock, self.stock)
            if len({cradle.name, bars.name, legs.name}) <= count and self._fit((cradle, bars, legs))
        ]
        return sorted(sets, key=lambda s: (self._guess(s), [x.name for x in s]))

    @staticmethod
    def _fit(sections: Sequence[TubeSection]) -> bool:
        """A tube is no wider than the one it stands on: EN 1993-1-8 table 7.8 (value from memory)."""
        cradle, bars, legs = sections
        return legs.side_mm <= bars.side_mm <= cradle.side_mm

    def _guess(self, sections: Sequence[TubeSection]) -> float:
        return sum(self.length[g] * s.area_mm2 for g, s in zip(GROUPS, sections, strict=True))

    def _hopeless(self, sections: Sequence[TubeSection]) -> bool:
        return any(
            self.peak[g] * self.base[g] / self._w(s) > HOPELESS for g, s in zip(GROUPS, sections, strict=True)
        )

    def _beaten(self, sections: Sequence[TubeSection]) -> bool:
        """Weaker than a set that failed by strength in all groups, or thicker than one that found no room."""
        for trial in self.trials.values():
            old = [self.case.sections[n] for n in (trial.choice.cradle, trial.choice.bars, trial.choice.legs)]
            pairs = list(zip(sections, old, strict=True))
            if self.unclear(trial):
                if all(new.side_mm >= was.side_mm for new, was in pairs):
                    return True
            elif not trial.holds(self.least_hz) and all(self._w(new) <= self._w(was) for new, was in pairs):
                return True
        return False

    def unclear(self, trial: Trial) -> bool:
        """Whether its shape is worse than that of the sections the brief names."""
        return trial.unclear > self.first.unclear or len(trial.made.missed) > len(self.first.made.missed)

    def _thicken(self, trial: Trial, most: float = 1.0) -> Trial:
        """The same set with foot plates thick enough, unless its tubes are used more than `most`."""
        best = trial
        for thick in PLATES_MM:
            if best.plates_worst <= 1.0 or best.tubes_worst > most:
                break
            if thick > best.choice.plate_mm:
                best = self._try(replace(best.choice, plate_mm=thick))
        return best

    def lightest(self, count: int) -> Trial:
        """The lightest set of at most `count` different sections that holds; else the nearest."""
        for sections in self._order(count):
            key = (sections[0].name, sections[1].name, sections[2].name)
            if key not in self.trials:
                if len(self.trials) >= MOST_TRIALS or self._hopeless(sections) or self._beaten(sections):
                    continue
                self.say(f"trying {', '.join(dict.fromkeys(key))}")
                trial = self._try(Choice(*key, plate_mm=self.case.brief.frame.plate_mm))
                self.trials[key] = trial if self.unclear(trial) else self._thicken(trial)
            trial = self.trials[key]
            if trial.holds(self.least_hz) and not self.unclear(trial):
                return trial
        clear = [t for t in self.trials.values() if len(t.choice.names) <= count and not self.unclear(t)]
        nearest = min(clear or [self.first], key=lambda t: (t.shortfall(self.least_hz), t.mass_kg))
        return self._thicken(nearest, most=float("inf"))

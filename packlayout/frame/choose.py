"""Which sections to buy: the lightest set of the stock, of at most so many different ones, that bears everything.

The tubes form three groups: the cradle's rings and posts, the bars and studs between them, the legs and links. A set
gives each group one section: a square one to the cradle, whose tubes meet at its corners in three directions; a square
or rectangular one to the bars, which modules lie against; any to the legs. Sets are tried from the lightest up, each
with its own geometry, without the brackets of the other parts first and then with them, so that what is chosen has been
drawn, found clear of everything and solved as it is. A set holds when it does so with every mass at the far end of its
tolerance.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import product

from packlayout.frame.generate import Generated, generate
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
KINDS = {
    "cradle": ("square",),
    "bars": ("square", "rectangular"),
    "legs": ("square", "rectangular", "round"),
}
"""Shapes of tube that each group may be made of."""
PLATES_MM = (6.0, 8.0, 10.0, 12.0, 15.0, 20.0)  # thicknesses a stockholder keeps (common practice, no source)
MOST_TRIALS = 40
HOPELESS = 2.2
"""A set whose groups would be used this much with the forces of the first trial is not tried."""

OTHER_SHAPE = 0.6
"""A set of another shape is taken as weaker than one that failed below this share of its plastic moduli."""
FORESEEN = 1.1
"""A set whose shape was solved in other walls is not tried when it would be used this much by them."""
BRACED_HOPELESS = 3.0
"""The same of legs that get knee braces."""


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
    core: tuple[str, str] | None = None,
) -> Chosen:
    """Find the lightest set.

    Args:
        case: Of the job; its brief says how many sections may differ, and the thinnest wall.
        layout: What is carried.
        rooms: Access room of the parts.
        made: The frame with the sections the brief names, when it is there already.
        say: Told what is being tried.
        core: Sections of cradle and bars that are settled, so that only the legs are chosen.

    Returns:
        The lightest set that holds; where none does, the one that comes nearest, and its trade rows say so. The brief's
        own sections alone when it asks for no choice, or when the frame cannot be solved at all.
    """
    shape = shape_of(with_choice(case, stated(case)), layout, rooms, made)
    first = try_choice(case, layout, stated(case), rooms, shape)
    if not case.brief.frame.choose_sections or first.uses is None:
        return Chosen(first, (), 1)
    search = _Search(case, layout, rooms, first, say, core)
    most = case.brief.frame.sections_at_most
    found = {count: search.lightest(count) for count in range(1, min(most + 1, len(GROUPS)) + 1)}
    # what was found among more sections may need fewer
    best = {
        count: min(
            (t for t in found.values() if t is own or (search.good(t) and len(t.choice.names) <= count)),
            key=lambda t: (not search.good(t), t.mass_kg),
        )
        for count, own in found.items()
    }
    taken = best[min(most, len(GROUPS))]
    trade = tuple(
        TradeRow(
            n,
            t.choice,
            t.mass_kg,
            t.worst,
            t.frequency_hz,
            search.good(t),
            n == most,
        )
        for n, t in best.items()
    )
    return Chosen(taken, trade, len(search.trials))


def _left(trial: Trial) -> int:
    """Mounting points and parts that were not reached, and brackets that are not strong enough."""
    weak = sum(f.use.worst > 1.0 for f in trial.made.brackets)
    return len(trial.made.missed) + len(trial.made.unborne) + weak


def _peaks(trial: Trial) -> dict[str, float]:
    """Largest utilisation of the tubes of each group."""
    assert trial.uses is not None
    peak = trial.uses.tubes.worst.max(axis=0)
    members = trial.made.core.members
    return {
        g: max((float(u) for u, m in zip(peak, members, strict=True) if group_of(m) == g), default=0.0)
        for g in GROUPS
    }


def _outer(section: TubeSection) -> tuple[str, float, float]:
    """What a tube looks like from outside: those alike make one shape of frame."""
    return section.kind, section.side_mm, section.narrow_mm


class _Search:
    def __init__(
        self,
        case: Case,
        layout: Layout,
        rooms: Rooms,
        first: Trial,
        say: Callable[[str], None] | None,
        core: tuple[str, str] | None = None,
    ) -> None:
        self.case, self.layout, self.rooms = case, layout, rooms
        self.first = first
        first_choice = self.first.choice
        self.shapes: dict[tuple[object, ...], Shape] = {}
        self.whole: dict[Choice, Trial] = {}
        self.say = say or (lambda _: None)
        code = case.design_code.least_frequency
        self.least_hz = code.hz if code else None
        self.trials: dict[tuple[str, str, str], Trial] = {}
        bare = self._try(first_choice)
        self.trials[first_choice.cradle, first_choice.bars, first_choice.legs] = self._thicken(bare)
        frame = case.brief.frame
        weldable = [s for s in case.sections.values() if s.wall_mm >= frame.least_wall_mm - 1e-9]
        self.stock = {group: [s for s in weldable if s.kind in KINDS[group]] for group in GROUPS}
        if core is not None:
            self.stock |= {"cradle": [case.sections[core[0]]], "bars": [case.sections[core[1]]]}
        members = self.first.made.core.members
        density = self.first.made.frame.material.density_kg_per_m3 * 1e-9
        self.length = {g: sum(m.length_mm for m in members if group_of(m) == g) * density for g in GROUPS}
        self.peak = _peaks(self.first)
        self.base = {
            g: max((self._w(m.section) for m in members if group_of(m) == g), default=1.0) for g in GROUPS
        }

    @staticmethod
    def _w(section: TubeSection) -> float:
        values = tube_values(section)
        return (values.plastic_mm3 + values.minor_plastic_mm3) / 2

    def _sides(self, choice: Choice) -> tuple[object, ...]:
        stock = [self.case.sections[name] for name in (choice.cradle, choice.bars, choice.legs)]
        return (*(_outer(s) for s in stock), choice.plate_mm, choice.braced)

    def _try(self, choice: Choice, *, full: bool = False) -> Trial:
        """One set without brackets, which take most of the time; `full`: with them."""
        own = with_choice(self.case, choice)
        if full:
            whole = shape_of(own, self.layout, self.rooms)
            return try_choice(self.case, self.layout, choice, self.rooms, whole)
        key = self._sides(choice)
        if key not in self.shapes:
            bare = generate(own, self.layout, self.rooms, brackets=False)
            self.shapes[key] = shape_of(own, self.layout, self.rooms, bare)
        return try_choice(self.case, self.layout, choice, self.rooms, self.shapes[key])

    def _order(self, count: int) -> list[tuple[TubeSection, TubeSection, TubeSection]]:
        sets = [
            (cradle, bars, legs)
            for cradle, bars, legs in product(*(self.stock[group] for group in GROUPS))
            if len({cradle.name, bars.name, legs.name}) <= count and self._fit((cradle, bars, legs))
        ]
        return sorted(sets, key=lambda s: (self._guess(s), [x.name for x in s]))

    @staticmethod
    def _fit(sections: Sequence[TubeSection]) -> bool:
        """A tube is no wider than the one it stands on: EN 1993-1-8 table 7.8 (value from memory).

        Legs that stand on studs are held to it where they are drawn.
        """
        cradle, bars, legs = sections
        return max(legs.side_mm, bars.side_mm) <= cradle.side_mm

    def _guess(self, sections: Sequence[TubeSection]) -> float:
        return sum(self.length[g] * s.area_mm2 for g, s in zip(GROUPS, sections, strict=True))

    def _hopeless(self, sections: Sequence[TubeSection]) -> bool:
        return any(
            self.peak[g] * self.base[g] / self._w(s) > HOPELESS for g, s in zip(GROUPS, sections, strict=True)
        )

    def _beaten(self, sections: Sequence[TubeSection]) -> bool:
        """Whether a set that was tried tells enough: the same shape in other walls, or one that found no room.

        Tubes of other sides make another shape, whose legs may be shorter: there, only what is much weaker is out.
        """
        for trial in self.trials.values():
            old = [self.case.sections[n] for n in (trial.choice.cradle, trial.choice.bars, trial.choice.legs)]
            pairs = list(zip(sections, old, strict=True))
            if self.unclear(trial):
                if all(new.side_mm >= was.side_mm for new, was in pairs):
                    return True
                continue
            if all(_outer(new) == _outer(was) for new, was in pairs):
                if self._foreseen(trial, pairs) > FORESEEN:
                    return True
            elif not trial.holds(self.least_hz) and all(
                self._w(new) <= OTHER_SHAPE * self._w(was) for new, was in pairs
            ):
                return True
        return False

    def _foreseen(self, trial: Trial, pairs: Sequence[tuple[TubeSection, TubeSection]]) -> float:
        """Utilisation of the same shape in other walls, the forces taken as they were."""
        if trial.uses is None:
            return 0.0
        peaks = _peaks(trial)
        tubes = [peaks[g] * self._w(was) / self._w(new) for g, (new, was) in zip(GROUPS, pairs, strict=True)]
        new, was = pairs[0]
        walls = 0.0 if trial.uses.chords is None else float(trial.uses.chords.worst.max())
        return max(*tubes, walls * was.wall_mm / new.wall_mm)

    def unclear(self, trial: Trial) -> bool:
        """Whether its shape is worse than that of the sections the brief names."""
        return trial.unclear > self.first.unclear or _left(trial) > _left(self.first)

    def _thicken(self, trial: Trial, most: float = 1.0, *, full: bool = False) -> Trial:
        """The same set with foot plates thick enough, unless its tubes are used more than `most`."""
        best = trial
        for thick in PLATES_MM:
            if best.plates_worst <= best.most or best.tubes_worst > most:
                break
            if thick > best.choice.plate_mm:
                best = self._try(replace(best.choice, plate_mm=thick), full=full)
        return best

    def lightest(self, count: int) -> Trial:
        """The lightest set of at most `count` different sections that holds; else the nearest.

        Knee braces are tried with lighter legs than those of the lightest set without; and where no set holds.
        """
        plain = self._lightest(count)
        if plain.choice.braced:
            return plain
        good = self.good(plain)
        own = plain.choice
        legs = sorted(
            (s for s in self.stock["legs"] if s.kind == "square"), key=lambda s: (s.area_mm2, s.name)
        )
        if good:
            legs = [s for s in legs if s.area_mm2 < self.case.sections[own.legs].area_mm2]
        for section in legs:
            sections = (self.case.sections[own.cradle], self.case.sections[own.bars], section)
            choice = replace(own, legs=section.name, braced=True)
            if len(choice.names) > count or not self._fit(sections):
                continue
            if self.peak["legs"] * self.base["legs"] / self._w(section) > BRACED_HOPELESS:
                continue
            self.say(f"trying {', '.join(choice.names)} with knee braces")
            trial = self._thicken(self._try(choice))
            if not any(leg.braces for leg in trial.made.legs):
                break  # no corner has room for one
            if (good and trial.mass_kg >= plain.mass_kg) or not self.good(trial):
                continue
            whole = self._whole(trial)
            if self.good(whole) and (not good or whole.mass_kg < plain.mass_kg):
                return whole
        return plain

    def good(self, trial: Trial) -> bool:
        """Whether a set holds and finds room."""
        return trial.holds(self.least_hz) and not self.unclear(trial)

    def _lightest(self, count: int) -> Trial:
        for sections in self._order(count):
            key = (sections[0].name, sections[1].name, sections[2].name)
            if key not in self.trials:
                if len(self.trials) >= MOST_TRIALS or self._hopeless(sections) or self._beaten(sections):
                    continue
                self.say(f"trying {', '.join(dict.fromkeys(key))}")
                braced, plate = self.first.choice.braced, self.case.brief.frame.plate_mm
                trial = self._try(Choice(*key, plate_mm=plate, braced=braced))
                self.trials[key] = trial if self.unclear(trial) else self._thicken(trial)
            trial = self.trials[key]
            if self.good(trial):
                whole = self._whole(trial)
                if self.good(whole):
                    return whole
        clear = [t for t in self.trials.values() if len(t.choice.names) <= count and not self.unclear(t)]
        nearest = min(clear or [self.first], key=lambda t: (t.shortfall(self.least_hz), t.mass_kg))
        return self._thicken(self._whole(nearest), most=float("inf"), full=True)

    def _whole(self, trial: Trial) -> Trial:
        """A set that holds without brackets, with them."""
        key = trial.choice
        if key not in self.whole:
            self.whole[key] = self._thicken(self._try(trial.choice, full=True), full=True)
        return self.whole[key]

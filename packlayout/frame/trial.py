"""One set of sections, drawn and solved: the frame of a brief in these sections, and how far it is used."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from packlayout.frame.checks import check_frame, room_around
from packlayout.frame.generate import Generated, generate
from packlayout.frame.judge import Uses, uses
from packlayout.frame.model import FrameModel, frame_model
from packlayout.frame.stiffness import Floats, Solved, lowest_modes, solve
from packlayout.frame.tubes import Member
from packlayout.model.brief import Case
from packlayout.model.geometry import Box
from packlayout.model.layout import Layout
from packlayout.units import frequency_hz

Rooms = Sequence[Box]


@dataclass(frozen=True, slots=True)
class Choice:
    """A set of sections, the thickness of the foot plates, and whether legs have knee braces."""

    cradle: str
    bars: str
    legs: str
    plate_mm: float
    braced: bool = False

    @property
    def names(self) -> tuple[str, ...]:
        """The different sections in it."""
        return tuple(sorted({self.cradle, self.bars, self.legs}))


@dataclass(frozen=True, slots=True, eq=False)
class Trial:
    """One set, drawn and solved.

    Attributes:
        choice: The set.
        case: The case with the brief changed to it: `generate` makes this geometry from it.
        made: Frame.
        model: Analysis.
        solved: Its answer; None when it could not be solved.
        uses: How far everything is used; None likewise.
        frequency_hz: First natural frequency; None likewise.
        sag_left_mm: Least room that is left when the frame gives way in a crash; None likewise.
        sag_where: Tube that has it.
        unclear: Failed checks of its shape.
        mass_kg: Of the frame.
        spread: Share that all masses together may be more by their tolerances.
    """

    choice: Choice
    case: Case
    made: Generated
    model: FrameModel
    solved: Solved | None
    uses: Uses | None
    frequency_hz: float | None
    sag_left_mm: float | None
    sag_where: str
    unclear: int
    mass_kg: float
    spread: float = 0.0

    @property
    def most(self) -> float:
        """Utilisation at which everything just holds with every mass at the far end of its tolerance."""
        return 1 / (1 + self.spread)

    @property
    def tubes_worst(self) -> float:
        """Largest utilisation of tubes, welds and walls beneath tubes; infinite when unsolved."""
        if self.uses is None:
            return float("inf")
        joints = [u.worst.max() for u in (self.uses.welds, self.uses.chords) if u is not None]
        return max(float(v) for v in (self.uses.tubes.worst.max(), *joints))

    @property
    def worst(self) -> float:
        """The same with the foot plates. Bolts are the brief's matter."""
        return max(self.tubes_worst, self.plates_worst)

    @property
    def plates_worst(self) -> float:
        """Largest utilisation of foot plates."""
        return max((float(f.plate.max()) for f in self.uses.feet), default=0.0) if self.uses else 0.0

    def holds(self, least_hz: float | None) -> bool:
        """Whether it bears everything, stays clear when it gives way, and is stiff enough."""
        stiff = least_hz is None or (self.frequency_hz or 0.0) >= least_hz
        return self.worst <= self.most and stiff and (self.sag_left_mm is None or self.sag_left_mm >= 0)

    def shortfall(self, least_hz: float | None) -> float:
        """How far it is from holding: 1 is the limit."""
        slack = (least_hz / self.frequency_hz) ** 2 if least_hz and self.frequency_hz else 0.0
        return max(self.tubes_worst / self.most, slack)


def group_of(member: Member) -> str:
    """Which group of sections a tube belongs to; posts of brackets are of the tube of the bars."""
    if member.group.startswith("bracket ") or " bar " in member.name or " stud " in member.name:
        return "bars"
    return "cradle" if member.group.startswith("cradle ") else "legs"


def stated(case: Case) -> Choice:
    """The set that the brief names."""
    frame = case.brief.frame
    bars = frame.bar_tube or frame.cradle_tube
    return Choice(frame.cradle_tube, bars, frame.leg_tube, frame.plate_mm, frame.leg_braces)


def with_choice(case: Case, choice: Choice) -> Case:
    """The case with its brief changed to a set of sections."""
    update = {
        "cradle_tube": choice.cradle, "bar_tube": choice.bars, "leg_tube": choice.legs, "plate_mm": choice.plate_mm,
        "leg_braces": choice.braced,
    }  # fmt: skip
    frame = case.brief.frame.model_copy(update=update)
    return replace(case, brief=case.brief.model_copy(update={"frame": frame}))


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """One geometry, which sets of sections with the same sides share.

    Attributes:
        made: Frame, with the sections it was first drawn with.
        unclear: Failed checks of its shape.
        room: How far each tube may move, mm.
    """

    made: Generated
    unclear: int
    room: Floats


def restocked(case: Case, made: Generated) -> Generated:
    """A frame in the sections of another brief that have the same sides: what `generate` would draw again."""
    frame = case.brief.frame
    named = {"cradle": frame.cradle_tube, "bars": frame.bar_tube or frame.cradle_tube, "legs": frame.leg_tube}

    def new(members: tuple[Member, ...]) -> tuple[Member, ...]:
        # posts of brackets were judged in the tube that they were drawn in
        return tuple(
            m if m.group.startswith("bracket ") else replace(m, section=case.sections[named[group_of(m)]])
            for m in members
        )

    return replace(
        made,
        frame=replace(made.frame, members=new(made.frame.members)),
        cradles=tuple(replace(c, members=new(c.members)) for c in made.cradles),
        legs=tuple(replace(leg, members=new(leg.members), braces=new(leg.braces)) for leg in made.legs),
    )


def shape_of(case: Case, layout: Layout, rooms: Rooms, made: Generated | None = None) -> Shape:
    """The geometry that a case's brief asks for, and what room it has."""
    made = generate(case, layout, rooms) if made is None else made
    unclear = sum(c.verdict == "fail" for c in check_frame(case, layout, made, rooms))
    return Shape(made, unclear, np.array(room_around(case, layout, made)))


def try_choice(case: Case, layout: Layout, choice: Choice, rooms: Rooms, shape: Shape | None = None) -> Trial:
    """Draw, solve and judge one set.

    Args:
        case: Of the job.
        layout: What is carried.
        choice: The set.
        rooms: Access room of the parts.
        shape: Its geometry, when that is there already, be it in other walls.
    """
    own = with_choice(case, choice)
    shape = shape_of(own, layout, rooms) if shape is None else shape
    made = restocked(own, shape.made)
    model = frame_model(own, layout, made)
    blank = Trial(
        choice, own, made, model, None, None, None, None, "", shape.unclear, made.frame.mass_kg,
        mass_share(case, layout, model, made),
    )  # fmt: skip
    if model.faults or not model.cases:
        return blank
    solved = solve(model.structure, model.loads, model.line_loads)
    judged = uses(own, made, model, solved)
    hertz = frequency_hz(float(lowest_modes(model.structure, model.masses)[0]))
    left, where = _room_left(made, model, solved, shape.room)
    return replace(blank, solved=solved, uses=judged, frequency_hz=hertz, sag_left_mm=left, sag_where=where)


def mass_share(case: Case, layout: Layout, model: FrameModel, made: Generated) -> float:
    """How much more everything carried may weigh together, as a share: every mass at the far end of its tolerance."""
    held = [p for p in layout.placements if p.block is not None or p.name in model.loading.carried]
    loose = sum(case.parts[p.part].mass_kg.tolerance for p in held)
    loose += sum(item.mass.tolerance for item in made.frame.mass_items)
    return loose / model.mass_kg


def shift_of_tubes(model: FrameModel, displacements: Floats) -> Floats:
    """(c, t) how far the nodes of each tube move at most, mm."""
    far = np.linalg.norm(displacements[..., :3], axis=2)
    out = np.zeros((len(far), len(model.skeleton.lines)))
    for n, (a, b) in zip(model.tube, model.structure.bars, strict=True):
        out[:, n] = np.maximum(out[:, n], np.maximum(far[:, a], far[:, b]))
    return out


def _room_left(made: Generated, model: FrameModel, solved: Solved, room: Floats) -> tuple[float | None, str]:
    crash = [n for n, c in enumerate(model.cases) if c.kind == "crash"]
    if not crash:
        return None, ""
    left = room - shift_of_tubes(model, solved.displacements)[crash].max(axis=0)
    n = int(left.argmin())
    return float(left[n]), made.frame.members[n].name

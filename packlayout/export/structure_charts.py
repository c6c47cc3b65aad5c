"""The pictures of the frame's statics: centre lines of its tubes, coloured and drawn wide by how far they are used."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from packlayout.export.charts import LETTER, WIDTH, Chart, Look, Mark, Stroke, Words, fitting, width_of
from packlayout.export.figures import number
from packlayout.frame.design import Designed
from packlayout.frame.tubes import Member
from packlayout.model.geometry import Vec

BANDS: tuple[tuple[float, Look, str], ...] = (
    (0.25, "use-1", "up to 0.25"),
    (0.5, "use-2", "up to 0.50"),
    (0.75, "use-3", "up to 0.75"),
    (1.0, "use-4", "up to 1.00"),
    (float("inf"), "use-5", "over 1.00: fails"),
)
"""Utilisation up to which -> look, words. Wider as well as darker, so that no eye and no printer needs the colour."""

LABELLED = 8
_LEFT, _GAP = 30.0, 14.0
Flat = tuple[float, float]
_Room = tuple[float, float, float, float]
Projection = Callable[[Vec], Flat]


def look_of(use: float) -> Look:
    """Look of a tube that is used so far."""
    return next(look for most, look, _ in BANDS if use <= most)


def from_the_left(at: Vec) -> Flat:
    """Front to the left, up is up."""
    return at[0], -at[2]


def from_above(at: Vec) -> Flat:
    """Front to the left, so the vehicle's right side is at the top."""
    return at[0], -at[1]


def oblique(at: Vec) -> Flat:
    """From the front left, above: x and z as in the side view, y recedes to the upper left."""
    return at[0] - 0.35 * at[1], -at[2] - 0.35 * at[1]


@dataclass(frozen=True, slots=True)
class _View:
    """Where a projection stands in a chart."""

    flat: Projection
    left: float
    top: float
    scale: float
    low: Flat

    def at(self, point: Vec) -> Flat:
        x, y = self.flat(point)
        return self.left + self.scale * (x - self.low[0]), self.top + self.scale * (y - self.low[1])


def _spans(members: Sequence[Member], flat: Projection) -> tuple[Flat, Flat]:
    points = [flat(p) for m in members for p in (m.start, m.end)]
    return (min(x for x, _ in points), min(y for _, y in points)), (
        max(x for x, _ in points),
        max(y for _, y in points),
    )


def utilisation_chart(designed: Designed) -> Chart:
    """Side and plan view, every tube by its worst load case, the most used with their figures."""
    members = designed.made.frame.members
    uses = [use.utilisation for use in designed.members]
    spans = [_spans(members, flat) for flat in (from_the_left, from_above)]
    long = max(hi[0] - lo[0] for lo, hi in spans)
    tall = max(hi[1] - lo[1] for lo, hi in spans)
    half = (WIDTH - 3 * _LEFT) / 2
    scale = min(half / max(long, 1.0), 480.0 / max(tall, 1.0))
    top = 96.0
    marks: list[Mark] = [*_key()]
    ends: list[float] = []
    for k, (flat, (lo, hi), words) in enumerate(
        zip(
            (from_the_left, from_above),
            spans,
            ("from the left, front to the left", "from above"),
            strict=True,
        )
    ):
        left = _LEFT + k * (half + _LEFT)
        marks.append(Words(left, top - 24, words, "strong"))
        view = _View(flat, left, top, scale, lo)
        marks += _tubes(members, uses, view)
        marks += _figures(members, uses, view, (left, left + half))
        ends.append(top + scale * (hi[1] - lo[1]))
    caption = (
        "Utilisation of each tube in its worst load case, 1 is the limit; colour and width say the same. The tubes "
        "used most bear their figure; where tubes lie behind each other the one used more is drawn in front."
    )
    return Chart("Utilisation of the tubes", max(ends) + 44, tuple(marks), caption)


def case_chart(designed: Designed) -> Chart:
    """One small view for each load case, with the tube used most in it."""
    members, columns = designed.made.frame.members, 3
    lo, hi = _spans(members, oblique)
    wide = (WIDTH - (columns + 1) * _LEFT) / columns
    scale = min(wide / max(hi[0] - lo[0], 1.0), 125.0 / max(hi[1] - lo[1], 1.0))
    step = scale * (hi[1] - lo[1]) + 3.6 * LETTER + 16
    marks: list[Mark] = [*_key()]
    for n, name in enumerate(designed.cases):
        left, top = _LEFT + (n % columns) * (wide + _LEFT), 74.0 + (n // columns) * step
        uses = [use.by_case[n] for use in designed.members]
        worst = max(range(len(uses)), key=lambda k: uses[k])
        marks += [
            Words(left, top, f"{fitting(name, wide - 60, strong=True)}: {number(uses[worst], 2)}", "strong"),
            Words(left, top + 1.3 * LETTER, fitting(members[worst].name, wide), "faint"),
            *_tubes(members, uses, _View(oblique, left, top + 2.1 * LETTER, scale, lo)),
        ]
    rows = -(-len(designed.cases) // columns)
    caption = (
        "The same for each load case, seen from the front left and above; beside its name the largest utilisation and "
        "below it the tube that has it."
    )
    return Chart("Utilisation in each load case", 74.0 + rows * step, tuple(marks), caption)


def _key() -> list[Mark]:
    marks: list[Mark] = []
    x = _LEFT
    for _, look, words in BANDS:
        marks += [Stroke(((x, 20.0), (x + 44, 20.0)), look), Words(x + 54, 25.0, words)]
        x += 54 + width_of(words) + 30
    return marks


def _tubes(members: Sequence[Member], uses: Sequence[float], view: _View) -> list[Mark]:
    order = sorted(range(len(members)), key=lambda k: uses[k])
    return [Stroke((view.at(members[k].start), view.at(members[k].end)), look_of(uses[k])) for k in order]


def _figures(
    members: Sequence[Member], uses: Sequence[float], view: _View, room: tuple[float, float]
) -> list[Mark]:
    """Figures of the most used tubes beside them, none over a tube or another; one without a place is in the table."""
    lines = [(view.at(m.start), view.at(m.end)) for m in members]
    marks: list[Mark] = []
    taken: list[_Room] = []
    leaders: list[tuple[Flat, Flat]] = []
    for k in sorted(range(len(members)), key=lambda k: -uses[k])[:LABELLED]:
        (ax, ay), (bx, by) = lines[k]
        spots = [(ax + share * (bx - ax), ay + share * (by - ay)) for share in (0.5, 0.3, 0.7, 0.15, 0.85)]
        tries = ((spot, words) for far in (_GAP, 30.0, 48.0) for spot in spots
                 for words in _places(spot, number(uses[k], 2), room, far))  # fmt: skip
        for spot, words in tries:
            box = words.box
            near = min(max(spot[0], box[0] - 2), box[2] + 2), min(max(spot[1], box[1] - 1), box[3] + 1)
            clear = not _hits(box, taken) and not any(_crosses(box, *line) for line in (*lines, *leaders))
            if clear and not any(_crosses(other, spot, near) for other in taken):
                taken.append(box)
                leaders.append((spot, near))
                marks += [Stroke((spot, near), "faint"), words]
                break
    return marks


def _places(spot: Flat, text: str, room: tuple[float, float], far: float) -> list[Words]:
    x, y = spot
    made = [
        Words(x + far, y - 0.5 * far, text), Words(x - far, y - 0.5 * far, text, "", "end"),
        Words(x + far, y + LETTER + 0.3 * far, text), Words(x - far, y + LETTER + 0.3 * far, text, "", "end"),
    ]  # fmt: skip
    return [w for w in made if room[0] - 20 <= w.box[0] and w.box[2] <= room[1] + 20]


def _hits(box: _Room, taken: Sequence[_Room]) -> bool:
    return any(
        box[0] < t[2] + 4 and t[0] < box[2] + 4 and box[1] < t[3] + 2 and t[1] < box[3] + 2 for t in taken
    )


def _crosses(box: _Room, start: Flat, end: Flat) -> bool:
    """Whether a tube, up to 9 wide, runs through a box: it is walked in short steps."""
    steps = 1 + int(max(abs(end[0] - start[0]), abs(end[1] - start[1])) / 4)
    for n in range(steps + 1):
        x, y = (start[i] + (end[i] - start[i]) * n / steps for i in (0, 1))
        if box[0] - 5 < x < box[2] + 5 and box[1] - 5 < y < box[3] + 5:
            return True
    return False

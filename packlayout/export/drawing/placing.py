"""Views on a sheet: the largest standard scale at which they fit, and where each stands in its projection."""

from collections.abc import Sequence
from dataclasses import dataclass

from packlayout.export.drawing.frame_of_sheet import Projection
from packlayout.export.drawing.sheet import Rect, Sheet, Text
from packlayout.export.drawing.views import View
from packlayout.model.geometry import Vec

# ISO 5455, reduced and full size
SCALES = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
# of views that nothing is measured from, so that they fill their sheet; the standard allows them as an exception
BETWEEN = tuple(sorted((*SCALES, 2.5, 15.0, 25.0, 30.0, 40.0)))
CAPTION_MM = 3.0


@dataclass(frozen=True, slots=True)
class Placed:
    """A view on paper.

    Attributes:
        view: What is seen.
        x: Of the view's origin on the sheet, mm.
        y: The same.
        scale: Divisor: 10 for 1:10.
    """

    view: View
    x: float
    y: float
    scale: float

    def at(self, point: tuple[float, float]) -> tuple[float, float]:
        """A point of the view, mm -> on the sheet."""
        return self.x + point[0] / self.scale, self.y + point[1] / self.scale

    def seen(self, point: Vec) -> tuple[float, float]:
        """A point of the vehicle -> on the sheet."""
        return self.at(self.view.look.seen(point))

    @property
    def box(self) -> Rect:
        """The rectangle it fills on the sheet."""
        x0, y0, x1, y1 = self.view.box
        return (*self.at((x0, y0)), *self.at((x1, y1)))


def in_words(scale: float) -> str:
    """`1:10`."""
    return f"1:{scale:g}"


def scale_for(
    size: tuple[float, float], room: tuple[float, float], scales: Sequence[float] = SCALES
) -> float:
    """The largest of some scales at which something of a size, mm, fits into a room on paper."""
    return next((s for s in scales if size[0] / s <= room[0] and size[1] / s <= room[1]), scales[-1])


def size_of(view: View) -> tuple[float, float]:
    """Width and height of a view at full size."""
    return view.box[2] - view.box[0], view.box[3] - view.box[1]


def three_views(
    views: tuple[View, View, View], room: Rect, gap: tuple[float, float], projection: Projection,
    scales: Sequence[float] = SCALES,
) -> tuple[Placed, Placed, Placed]:  # fmt: skip
    """Side, front and top view in line with each other.

    First angle: what is seen from the front of the vehicle, the left end of the side view, stands to its right, and
    what is seen from above stands below it. Third angle: to its left, and above.

    Args:
        views: From the left, from the front, from above.
        room: Where on the sheet.
        gap: Between side and front view, and between side and top view.
        projection: Which of the two.
        scales: To choose from.
    """
    side, front, top = views
    wide, tall = size_of(side)[0] + size_of(front)[0], size_of(side)[1] + size_of(top)[1]
    scale = scale_for((wide, tall), (room[2] - room[0] - gap[0], room[3] - room[1] - gap[1]), scales)
    used = (wide / scale + gap[0], tall / scale + gap[1])
    left, low = room[0] + (room[2] - room[0] - used[0]) / 2, room[1] + (room[3] - room[1] - used[1]) / 2
    w, h = (tuple(v / scale for v in size_of(x)) for x in (side, front))
    top_tall = size_of(top)[1] / scale
    first = projection == "first"
    side_x = left if first else left + h[0] + gap[0]
    side_y = low + top_tall + gap[1] if first else low
    front_x = left + w[0] + gap[0] if first else left
    top_y = low if first else low + w[1] + gap[1]

    def put(view: View, x: float, y: float) -> Placed:
        return Placed(view, x - view.box[0] / scale, y - view.box[1] / scale, scale)

    # in line: the same height for side and front, the same left edge for side and top
    return (
        put(side, side_x, side_y),
        Placed(front, front_x - front.box[0] / scale, side_y - side.box[1] / scale, scale),
        Placed(top, side_x - side.box[0] / scale, top_y - top.box[1] / scale, scale),
    )


def clear_of(
    block: Rect,
    views: tuple[View, View, View],
    room: Rect,
    gap: tuple[float, float],
    projection: Projection,
    margin: float,
) -> tuple[Placed, Placed, Placed]:
    """Three views that leave a title block free: beside it where they can, else above it, smaller if need be.

    Args:
        block: What is to stay free.
        views: From the left, from the front, from above.
        room: Where on the sheet.
        gap: As for `three_views`.
        projection: Likewise.
        margin: Room for dimensions that is needed beside a view.
    """
    made = three_views(views, room, gap, projection)
    for placed in made:
        x0, y0, x1, y1 = placed.box
        if x1 + margin / 4 > block[0] and y0 - margin < block[3] and x0 < block[2] and y1 > block[1]:
            return three_views(views, (room[0], block[3] + margin, room[2], room[3]), gap, projection)
    return made


def centred(view: View, room: Rect, scales: Sequence[float] = SCALES) -> Placed:
    """A view by itself in the middle of a room."""
    size = size_of(view)
    chosen = scale_for(size, (room[2] - room[0], room[3] - room[1]), scales)
    x = (room[0] + room[2] - size[0] / chosen) / 2 - view.box[0] / chosen
    y = (room[1] + room[3] - size[1] / chosen) / 2 - view.box[1] / chosen
    return Placed(view, x, y, chosen)


def draw(sheet: Sheet, placed: Placed, *, faint: bool = False, name: str = "") -> None:
    """Draw what is seen in a view, and take its room.

    Args:
        sheet: Drawn on.
        placed: The view.
        faint: In narrow lines, as what only stands round the thing that is drawn.
        name: Of the view, for the register.
    """
    for path in placed.view.visible:
        sheet.stroke(tuple(placed.at(p) for p in path), "thin" if faint else "visible")
    sheet.take("view", name or placed.view.look.name, placed.box)


def caption(sheet: Sheet, placed: Placed, words: str, below: float) -> None:
    """Name a view under it."""
    x0, y0, x1, _ = placed.box
    sheet.write(Text((x0 + x1) / 2, y0 - below, words, CAPTION_MM, "middle"))


def spread(at: Sequence[float], apart: float, low: float, high: float) -> tuple[float, ...]:
    """Places as near to the wanted ones as may be, in their order, so far apart, within two ends.

    Args:
        at: Wanted, ascending.
        apart: Least distance; less when there is no room.
        low: Least place.
        high: Greatest place.
    """
    count = len(at)
    if not count:
        return ()
    if count > 1:
        apart = min(apart, (high - low) / (count - 1))
    # each bunch that would be too close stands about the mean of where it would like to be
    bunches: list[tuple[float, int]] = []  # (wish of its first, how many)
    for place in at:
        bunches.append((place, 1))
        while len(bunches) > 1:
            (a, n), (b, m) = bunches[-2:]
            if b - a >= n * apart:
                break
            bunches[-2:] = [((a * n + (b - n * apart) * m) / (n + m), n + m)]
    made = [first + k * apart for first, n in bunches for k in range(n)]
    shifted: list[float] = []
    for k, place in enumerate(made):
        bounded = min(max(place, low + k * apart), high - (count - 1 - k) * apart)
        shifted.append(bounded)
    return tuple(shifted)

"""Routes of cables and hoses: searched over cells, smoothed in continuous coordinates, proven by exact distance.

What is found never bends tighter than its radius and never comes nearer to a solid than its gap: both are
checked on the finished line, not on the cells. Where there is no way, the tightest spot of the widest way is
told and how much is missing.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from packlayout.model.geometry import Floats, Vec
from packlayout.space.answers import NoRoute, Route
from packlayout.space.bends import FINER, finer, fits
from packlayout.space.course import MOST_DEAR, OUTSIDE_MM, SHARED_MM, WALLS, Course, stretches, window_of
from packlayout.space.ends import End, Need
from packlayout.space.lattice import HEADINGS, Crowd, Field, State, search, steps, ways_ahead, widest
from packlayout.space.nearest import last_crossing
from packlayout.space.smooth import leaves, line_of, smooth

STEP_MM = 4.0
"""Between points of the line that is checked."""
CHORD_MM = 0.1
"""How far an arc may stand off its chords at that step and the tightest bend that is routed, 20 mm."""
LONGEST_STUB_MM = 120.0
MOST_TRIES = 10
SLANT = 0.1
"""Straight length before a slight slant beside a port, over the bend radius: enough for 11 degrees."""
SHUT_CELLS = 4
DEARER_CELLS = 15.0
TIGHT = 4
"""How many times dearer a cell is that is hardly wide enough (common practice, no source)."""
ELBOW_COST_MM = 150.0
"""What an elbow connector is worth in cable (common practice, no source)."""


def route(
    course: Course, start: End, goal: End, need: Need, also: tuple[str, ...] = (), crowd: Crowd | None = None,
    smoothed: bool = True, shun: Crowd | None = None,
) -> Route | NoRoute:  # fmt: skip
    """The shortest route between two ports that keeps its gaps and its bend radius.

    Args:
        course: Where cables may run.
        start: One end.
        goal: The other.
        need: Radius, bend, straight.
        also: Further parts whose reach it may enter, such as all modules of a pack.
        crowd: How many times dearer each cell is, flat, so that crowded places are gone round; None for no more than
            others.
        shun: The same, of cells that the smoothed line is to keep out of as well.
        smoothed: False for the first line that holds, whose tightest spot is the space's and not a shortcut's.

    Returns:
        A route, or why there is none. Same course and ends, same route.
    """
    open_ = (start.part, goal.part, *also)
    clear = _with_sleeve(course, course.open_to(open_, (start.at, goal.at)), need)
    ways_a, ways_b = _ways_out(course, clear, start, need, open_), _ways_out(course, clear, goal, need, open_)
    for end, ways in ((start, ways_a), (goal, ways_b)):
        if not ways:
            return _no_stub(course, clear, end, need, open_)
    made = steps(need.bend_mm, course.pitch_mm)
    starts = [((w.cell, _heading(w.end.direction)), w.cost_mm / course.pitch_mm) for w in ways_a]
    goals = [((w.cell, _heading(_minus(w.end.direction))), w.cost_mm / course.pitch_mm) for w in ways_b]
    dear = _tight(course, clear, need, crowd)
    dear = dear if shun is None else np.minimum(dear.astype(np.int32) + shun, 2 * MOST_DEAR).astype(np.uint8)
    far = ways_ahead(course.grid, clear, need.radius_mm, starts, goals, dear)
    for _ in range(MOST_TRIES):
        way = search(course.grid, clear, need.radius_mm, made, starts, goals, far, dear)
        if way is None and not far.whole:
            # the near cells do not do: the whole space is looked through before it is given up
            far = ways_ahead(course.grid, clear, need.radius_mm, starts, goals, dear, True)
            way = search(course.grid, clear, need.radius_mm, made, starts, goals, far, dear)
        if way is None:
            break
        a = next(w for w, (state, _) in zip(ways_a, starts, strict=True) if state == way[0][0])
        b = next(w for w, (state, _) in zip(ways_b, goals, strict=True) if state == way[-1][0])
        middles = _middles(course, way, made.corners)
        found, corners = None, middles
        # moved onto the axes of both ports; failing that, slanted towards them at one end or both
        for slants in ((False, False), (True, False), (False, True), (True, True)):
            corners = _onto_ports(middles, a.end, b.end, need, slants)
            tried = _proven(course, corners, need, a, b, open_)
            found = tried if found is None or isinstance(tried, Route) else found
            if isinstance(found, Route):
                break
        if isinstance(found, Route) and not smoothed:
            return found
        if isinstance(found, Route):

            def holds(line: Floats, a: _WayOut = a, b: _WayOut = b) -> bool:
                return isinstance(_proven(course, line, need, a, b, open_), Route)

            line = smooth(course, clear, corners, need, a.end, b.end, shun)
            shorter = _proven(course, line, need, a, b, open_)
            if not isinstance(shorter, Route) and (need.sleeve_mm or shun is not None):
                line = smooth(course, clear, corners, need, a.end, b.end, shun, holds)
                shorter = _proven(course, line, need, a, b, open_)
            return shorter if isinstance(shorter, Route) else found
        if found is None:
            # its bends do not fit once it is led onto the ports: other ways out of them are tried
            starts = [(s, cost + (DEARER_CELLS if s == way[0][0] else 0.0)) for s, cost in starts]
            goals = [(s, cost + (DEARER_CELLS if s == way[-1][0] else 0.0)) for s, cost in goals]
        elif not _shut(course, clear, found[2], {w.cell for w in (*ways_a, *ways_b)}, need):
            break
    return _blocked(course, course.open_to(open_, (start.at, goal.at)), ways_a[0].cell, ways_b[0].cell, need)


def port_cells(
    course: Course, start: End, goal: End, need: Need, also: tuple[str, ...]
) -> tuple[Field, tuple[int, int, int] | None, tuple[int, int, int] | None]:
    """The clearance a run between two ports goes by, and the first clear cell out of each; None where there is none."""
    open_ = (start.part, goal.part, *also)
    clear = course.open_to(open_, (start.at, goal.at))
    found = [
        next((way.cell for way in _ways_out(course, clear, end, need, open_)), None) for end in (start, goal)
    ]
    return clear, found[0], found[1]


def _tight(course: Course, clear: Field, need: Need, crowd: Crowd | None) -> Crowd:
    """Cells a cable fits in by less than half a cell are dearer: a line through their middles may not be moved."""
    tight = (clear < need.radius_mm + course.pitch_mm / 2).ravel() * np.uint8(TIGHT)
    return tight + crowd if crowd is not None else tight


def _shut(course: Course, clear: Field, at: Vec, ends: set[tuple[int, int, int]], need: Need) -> bool:
    """Shut the cells round a spot where a line came too near, the ends' own cells left open; False: none was open.

    Those that touch the spot, and those about it that a line may not be moved in.
    """
    centre = np.array(course.cell(np.array(at)))
    lo = np.maximum(centre - SHUT_CELLS, 0)
    window = tuple(slice(int(a), int(c) + SHUT_CELLS + 1) for a, c in zip(lo, centre, strict=True))
    view = clear[window]
    cells = np.stack(np.meshgrid(*(np.arange(n) for n in view.shape), indexing="ij"), axis=-1) + lo
    beside = np.abs(cells - centre).sum(axis=-1) <= 1
    closed = (beside | (view < need.radius_mm + course.pitch_mm / 2)) & (view > OUTSIDE_MM)
    for end in ends:
        inside = np.array(end) - lo
        if (inside >= 0).all() and (inside < view.shape).all():
            closed[tuple(inside)] = False
    if not closed[beside].any() and not (closed & (view >= need.radius_mm)).any():
        return False
    view[closed] = OUTSIDE_MM
    return True


@dataclass(frozen=True, slots=True)
class _WayOut:
    """One way out of a port: straight, or sideways from an elbow connector."""

    end: End
    port: End
    cell: tuple[int, int, int]
    cost_mm: float

    @property
    def elbow(self) -> bool:
        return self.end is not self.port


def _ways_out(course: Course, clear: Field, port: End, need: Need, open_: tuple[str, ...]) -> list[_WayOut]:
    """Straight out first; then, dearer, an elbow to each side."""
    made: list[_WayOut] = []
    stub = _stub(course, clear, port, need)
    enough = need.radius_mm + CHORD_MM
    if stub is not None and _room_for(course, port, course.middle(stub), open_, enough):
        made.append(_WayOut(port, port, stub, 0.0))
    gap = next((b.gap_mm for b in course.barriers if b.name == port.part and not b.reach), 0.0)
    rise = _way_out(course, port) + max(need.elbow_mm, need.radius_mm + gap + 1.0)
    at = np.array(port.at) + np.array(port.direction) * rise
    if not _room_for(course, port, at, open_, enough):
        return made
    for side in HEADINGS:
        if abs(side @ np.array(port.direction)) > 0.5:
            continue
        turned = End(port.part, port.port, _vec(at), _vec(side.astype(float)), port.fixed)
        cell = _stub(course, clear, turned, need)
        if cell is not None:
            made.append(_WayOut(turned, port, cell, ELBOW_COST_MM))
    return made


def _room_for(course: Course, port: End, to: Floats, open_: tuple[str, ...], enough: float) -> bool:
    """Whether what stands straight out of a port, as far as a point, keeps clear of all but its own part."""
    start, way = np.array(port.at), np.array(port.direction)
    line = np.stack([start, start + way * float((to - start) @ way)])
    own = (port.part, WALLS, *course.rooms)
    return course.worst(line, open_, lambda name: np.ones(1) if name in own else None, enough)[0] >= enough


def _vec(v: Floats) -> Vec:
    return float(v[0]), float(v[1]), float(v[2])


def _heading(direction: Vec) -> int:
    return int(np.argmax(HEADINGS @ np.array(direction)))


def _minus(v: Vec) -> Vec:
    return -v[0], -v[1], -v[2]


def _stub(course: Course, clear: Field, end: End, need: Need) -> tuple[int, int, int] | None:
    """The first cell straight out of a port that is clear, beyond the straight length."""
    way = HEADINGS[_heading(end.direction)]
    for wanted in (need.radius_mm + course.pitch_mm / 2, need.radius_mm):
        for length in np.arange(need.straight_mm, LONGEST_STUB_MM, course.pitch_mm / 2):
            cell = course.cell(np.array(end.at) + way * length)
            inside = all(0 <= k < size for k, size in zip(cell, clear.shape, strict=True))
            if inside and clear[cell] >= wanted:
                return cell
    return None


def _no_stub(course: Course, clear: Field, port: End, need: Need, open_: tuple[str, ...]) -> NoRoute:
    """What stands in front of a port, and how much too near."""
    at = np.array(port.at)
    line = np.stack([at, at + np.array(port.direction) * (_way_out(course, port) + need.elbow_mm)])
    own = (port.part, WALLS, *course.rooms)
    found, near, where = course.worst(
        line, open_, lambda name: np.ones(1) if name in own else None, need.radius_mm + CHORD_MM
    )
    missing = need.radius_mm + CHORD_MM - found
    if missing <= 0:  # clear as far as that, and no cell beyond it is
        far = at + np.outer(np.arange(need.straight_mm, LONGEST_STUB_MM, course.pitch_mm / 2), port.direction)
        cells = np.clip([course.cell(point) for point in far], 0, np.array(clear.shape) - 1)
        best = int(np.argmax(clear[tuple(cells.T)]))
        missing, where = need.radius_mm - float(clear[tuple(cells[best])]), _vec(far[best])
    return NoRoute(missing, where, near, f"no room in front of {port.part} {port.port}")


def _middles(course: Course, way: list[tuple[State, int]], bent: tuple[Floats, ...]) -> Floats:
    """Corners of the middle line through the middles of the cells of a way."""
    points: list[Floats] = [course.middle(way[0][0][0])]
    for (cell, _), step in way[:-1]:
        if step >= 0:
            points += list(course.middle(cell) + bent[step] * course.pitch_mm)
    points.append(course.middle(way[-1][0][0]))
    return _plain(np.array(points))


def _onto_ports(middles: Floats, start: End, goal: End, need: Need, slants: tuple[bool, bool]) -> Floats:
    """The line led onto the axes of both ports: moved sideways as far as its first bend allows, or slanted.

    Args:
        middles: Corners through the middles of cells.
        start: One end.
        goal: The other.
        need: Straight out of each port.
        slants: For each end, whether the line stays where it is but for a slant beside the port.
    """
    line = middles.copy()
    runs = np.abs(np.diff(line, axis=0))
    # the ways out of the ports keep their direction: a slant that is wanted goes to the longest run between
    inner = runs[1:-1].sum(axis=1)
    slant = 1 + int(np.argmax(inner)) if len(inner) else 0
    for k in range(3):
        # a coordinate is the port's until the first run along it, and the other port's from the last one on
        along = np.flatnonzero(runs[:, k] > 1e-6)
        first, last = (along[0], along[-1]) if len(along) else (slant, slant)
        if not slants[0]:
            line[: first + 1, k] += 0.0 if abs(start.direction[k]) > 0.5 else start.at[k] - middles[0, k]
        if not slants[1]:
            line[last + 1 :, k] += 0.0 if abs(goal.direction[k]) > 0.5 else goal.at[k] - middles[-1, k]
    points = list(line)
    for end, index, slanted in ((start, 0, slants[0]), (goal, -1, slants[1])):
        at = np.array(end.at)
        if slanted:
            out = at + np.array(end.direction) * (need.straight_mm + need.bend_mm * SLANT)
            points[index : index + 1 or None] = [at, out] if index == 0 else [out, at]
        else:
            points[index] = at
    return _plain(np.array(points))


def _plain(line: Floats) -> Floats:
    """Corners without those that are none."""
    keep = [line[0]]
    for k in range(1, len(line)):
        if np.linalg.norm(line[k] - keep[-1]) < 1e-6:
            continue
        if len(keep) >= 2 and _straight(keep[-2], keep[-1], line[k]):
            keep[-1] = line[k]
        else:
            keep.append(line[k])
    return np.array(keep)


def _straight(a: Floats, b: Floats, c: Floats) -> bool:
    u, v = b - a, c - b
    return bool(
        np.linalg.norm(np.cross(u, v)) <= 1e-9 * max(1.0, float(np.linalg.norm(u) * np.linalg.norm(v)))
    ) and (float(u @ v) > 0)


def _proven(
    course: Course, corners: Floats, need: Need, a: _WayOut, b: _WayOut, open_: tuple[str, ...]
) -> Route | tuple[float, str, Vec] | None:
    """The route, when its bends fit and its clearance holds exactly; else what it comes too near to, and where."""
    if not fits(corners, need.bend_mm, need.straight_mm) or not leaves(corners, a.end, b.end):
        return None
    line = line_of(corners, need)
    points = line.points(STEP_MM)
    enough = need.radius_mm + CHORD_MM
    exempt = _exempt(course, points, a, b, need)
    worst = course.worst(points, open_, exempt, enough)
    if worst[0] >= enough and need.sleeve_mm:
        thick = _worst_in_sleeve(course, points, open_, exempt, enough + need.sleeve_mm)
        if thick is not None and thick[0] < enough + need.sleeve_mm:
            return thick[0] - need.sleeve_mm, thick[1], thick[2]
    elbows = tuple((w.port.at, w.end.at) for w in (a, b) if w.elbow)
    spare = worst[0] - enough
    return Route(line, spare, worst[1], worst[2], elbows) if spare >= 0 else worst


def _worst_in_sleeve(
    course: Course,
    points: Floats,
    open_: tuple[str, ...],
    exempt: Callable[[str], Floats | None],
    enough: float,
) -> tuple[float, str, Vec] | None:
    """The least clearance of the segments that touch a box for sleeves; None where there are none."""
    inside = course.sleeved(points)
    found: list[tuple[float, str, Vec]] = []
    for begin, end in stretches(inside[1:] | inside[:-1]):

        def free(name: str, begin: int = begin, end: int = end) -> Floats | None:
            held = exempt(name)
            return np.repeat(held[begin:end], FINER) if held is not None else None

        found.append(course.worst(finer(points[begin : end + 1]), open_, free, enough))
    return min(found, key=lambda f: f[0], default=None)


def _with_sleeve(course: Course, clear: Field, need: Need) -> Field:
    """Less clearance in the boxes where the cable is thicker; changes the field."""
    if need.sleeve_mm:
        for box in course.sleeves:
            window = window_of(box, course.origin, course.pitch_mm, clear.shape)
            if window is not None:
                clear[window] -= np.float32(need.sleeve_mm)
    return clear


def _exempt(
    course: Course, points: Floats, a: _WayOut, b: _WayOut, need: Need
) -> Callable[[str], Floats | None]:
    """Which segments need not keep from the part they come straight out of: those of the stub."""
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    middles = (along[1:] + along[:-1]) / 2
    rooms = course.rooms

    def free(name: str) -> Floats | None:
        out = np.zeros(len(middles))
        for way, distance in ((a, middles), (b, along[-1] - middles)):
            if name in rooms:
                out = np.maximum(out, distance < SHARED_MM)
            elif name == WALLS and way.port.fixed:
                out = np.maximum(out, distance < need.straight_mm + 2 * need.radius_mm)
            elif name == way.port.part and not way.elbow:
                gap = next((x.gap_mm for x in course.barriers if x.name == name), 0.0)
                out = np.maximum(out, distance < _way_out(course, way.port) + need.radius_mm + gap + STEP_MM)
        return out if out.any() else None

    return free


def _way_out(course: Course, end: End) -> float:
    """How far from a port its own part's surface reaches along the way out, mm; nought where it lies on it."""
    for barrier in course.barriers:
        if barrier.name == end.part and not barrier.reach:
            return last_crossing(np.array(end.at), np.array(end.direction), barrier.mesh.triangles)
    return 0.0


def _blocked(
    course: Course, clear: Field, a: tuple[int, int, int], b: tuple[int, int, int], need: Need
) -> NoRoute:
    found = widest(course.grid, clear, a, b, OUTSIDE_MM / 2)
    if found is None:
        x, y, z = (float(v) for v in course.middle(a))
        return NoRoute(
            None,
            (x, y, z),
            "",
            "the two ends lie in spaces that are not joined: a cable way is wanted between them",
        )
    width, cell = found
    x, y, z = (float(v) for v in course.middle(cell))
    _, near, _ = course.worst(np.array([[x, y, z], [x, y, z]]), (), lambda _: None, need.radius_mm)
    if width >= need.radius_mm:
        return NoRoute(None, (x, y, z), near,
                       f"wide enough everywhere, but a bend of {need.bend_mm:.0f} mm finds no room")  # fmt: skip
    return NoRoute(need.radius_mm - width, (x, y, z), near,
                   f"the tightest spot is {need.radius_mm - width:.0f} mm too narrow on each side")  # fmt: skip

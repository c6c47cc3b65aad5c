"""Why not one more: the smallest single changes to the job that let another module in, each solved again.

A change is first tried on the modules alone, over half-space tables: where they cannot stand, nothing can. What
passes is solved whole and verified outside the search before it is told.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from packlayout.model.brief import Case
from packlayout.model.catalogue import SignedAxis
from packlayout.model.geometry import MassItem, TriMesh, Vec
from packlayout.model.layout import axis
from packlayout.placement.blocks import may_stand, splits
from packlayout.placement.clear import space_of
from packlayout.placement.paths import WORDS
from packlayout.placement.result import Change
from packlayout.placement.solve import Deadline, first_valid, setting

FARTHEST_MM, FINEST_MM = 160.0, 5.0
SIDES: tuple[SignedAxis, ...] = ("+x", "-x", "+y", "-y", "+z", "-z")
MOST_WHOLE, MOST_MAY = 8, 120  # tries, so that the answer comes in reasonable time

Trial = Callable[[float], Case]


class _Tries:
    """Solves changed jobs and counts how often."""

    def __init__(self, burden: Sequence[MassItem], seed: int, count: int, deadline: Deadline) -> None:
        self.burden, self.seed, self.count, self.deadline = burden, seed, count, deadline
        self.left, self.looks = MOST_WHOLE, MOST_MAY

    def may(self, case: Case) -> bool:
        """Whether the modules alone may stand; False is a proof on the cells."""
        order = case.brief.modules
        if self.looks <= 0 or self.left <= 0 or self.deadline.passed():
            return False
        self.looks -= 1
        if order.loose:
            return True
        spaces = [space_of(case, zone) for zone in order.zones]
        return any(may_stand(case, spaces, s) for s in splits(self.count, order.blocks_at_most))

    def whole(self, case: Case) -> bool:
        """Whether everything stands and holds outside the search."""
        if self.left <= 0 or self.deadline.passed():
            return False
        self.left -= 1
        return first_valid(setting(case, self.burden, self.seed), self.count) is not None

    def smallest(self, make: Trial) -> float | None:
        """The smallest size, in steps of 5 mm, at which everything stands; None up to the farthest."""
        size = FINEST_MM
        while not self.may(make(size)):
            size *= 2
            if size > FARTHEST_MM or self.looks <= 0:
                return None
        low, high = (size / 2 if size > FINEST_MM else 0.0), size
        while high - low > FINEST_MM + 1e-9:
            middle = round((low + high) / 2 / FINEST_MM) * FINEST_MM
            low, high = (low, middle) if self.may(make(middle)) else (middle, high)
        for more in (0.0, 15.0):
            if high + more <= FARTHEST_MM and self.whole(make(high + more)):
                return high + more
        return None


def changes(
    case: Case, burden: Sequence[MassItem], seed: int, count: int, deadline: Deadline
) -> tuple[Change, ...]:
    """Single changes that let this many modules in, lengths first, smallest first.

    Args:
        case: The job as it is.
        burden: As for `place`.
        seed: As for `place`.
        count: One more than was placed.
        deadline: Stops between two tries.

    Returns:
        Each was solved again and held outside the search.
    """
    tries = _Tries(burden, seed, count, deadline)
    found: list[Change] = []
    for part in (_clearances, _surfaces, _keep_outs, _orientations, _parts):
        found += part(case, tries)
    return tuple(sorted(found, key=lambda c: (c.size_mm == 0, c.size_mm, c.words)))


def _said(words: str, count: int) -> str:
    return f"{words}: {count} modules then fit."


def _keep_outs(case: Case, tries: _Tries) -> list[Change]:
    """Each keep-out that is in the way, moved the shortest way."""
    found: list[Change] = []
    for name, mesh in case.keep_outs.items():
        if not tries.may(_without(case, name)):
            continue
        best: tuple[float, Vec] | None = None
        for side in SIDES:
            way = axis(side)
            size = tries.smallest(partial(_shifted, case, name, mesh, way))
            if size is not None and (best is None or size < best[0]):
                best = (size, way)
        if best is not None:
            words = _said(f"Move {name} {best[0]:.0f} mm {WORDS[best[1]]}", tries.count)
            found.append(Change(words, best[0], tries.count, "keep-out"))
        elif tries.whole(_without(case, name)):
            words = _said(f"Take {name} away", tries.count)
            found.append(Change(words, 0.0, tries.count, "keep-out"))
    return found


def _without(case: Case, name: str) -> Case:
    vehicle = case.vehicle.model_copy(
        update={"keep_outs": tuple(k for k in case.vehicle.keep_outs if k.name != name)}
    )
    return replace(case, vehicle=vehicle, keep_outs={k: m for k, m in case.keep_outs.items() if k != name})


def _shifted(case: Case, name: str, mesh: TriMesh, way: Vec, by: float) -> Case:
    moved = TriMesh(mesh.vertices + np.array(way) * by, mesh.faces)
    return replace(case, keep_outs={**case.keep_outs, name: moved})


def _clearances(case: Case, tries: _Tries) -> list[Change]:
    """Each clearance made smaller."""
    found: list[Change] = []
    now = case.brief.clearances
    words = {
        "body_mm": "to the body",
        "parts_mm": "between parts",
        "moving_mm": "to moving things",
        "hot_mm": "to hot things",
    }
    for key, name in words.items():
        value = float(getattr(now, key))

        def smaller(by: float, key: str = key, value: float = value) -> Case:
            kept = now.model_copy(update={key: max(0.0, value - by)})
            return replace(case, brief=case.brief.model_copy(update={"clearances": kept}))

        if value <= 0 or not tries.may(smaller(value)):
            continue
        size = tries.smallest(smaller)
        if size is not None and size - FINEST_MM < value:
            left = max(0.0, value - size)
            said = _said(f"Reduce the clearance {name} from {value:g} to {left:g} mm", tries.count)
            found.append(Change(said, value - left, tries.count, "clearance"))
    return found


def _surfaces(case: Case, tries: _Tries) -> list[Change]:
    """The open side of a zone moved out, between as few stations as will do."""
    found: list[Change] = []
    for zone in case.vehicle.zones:
        if zone.name not in case.brief.modules.zones:
            continue
        mesh = case.zones[zone.name]
        for side in dict.fromkeys(("+z", *zone.opens)):
            way = axis(side)
            if not tries.may(_moved(case, zone.name, way, FARTHEST_MM, mesh.bounds.lo[0], mesh.bounds.hi[0])):
                continue
            even = [float(x) for x in np.linspace(mesh.bounds.lo[0], mesh.bounds.hi[0], 6)]
            stops = [float(s.x) for s in zone.stations] if zone.stations else even
            size = tries.smallest(partial(_moved_between, case, zone.name, way, (stops[0], stops[-1])))
            if size is None:
                continue
            first, last = 0, len(stops) - 1
            while last - first > 1 and tries.may(
                _moved(case, zone.name, way, size, stops[first + 1], stops[last])
            ):
                first += 1
            while last - first > 1 and tries.may(
                _moved(case, zone.name, way, size, stops[first], stops[last - 1])
            ):
                last -= 1
            if not tries.whole(_moved(case, zone.name, way, size, stops[first], stops[last])):
                first, last = 0, len(stops) - 1
            what = "Raise" if side == "+z" else "Lower" if side == "-z" else "Move out"
            words = (
                f"{what} the {WORDS[way].removesuffix('ward')} side of {zone.name} by {size:.0f} mm between "
                f"x = {stops[first]:.0f} and {stops[last]:.0f}"
            )
            found.append(Change(_said(words, tries.count), size, tries.count, "surface"))
    return found


def _moved_between(case: Case, zone: str, way: Vec, span: tuple[float, float], by: float) -> Case:
    return _moved(case, zone, way, by, *span)


def _moved(case: Case, zone: str, way: Vec, by: float, first: float, last: float) -> Case:
    """A zone with the part of its surface that looks one way moved out, between two values of x."""
    mesh = case.zones[zone]
    t = mesh.triangles
    normal = np.cross(t[:, 1] - t[:, 0], t[:, 2] - t[:, 0])
    facing = normal @ np.array(way) > 0.35 * np.linalg.norm(normal, axis=1)
    corners = np.unique(mesh.faces[facing])
    x = mesh.vertices[corners, 0]
    corners = corners[(x >= first - 1e-6) & (x <= last + 1e-6)]
    moved = mesh.vertices.copy()
    moved[corners] += np.array(way) * by
    return replace(case, zones={**case.zones, zone: TriMesh(moved, mesh.faces)})


def _orientations(case: Case, tries: _Tries) -> list[Change]:
    """Each face of the module that may not be up, allowed."""
    found: list[Change] = []
    key = case.brief.modules.part
    part = case.parts[key]
    for side in SIDES:
        if side in part.up:
            continue
        other = part.model_copy(update={"up": (*part.up, side)})
        changed = replace(case, parts={**case.parts, key: other})
        if tries.may(changed) and tries.whole(changed):
            words = f"Let {part.name} stand with its {side} face up, if its maker allows it"
            found.append(Change(_said(words, tries.count), 0.0, tries.count, "orientation"))
    return found


def _parts(case: Case, tries: _Tries) -> list[Change]:
    """Each other part in the zones of the modules, put elsewhere."""
    found: list[Change] = []
    if not tries.may(case):
        return found
    for n, order in enumerate(case.brief.parts):
        if not set(order.zones) & set(case.brief.modules.zones):
            continue
        rest = tuple(o for m, o in enumerate(case.brief.parts) if m != n)
        changed = replace(case, brief=case.brief.model_copy(update={"parts": rest}))
        if tries.whole(changed):
            words = (
                f"Put {order.name or case.parts[order.part].name} elsewhere than in {', '.join(order.zones)}"
            )
            found.append(Change(_said(words, tries.count), 0.0, tries.count, "part"))
    return found

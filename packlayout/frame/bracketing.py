"""Which parts want a bracket, and one for each of them, in the order of the layout."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

from packlayout.frame.brackets import (
    ENOUGH,
    Found,
    Task,
    find,
    fixing_of,
    pushed_by,
    rules_of,
    together,
    with_found,
)
from packlayout.frame.cradle import Cradle
from packlayout.frame.site import Site, site_of
from packlayout.frame.tubes import Member, Plate, member_box, plate_box
from packlayout.frame.welding import throat_of, weld_mpa
from packlayout.model.brief import Case
from packlayout.model.geometry import Box
from packlayout.model.layout import Layout, Placement

HEAVY_KG = 2.0
FEET_THREADS = ("M8", "M6")  # of a bracket's own bolts (common practice, no source)


def brackets_for(
    case: Case, layout: Layout, rooms: Sequence[Box],
    frame: tuple[Sequence[Cradle], Sequence[Member], Sequence[Plate]],
) -> tuple[tuple[Found, ...], tuple[tuple[str, str], ...]]:  # fmt: skip
    """A bracket for each part that is no module.

    One after the other, in the order of the layout; where one of a zone finds no room or is not strong enough, it goes
    first; where that leaves another out, the two share a bracket.

    Args:
        case: Supplies stock, surfaces, masses, load cases.
        layout: Where the parts stand.
        rooms: Access room of placed parts, vehicle axes.
        frame: Cradles, and all tubes and plates that are there already.

    Returns:
        The brackets, and (part, why) for each part that none was found for.
    """
    wanted = [p for p in layout.placements if _wants_one(case, layout, p)]
    found: list[Found] = []
    unborne: list[tuple[str, str]] = []
    for zone in dict.fromkeys(p.zone for p in wanted):
        site = _site(case, layout, zone, rooms, frame)
        here = [p for p in wanted if p.zone == zone]
        best = _round(case, [(p,) for p in here], site)
        if best.late:
            # those that found no room, or only at a price, go first
            late = [p for p in here if p.name in best.late]
            again = _round(case, [(p,) for p in (*late, *(p for p in here if p not in late))], site)
            tried = [best, again]
            # and where that leaves others out, the two share a bracket
            for pair in product(late, [p for p in here if p.name in again.late]):
                if site.tubes and pair[0] != pair[1]:
                    rest = [(p,) for p in here if p not in pair]
                    tried.append(_round(case, [pair, *rest], site))
            best = min(tried, key=lambda r: (len(r.bad), r.mass_kg))
        found += best.found
        unborne += best.unborne
    rank = {p.name: n for n, p in enumerate(layout.placements)}
    found.sort(key=lambda f: rank[f.bracket.parts[0]])
    return tuple(found), tuple(sorted(unborne, key=lambda row: rank[row[0]]))


@dataclass(frozen=True, slots=True, eq=False)
class _Round:
    """The parts of a zone in one order.

    Attributes:
        bad: Names of those that got no bracket, or one that is not strong enough; not those that state no holes.
        late: These, and those that the body carries by a heavy one although there is a cradle near.
        mass_kg: Of all.
        found: Brackets.
        unborne: (part, why).
    """

    bad: frozenset[str]
    late: frozenset[str]
    mass_kg: float
    found: tuple[Found, ...]
    unborne: tuple[tuple[str, str], ...]


def _round(case: Case, order: Sequence[tuple[Placement, ...]], site: Site) -> _Round:
    found, unborne = _in_order(case, order, site)
    bad = {name for f in found if f.use.worst > ENOUGH for name in f.bracket.parts}
    held = {name for f in found for name in f.bracket.parts}
    parts = [p for group in order for p in group]
    bad |= {p.name for p in parts if p.name not in held and not isinstance(fixing_of(case, p), str)}
    metal = case.materials[case.brief.frame.material]
    weights = [f.mass_kg(metal) for f in found]
    heavy = {
        name
        for f, kg in zip(found, weights, strict=True)
        if site.tubes and f.bracket.cradle is None and kg > HEAVY_KG
        for name in f.bracket.parts
    }
    return _Round(frozenset(bad), frozenset(bad | heavy), sum(weights), tuple(found), tuple(unborne))


def _in_order(
    case: Case, order: Sequence[tuple[Placement, ...]], site: Site
) -> tuple[list[Found], list[tuple[str, str]]]:
    """A bracket for each part or pair of a zone, each out of the way of those before it."""
    frame = case.brief.frame
    post = case.sections[frame.bar_tube or frame.cradle_tube]
    throat = throat_of(case, post.wall_mm)
    rules = rules_of(case, throat, weld_mpa(case, case.materials[frame.material]))
    feet = tuple(case.threads[name] for name in FEET_THREADS if name in case.threads)
    feet = feet or tuple(sorted(case.threads.values(), key=lambda t: t.clearance_hole_mm)[:1])
    found: list[Found] = []
    unborne: list[tuple[str, str]] = []
    for parts in order:
        fixings = [fixing_of(case, part) for part in parts]
        good = [f for f in fixings if not isinstance(f, str)]
        fixing = together(good) if len(good) == len(parts) else None
        if fixing is None or rules is None or not feet:
            why = next(
                (f for f in fixings if isinstance(f, str)),
                "the strength of its metal or a thread is not stated",
            )
            unborne += [(part.name, why) for part in parts]
            continue
        weights = tuple((case.parts[p.part].mass_kg, case.parts[p.part].centre_of_gravity) for p in parts)
        key = (
            parts, weights, post, frame.material, frame.bolt_class, throat, id(site.body), site.open, site.boxes,
            tuple((n, m.name, m.start, m.end, m.section.name) for n, m, _ in site.tubes),
            case.design_code.load_cases, site.own_mm, feet, fixing,
        )  # fmt: skip
        pushes = tuple(pushed_by(case, part) for part in parts)
        best, why = find(Task(key, tuple(parts), fixing, site, post, pushes, rules, feet))
        if best is None:
            unborne += [(part.name, why) for part in parts]
            continue
        found.append(best)
        site = with_found(site, best)
    return found, unborne


MATE_MM = 60.0
"""Two parts whose fixing faces look at each other from less than this are bolted face to face."""


def _wants_one(case: Case, layout: Layout, part: Placement) -> bool:
    """Whether a part is to be carried by a bracket.

    Not so a module; a bracket; and a motor and a gear that are flanged together, whose bearer is made for them.
    """
    kind = case.parts[part.part].kind
    if part.block is not None or kind == "bracket":
        return False
    if kind not in FLANGED:
        return True
    own = fixing_of(case, part)
    for other in layout.placements:
        mate = case.parts[other.part].kind in FLANGED and other.name != part.name
        theirs = fixing_of(case, other) if mate else ""
        if isinstance(own, str) or isinstance(theirs, str):
            continue
        apart = (theirs.plane - own.plane) * own.sign
        if theirs.axis == own.axis and theirs.sign == -own.sign and 0 <= apart <= MATE_MM:
            return False
    return True


FLANGED = ("motor", "reduction gear")


def _site(
    case: Case, layout: Layout, zone: str, rooms: Sequence[Box],
    frame: tuple[Sequence[Cradle], Sequence[Member], Sequence[Plate]],
) -> Site:  # fmt: skip
    cradles, members, plates = frame
    site = site_of(case, layout, zone, rooms)
    boxes = [(m.name, member_box(m)) for m in members]
    boxes += [(p.name, plate_box(p)) for p in plates]
    tubes = tuple((c.number, m, member_box(m)) for c in cradles if c.zone == zone for m in c.members)
    return replace(site.with_boxes(boxes), tubes=tubes)


def parts_of(found: Found, layout: Layout) -> tuple[Placement, ...]:
    """The placements that a bracket carries."""
    by_name = {p.name: p for p in layout.placements}
    return tuple(by_name[name] for name in found.bracket.parts)

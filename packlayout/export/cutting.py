"""How tubes are cut from stock lengths and plates from stock sheets: a suggestion, found by a solver.

What a workshop buys and how wide its saw cuts is its own, from shared/stock.yaml; the figures stand in the lists.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from packlayout.export.piece_marks import PlateMark, TubeMark
from packlayout.model.stock import CuttingStock

_SOLVER_EFFORT, _SHEET_EFFORT = 0.5, 0.1
"""Deterministic time of the solver for bars and for one sheet, so that a fast and a slow machine find the same."""


@dataclass(frozen=True, slots=True)
class StockBar:
    """One length of stock and what is sawn from it.

    Attributes:
        section: Its name.
        stock_mm: Length as bought.
        cuts: (mark, pieces, length of one to the longest point), longest first.
        waste_mm: What is left over, saw cuts and the trimmed end taken off.
    """

    section: str
    stock_mm: float
    cuts: tuple[tuple[str, int, float], ...]
    waste_mm: float


def stock_bars(marks: Sequence[TubeMark], stock: CuttingStock) -> tuple[StockBar, ...]:
    """Cut every tube from as few stock lengths as the solver finds, what is left over in one piece if may be.

    Args:
        marks: What is needed.
        stock: Length of a bar, of which the first end is trimmed off square, and width of the saw cut, one for each
            piece.

    Returns:
        Bars by section, the fullest first. A piece longer than the stock is a bar of its own length.
    """
    made: list[StockBar] = []
    for section in dict.fromkeys(mark.section.name for mark in marks):
        rows = [(m.mark, len(m.members), m.longest_mm) for m in marks if m.section.name == section]
        room = stock.bar_of(section) - stock.trim_mm - stock.saw_kerf_mm
        long = [row for row in rows if row[2] > room]
        made += [
            StockBar(section, row[2], ((row[0], 1, row[2]),), 0.0) for row in long for _ in range(row[1])
        ]
        made += _packed(section, [row for row in rows if row not in long], stock)
    return tuple(made)


def _packed(section: str, rows: list[tuple[str, int, float]], stock: CuttingStock) -> list[StockBar]:
    if not rows:
        return []
    from ortools.sat.python import cp_model

    stock_mm, kerf_mm = stock.bar_of(section), stock.saw_kerf_mm
    # tenths of a millimetre, each piece with its saw cut and rounded up: what is planned can be sawn
    sizes = [int(-(-(length + kerf_mm) * 10 // 1)) for _, _, length in rows]
    room = int((stock_mm - stock.trim_mm) * 10)
    bars = _first_fit(sizes, [count for _, count, _ in rows], room)
    model = cp_model.CpModel()
    x = [
        [model.new_int_var(0, count, f"x{k}.{b}") for b in range(bars)]
        for k, (_, count, _) in enumerate(rows)
    ]
    fill = [sum(size * x[k][b] for k, size in enumerate(sizes)) for b in range(bars)]
    used = [model.new_bool_var(f"used{b}") for b in range(bars)]
    for k, (_, count, _) in enumerate(rows):
        model.add(sum(x[k]) == count)
    for b in range(bars):
        model.add(fill[b] <= room * used[b])
        if b:
            model.add(fill[b - 1] >= fill[b])
    # fewest bars; then the one that is opened last holds as little as may be
    last = model.new_int_var(0, room, "last")
    for b in range(bars):
        model.add(last >= fill[b]).only_enforce_if(
            *[used[b], *([used[b + 1].negated()] if b + 1 < bars else [])]
        )
    model.minimize((room + 1) * sum(used) + last)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = _SOLVER_EFFORT
    status = solver.solve(model)
    assert status in (cp_model.OPTIMAL, cp_model.FEASIBLE), "first fit is a solution, so there is one"
    made: list[StockBar] = []
    for b in range(bars):
        cuts = tuple(
            (mark, n, length) for k, (mark, _, length) in enumerate(rows) if (n := solver.value(x[k][b]))
        )
        if cuts:
            spent = sum(n * (length + kerf_mm) for _, n, length in cuts)
            left = stock_mm - stock.trim_mm - spent
            made.append(StockBar(section, stock_mm, tuple(sorted(cuts, key=lambda c: -c[2])), left))
    return made


def _first_fit(sizes: Sequence[int], counts: Sequence[int], room: int) -> int:
    """How many bars a simple rule needs: an upper bound for the solver."""
    bars: list[int] = []
    for size in sorted((s for s, n in zip(sizes, counts, strict=True) for _ in range(n)), reverse=True):
        for b, fill in enumerate(bars):
            if fill + size <= room:
                bars[b] += size
                break
        else:
            bars.append(size)
    return len(bars)


@dataclass(frozen=True, slots=True)
class Nested:
    """A plate on a sheet.

    Attributes:
        mark: Of the plate.
        x: Lowest corner on the sheet, mm.
        y: The same.
        turned: True when its length lies along the sheet's width.
    """

    mark: str
    x: float
    y: float
    turned: bool


def nested_plates(marks: Sequence[PlateMark], stock: CuttingStock) -> tuple[tuple[Nested, ...], ...]:
    """Lay plates of one thickness on sheets, as little of the sheet's length used as the solver finds.

    Returns:
        One tuple a sheet; plates larger than a sheet are left out.
    """
    x_max, y_max = (int(v) for v in stock.sheet)
    gap = int(-(-stock.sheet_gap_mm // 1))
    pieces: list[tuple[str, int, int]] = []
    for mark in marks:
        w, h = (int(-(-v // 1)) for v in mark.size[:2])
        if (
            min(max(w, h), x_max) == max(w, h)
            and min(w, h) + 2 * gap <= y_max
            and max(w, h) + 2 * gap <= x_max
        ):
            pieces += [(mark.mark, w, h)] * len(mark.plates)
    sheets: list[tuple[Nested, ...]] = []
    # shelf by shelf in bunches that surely go on one sheet; the solver packs each bunch
    while pieces:
        area, taken = 0, 0
        while (
            taken < len(pieces)
            and area + (pieces[taken][1] + gap) * (pieces[taken][2] + gap) <= 0.8 * x_max * y_max
        ):
            area += (pieces[taken][1] + gap) * (pieces[taken][2] + gap)
            taken += 1
        found: tuple[Nested, ...] | None = None
        while found is None:
            taken = max(taken, 1)
            found = _sheet(pieces[:taken], x_max, y_max, gap)
            if found is None:
                taken = taken * 3 // 4
        sheets.append(found)
        pieces = pieces[len(found) :]
    return tuple(sheets)


def _sheet(
    pieces: Sequence[tuple[str, int, int]], x_max: int, y_max: int, gap: int
) -> tuple[Nested, ...] | None:
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    reach = model.new_int_var(0, x_max, "reach")
    places: list[tuple[object, object, object]] = []
    across, along = [], []
    for k, (_, w, h) in enumerate(pieces):
        turned = model.new_bool_var(f"t{k}")
        x, y = model.new_int_var(gap, x_max, f"x{k}"), model.new_int_var(gap, y_max, f"y{k}")
        wide, tall = w + gap + (h - w) * turned, h + gap + (w - h) * turned
        end_x, end_y = model.new_int_var(0, x_max, f"ex{k}"), model.new_int_var(0, y_max, f"ey{k}")
        size_x, size_y = model.new_int_var(0, x_max, f"sx{k}"), model.new_int_var(0, y_max, f"sy{k}")
        model.add(size_x == wide)
        model.add(size_y == tall)
        across.append(model.new_interval_var(x, size_x, end_x, f"ix{k}"))
        along.append(model.new_interval_var(y, size_y, end_y, f"iy{k}"))
        model.add(reach >= end_x)
        if k and pieces[k - 1] == pieces[k]:
            before = places[-1]
            model.add(before[0] * y_max + before[1] <= x * y_max + y)  # type: ignore[operator]
        places.append((x, y, turned))
    model.add_no_overlap_2d(across, along)
    model.minimize(reach)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = _SHEET_EFFORT
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    return tuple(
        Nested(mark, float(solver.value(x)), float(solver.value(y)), bool(solver.value(turned)))  # type: ignore[arg-type]
        for (mark, _, _), (x, y, turned) in zip(pieces, places, strict=True)
    )

"""The best of up to three blocks on cells: against brute force, and by hand."""

from itertools import combinations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.placement.tables import Kind, Span, best_split, spots, standing, tables
from packlayout.space.cells import running_sums


def bare(value, *cells):
    """A kind that claims just its own cells."""
    return Kind(value, cells, (0, 0, 0), cells)


def most(free, kinds, blocks):
    """The best of up to so many blocks."""
    made = tables(running_sums(free), (), kinds)
    return max(0, *(best_split([made] * n).value for n in range(1, blocks + 1)))


def places(free, kind):
    """All lowest corners, by looking at each cell."""
    n = kind.cells
    return [
        at
        for at in product(*(range(s - c + 1) for s, c in zip(free.shape, n, strict=True)))
        if free[at[0] : at[0] + n[0], at[1] : at[1] + n[1], at[2] : at[2] + n[2]].all()
    ]


def apart(one, other):
    """Whether the rooms that two standing blocks claim are disjoint."""
    (p, a), (q, b) = one, other
    return any(
        a[k] + p.after[k] <= b[k] - q.before[k] or b[k] + q.after[k] <= a[k] - p.before[k] for k in range(3)
    )


def brute(free, kinds, blocks):
    """The same by trying every choice of up to so many standing blocks."""
    every = [(kind, at) for kind in kinds for at in places(free, kind)]
    best = max((kind.value for kind, _ in every), default=0)
    pairs = (
        [(a, b) for a, b in combinations(range(len(every)), 2) if apart(every[a], every[b])]
        if blocks > 1
        else []
    )
    good = set(pairs)
    for a, b in pairs:
        best = max(best, every[a][0].value + every[b][0].value)
        if blocks > 2:
            for c in range(b + 1, len(every)):
                if (a, c) in good and (b, c) in good:
                    best = max(best, every[a][0].value + every[b][0].value + every[c][0].value)
    return best


# ---------------------------------------------------------------- by hand


def test_three_bars_that_no_plane_parts():
    """Bars along x, y and z that pass one another: the only choice of three, and no single plane frees one."""
    free = np.zeros((3, 3, 3), dtype=bool)
    free[:, 0, 0] = free[0, :, 2] = free[2, 2, :] = True
    kinds = [bare(5, 3, 1, 1), bare(5, 1, 3, 1), bare(5, 1, 1, 3)]
    assert most(free, kinds, 3) == 15
    assert brute(free, kinds, 3) == 15


def test_a_gap_between_blocks_is_kept():
    free = np.ones((5, 1, 1), dtype=bool)
    close = Kind(1, (2, 1, 1), (0, 0, 0), (2, 1, 1))
    wide = Kind(1, (2, 1, 1), (0, 0, 0), (4, 3, 3))
    assert most(free, [close], 2) == 2
    assert most(free, [wide], 2) == 1


def test_room_that_must_be_open_rules_places_out():
    free = np.ones((4, 3, 1), dtype=bool)
    air = np.ones((4, 3, 1), dtype=bool)
    air[3] = False
    kind = Kind(1, (2, 1, 1), (0, 0, 0), (2, 1, 1), ((0, (2, 0, 0), (3, 1, 1)),))
    at = spots(running_sums(free), (running_sums(air),), kind)
    assert [tuple(row) for row in np.argwhere(at)] == [(0, 0, 0), (0, 1, 0), (0, 2, 0)]


# ---------------------------------------------------------------- reference: brute force

CASES = st.tuples(
    st.tuples(st.integers(2, 4), st.integers(2, 4), st.integers(1, 3)),
    st.integers(0, 2**31 - 1),
    st.floats(0.6, 1.0),
    st.lists(
        st.tuples(st.integers(1, 6), st.integers(1, 3), st.integers(1, 3), st.integers(1, 2), st.integers(0, 1)),
        min_size=1, max_size=3,
    ),
)  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(CASES, st.integers(1, 3))
def test_equal_to_brute_force(drawn, blocks):
    shape, seed, share, rows = drawn
    free = np.random.default_rng(seed).random(shape) < share
    kinds = [Kind(value, (a, b, c), (0, gap, 0), (a + gap, b, c + gap)) for value, a, b, c, gap in rows]
    assert most(free, kinds, blocks) == brute(free, kinds, blocks)


# ---------------------------------------------------------------- invariant


@settings(max_examples=60, deadline=None)
@given(CASES)
def test_what_is_traced_back_stands_and_is_disjoint(drawn):
    shape, seed, share, rows = drawn
    free = np.random.default_rng(seed).random(shape) < share
    kinds = [Kind(value, (a, b, c), (0, 0, 0), (a, b, c)) for value, a, b, c, _ in rows]
    sums = running_sums(free)
    sets = [tables(sums, (), [kind]) for kind in kinds]
    found = best_split(sets)
    if found.value <= 0:
        return
    picked = [
        standing(sums, (), [kind], kind.value, span) for kind, span in zip(kinds, found.spans, strict=True)
    ]
    assert found.value == sum(kind.value for kind, _ in picked)
    assert all(at in places(free, kind) for kind, at in picked)
    assert all(apart(a, b) for a, b in combinations(picked, 2))


# ---------------------------------------------------------------- refusal


def test_nothing_stands_where_nothing_is_free():
    free = np.zeros((3, 3, 3), dtype=bool)
    assert most(free, [bare(1, 1, 1, 1)], 3) == 0
    with pytest.raises(AssertionError):
        standing(running_sums(free), (), [bare(1, 1, 1, 1)], 1, Span((0, 0, 0), (3, 3, 3)))

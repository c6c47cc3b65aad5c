"""The most boxes on a lattice: by hand, against trying everything, and the conditions against each pair of places."""

from itertools import combinations, product

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.placement.bound import Way, windows
from packlayout.placement.lattice import Stand, conditions, most


def points(lo, hi, at):
    """Points of a box from its first one."""
    return set(product(*(range(a + i, b + i) for a, b, i in zip(lo, hi, at, strict=True))))


def apart(stands, one, other):
    """Whether two places go together: no box in the other or in its room; rooms may lie in each other."""
    (s, at), (t, by) = one, other
    a, b = points((0, 0, 0), stands[s].holds, at), points((0, 0, 0), stands[t].holds, by)
    rooms = [points(*stands[n].room, p) if stands[n].room else set() for n, p in (one, other)]
    return not (a & b or rooms[0] & b or rooms[1] & a)


def brute(stands, places):
    """The most value by trying every choice."""
    best = 0

    def add(chosen, value, first):
        nonlocal best
        best = max(best, value)
        for n in range(first, len(places)):
            if all(apart(stands, places[n], places[m]) for m in chosen):
                add([*chosen, n], value + stands[places[n][0]].value, n + 1)

    add([], 0, 0)
    return best


def looking(k, side, holds, deep):
    """The room in front of one side of a box."""
    lo, hi = [0, 0, 0], [*holds]
    lo[k], hi[k] = (holds[k], holds[k] + deep) if side > 0 else (-deep, 0)
    return (lo[0], lo[1], lo[2]), (hi[0], hi[1], hi[2])


ONE = st.tuples(
    st.tuples(st.integers(1, 2), st.integers(1, 2), st.integers(1, 2)), st.integers(0, 2), st.sampled_from((-1, 0, 1)),
    st.integers(1, 3), st.integers(1, 3),
)  # fmt: skip


def drawn(seed, rows):
    """Stands with a few places each."""
    rng = np.random.default_rng(seed)
    made = []
    for holds, k, side, deep, value in rows:
        may = rng.random((3, 3, 2)) < 0.3
        made.append(Stand(holds, may, looking(k, side, holds, deep) if side else None, value))
    return made


# ---------------------------------------------------------------- by hand


def test_three_bars_in_a_row_of_seven():
    stand = Stand((2, 1, 1), np.ones((6, 1, 1), dtype=bool))
    found = most([stand], 5.0)
    assert (found.value, found.bound, found.proven, found.places) == (3, 3, True, 6)


def test_two_that_face_each_other_share_the_room_between_them():
    """Five points: a box at each end looks inward; the room of two points between is asked for by both."""
    may = np.zeros((5, 1, 1), dtype=bool)
    ends = (0, 1, 0, 0), (4, -1, 0, 0)
    stands = []
    for at, side, _, _ in ends:
        own = may.copy()
        own[at] = True
        stands.append(Stand((1, 1, 1), own, looking(0, side, (1, 1, 1), 3)))
    middle = may.copy()
    middle[2] = True
    assert most(stands, 5.0).value == 2
    # a box in the middle would stand in both rooms
    assert most([*stands, Stand((1, 1, 1), middle)], 5.0).value == 2
    assert most([*stands, Stand((1, 1, 1), middle, None, 3)], 5.0).value == 3


def test_one_condition_is_enough_where_all_meet():
    """Bars of three in a row of five: all three places hold the middle point, the others' conditions say no more."""
    _, rows = conditions([Stand((3, 1, 1), np.ones((3, 1, 1), dtype=bool))])
    assert [sorted(row.tolist()) for row in rows] == [[0, 1, 2]]


def test_windows_are_taken_at_the_shift_that_has_fewest():
    """Bars of 4 points, in a row that lets them begin at 2 or 3; a lattice of every second point.

    Shifted by one, both hold 3 first; not shifted, one holds 2 first and the other 4.
    """
    may = np.zeros((6, 1, 1), dtype=bool)
    may[2:4] = True
    (stand,) = windows([Way((4, 1, 1), may)], (2, 1, 1))
    assert stand.holds == (2, 1, 1)
    assert int(stand.may.sum()) == 1


# ---------------------------------------------------------------- reference: brute force


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**31 - 1), st.lists(ONE, min_size=1, max_size=3))
def test_equal_to_trying_everything(seed, rows):
    stands = drawn(seed, rows)
    found = most(stands, 10.0)
    assert found.value == found.bound == brute(stands, conditions(stands)[0])
    assert all(apart(stands, a, b) for a, b in combinations(found.chosen, 2))
    assert found.value == sum(stands[s].value for s, _ in found.chosen)


# ---------------------------------------------------------------- invariant


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**31 - 1), st.lists(ONE, min_size=1, max_size=4))
def test_conditions_say_of_each_pair_whether_it_goes_together(seed, rows):
    stands = drawn(seed, rows)
    places, found = conditions(stands)
    together = {frozenset(pair) for row in found for pair in combinations(row.tolist(), 2)}
    for a, b in combinations(range(len(places)), 2):
        assert (frozenset((a, b)) in together) != apart(stands, places[a], places[b])


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**31 - 1), st.integers(2, 4))
def test_windows_never_hold_fewer_than_stand(seed, fold):
    """Boxes that stand on fine points, and the same job over every so many-th of them."""
    rng = np.random.default_rng(seed)
    sizes = [(fold + 1, fold, fold), (fold, 2 * fold, fold)]
    ways = [Way(size, rng.random((7, 6, 3)) < 0.2) for size in sizes]
    fine = most([Stand(w.holds, w.may) for w in ways], 10.0)
    assert most(windows(ways, (fold, fold, fold)), 10.0).bound >= fine.value


# ---------------------------------------------------------------- refusal


def test_nothing_where_nothing_may_stand():
    found = most([Stand((1, 1, 1), np.zeros((2, 2, 2), dtype=bool))], 5.0)
    assert (found.value, found.bound, found.chosen) == (0, 0, ())

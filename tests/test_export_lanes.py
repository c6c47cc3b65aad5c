"""Words in pictures: none covers another, no leader runs through words."""

from itertools import combinations, pairwise

from hypothesis import given
from hypothesis import strategies as st

from packlayout.export.lanes import Pointer, clipped, clusters, depth, lane


def test_by_hand() -> None:
    """Words run to the right; the leader on the right stands below, so that it is not crossed."""
    first, second, apart = lane(
        [Pointer("b", 150, 90, 80), Pointer("a", 100, 90, 80), Pointer("c", 400, 90, 80)], 1000
    )
    assert [p.text for p in (first, second, apart)] == ["a", "b", "c"]
    assert [p.row for p in (first, second, apart)] == [0, 1, 0]
    assert clusters([apart, second, first]) == ((first, second), (apart,))
    assert clipped("x" * 50) == "x" * 33 + "…"


def test_at_the_edge_words_run_to_the_left() -> None:
    (only,) = lane([Pointer("a", 980, 90, 80)], 1000)
    assert only.leftward
    assert only.end < 980


POINTERS = st.lists(
    st.builds(
        Pointer,
        text=st.just("words"),
        x=st.floats(300, 1500),
        y=st.floats(100, 900),
        width=st.floats(10, 250),
    ),
    max_size=25,
)


@given(POINTERS)
def test_nothing_overlaps(pointers: list[Pointer]) -> None:
    made = lane(pointers, 1590)
    assert len(made) == len(pointers)
    for a, b in combinations(made, 2):
        if a.row == b.row:
            assert a.end < b.begin or b.end < a.begin
        for words, other in ((a, b), (b, a)):
            if words.begin <= other.x <= words.end:
                assert other.row > words.row, (
                    "a leader comes down from its own words, past those of its neighbour"
                )
    assert sum(len(cluster) for cluster in clusters(made)) == len(made)


@given(POINTERS)
def test_clusters_share_no_upright_line(pointers: list[Pointer]) -> None:
    made = clusters(lane(pointers, 1590))
    spans = [(min(min(p.x, p.begin) for p in c), max(max(p.x, p.end) for p in c)) for c in made]
    assert all(a[1] < b[0] for a, b in pairwise(spans))
    assert depth(()) == 0

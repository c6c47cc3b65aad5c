"""A layout taken up again, and how many modules: what is moved, what is kept."""

from functools import cache
from itertools import combinations

from packlayout.mass.ledger import base_items
from packlayout.placement.again import ELSEWHERE_MM, elsewhere
from packlayout.placement.how_many import how_many
from packlayout.placement.place import place
from packlayout.placement.solve import Deadline, setting
from packlayout.placement.verify import check_layout
from tests.bays import job
from tests.generated import job_in, lofted_bay


@cache
def usual():
    """The roomy job and the layout that is best in it."""
    case = job()
    return case, place(case, base_items(case)).layouts[0].layout


def silent(_):
    """Say nothing."""


# ---------------------------------------------------------------- invariant


def test_one_part_is_put_elsewhere_and_the_others_stay():
    case, layout = usual()
    others = list(elsewhere(case, layout, base_items(case), "controller"))
    assert len(others) > 2
    spots = []
    for other in (layout, *others):
        here = {p.name: p for p in other.placements}
        spots.append((here["controller"].zone, here["controller"].at))
        assert {n: p for n, p in here.items() if n != "controller"} == {
            p.name: p for p in layout.placements if p.name != "controller"
        }
        assert [c.id for c in check_layout(case, other) if c.verdict == "fail"] == []
    for (zone, a), (other, b) in combinations(spots, 2):
        assert zone != other or max(abs(p - q) for p, q in zip(a, b, strict=True)) >= ELSEWHERE_MM


# ---------------------------------------------------------------- by hand


def test_a_count_that_is_found_is_not_looked_for_again():
    case = job(count=2)
    fit = how_many(setting(case, base_items(case), 0), base_items(case), 2, 1, Deadline(None), silent)
    assert (fit.packed, fit.proven, fit.reasons) == (2, None, ())


def test_what_was_found_outlives_an_interruption():
    case = job_in(lofted_bay(900), 20, hardware=True)

    def cut(words: str) -> None:
        if words.startswith("again"):
            raise KeyboardInterrupt

    deadline = Deadline(None)
    fit = how_many(setting(case, base_items(case), 0), base_items(case), 20, 1, deadline, cut)
    assert deadline.stopped == "interrupted"
    assert fit.packed > 0
    assert fit.reasons


# ---------------------------------------------------------------- refusal


def test_what_is_not_there_or_fixed_is_put_nowhere():
    case, layout = usual()
    assert list(elsewhere(case, layout, base_items(case), "no such part")) == []
    assert list(elsewhere(case, layout, base_items(case), "module 1")) == []

"""End plates of a block: where they stand, what they weigh, and that search, weighing and cradle agree on them."""

from dataclasses import replace

import numpy as np
import pytest

from packlayout.frame.cradle import cradle
from packlayout.mass.end_plates import clamped, counts_of, end_plate_items, row_axis
from packlayout.mass.ledger import base_items, part_items
from packlayout.placement import aims
from packlayout.placement.board import to_layout
from packlayout.placement.forms import block_forms, reserve
from packlayout.placement.place import place, spaces_of
from packlayout.placement.solve import setting, start_boards
from packlayout.placement.verify import check_layout
from tests.bays import job


def plated(thick=8.0):
    """The roomy job with end plates."""
    case = job()
    order = case.brief.modules.model_copy(update={"end_plate_mm": thick})
    return replace(case, brief=case.brief.model_copy(update={"modules": order}))


# ---------------------------------------------------------------- by hand


def test_plates_go_across_the_longest_row_and_never_before_terminals():
    assert row_axis((4, 1, 2), frozenset()) == 0
    assert row_axis((2, 2, 2), frozenset({0})) == 1
    assert row_axis((1, 1, 3), frozenset({0})) == 2
    assert row_axis((2, 1, 1), frozenset({0, 1, 2})) == 0


def test_room_and_mass_of_the_plates_of_one_block():
    case = plated()
    # 2 x 2 x 2 upright, terminals along x: the plates stand across y, 8 mm and a 2 mm liner at each end
    plain = next(f for f in block_forms(job(), 8) if f.label.startswith("2 x 2 x 2, +z up, 0 deg"))
    form = next(f for f in block_forms(case, 8) if f.label == plain.label)
    assert form.size == pytest.approx((plain.size[0], plain.size[1] + 20, plain.size[2]))
    assert [m.at[1] for m in form.members] == pytest.approx([m.at[1] + 10 for m in plain.members])
    # modules 340 x 175 x 118 with 2 mm between: a face of 682 x 238; two plates of S235, 7850 kg/m3
    assert form.plates_kg == pytest.approx(2 * 8 * 682 * 238 * 7850e-9)


def test_plates_are_weighed_where_they_stand():
    case = plated()
    layout = place(case, base_items(case)).layouts[0].layout
    plates = end_plate_items(case, layout)
    assert len(plates) == 2 * len(layout.blocks)
    assert {i.name for i in part_items(case, layout)} >= {i.name for i in plates}
    block, pair = layout.blocks[0], plates[:2]
    middle = [sum(i.position[k].value for i in pair) / 2 for k in range(3)]
    assert middle == pytest.approx(block.box.centre)
    assert sum(i.mass.value for i in pair) > 1.0
    # they stand just inside the cradle
    body, tubes = clamped(case, block), cradle(case, block).box
    assert reserve(case, block) == tubes
    assert tubes.size[0] - body.size[0] == pytest.approx(2 * (30 + 2))


# ---------------------------------------------------------------- invariant


def test_no_plates_leave_all_as_it_was():
    case = job()
    layout = place(case, base_items(case)).layouts[0].layout
    assert end_plate_items(case, layout) == ()
    assert all(clamped(case, block) == block.box for block in layout.blocks)


@pytest.mark.parametrize("thick", [3.0, 12.5])
def test_the_searchs_sum_with_plates_is_that_of_the_layout(thick):
    case = plated(thick)
    now = setting(case, base_items(case), 0)
    for split in ((8,), (5, 3)):
        boards, _ = start_boards(now, split, 1)
        layout = to_layout(case, boards[0], spaces_of(case))
        figures = aims.objectives(case, layout, now.goal)
        assert boards[0].total() == pytest.approx(aims.score(case, figures), rel=1e-9)
        for block in layout.blocks:
            room = np.array(reserve(case, block).size)
            bare = np.array(block.box.size) + 2 * 32
            assert sorted(np.round(room - bare, 6)) == pytest.approx([0, 0, 2 * (thick + 2)])
            assert np.prod(counts_of(block)) == len(block.modules)


def test_layouts_with_plates_hold_outside_the_search():
    case = plated(20.0)
    placed = place(case, base_items(case))
    assert placed.count.packed == 8
    for scored in placed.layouts:
        assert [c.id for c in check_layout(case, scored.layout) if c.verdict == "fail"] == []

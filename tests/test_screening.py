"""One kit against many vehicles: what is answered, and why."""

from dataclasses import replace
from functools import cache

from packlayout.export.screening_documents import screen_json, screen_lines
from packlayout.model.brief import CoreOrder
from packlayout.model.geometry import Box
from packlayout.placement.forms import block_forms
from packlayout.screening import screen
from tests.bays import job

SMALL = Box((0.0, 0.0, 300.0), (300.0, 150.0, 500.0))


@cache
def found():
    """A roomy vehicle, one that holds nothing, one that holds some, one that was not surveyed."""
    return screen(
        {
            "roomy": (job(count=4), ()),
            "tiny": (job(bay=SMALL, count=4), ()),
            "without a tank": (job(count=4), ("charger: no former fuel tank is surveyed",)),
            "blank": (None, ("modules: no engine bay is surveyed",)),
        }
    )


# ---- by hand


def test_an_answer_for_each_vehicle_in_the_order_given():
    assert [row.vehicle for row in found().rows] == ["roomy", "tiny", "without a tank", "blank"]
    answers = {row.vehicle: row.answer for row in found().rows}
    assert answers["roomy"] in ("fits", "fits with faults")
    assert answers["tiny"] == "does not fit"
    assert answers["without a tank"] == "fits in part"
    assert answers["blank"] == "not known"


def test_reasons_say_what_has_no_place():
    rows = {row.vehicle: row for row in found().rows}
    assert rows["roomy"].reasons == ()
    assert rows["without a tank"].reasons[0].startswith("charger")
    assert rows["blank"].study is None
    assert rows["tiny"].reasons


def test_a_core_allows_its_own_arrangement_alone_turned_by_quarters():
    case = job(count=4)
    core = case.brief.modules.model_copy(update={"core": CoreOrder(modules=(1, 2, 2))})
    held = replace(case, brief=case.brief.model_copy(update={"modules": core}))
    every, kept = block_forms(case, 4), block_forms(held, 4)
    assert 0 < len(kept) < len(every)
    assert {f.label for f in kept} <= {f.label for f in every}
    for form in kept:
        shape = form.label.split(",")[0]
        turn = int(form.label.split()[-2])
        assert shape == ("1 x 2 x 2" if turn % 180 == 0 else "2 x 1 x 2")
        assert "+z up" in form.label
    assert block_forms(held, 3) == ()


def test_vehicles_that_hold_the_whole_pack_share_a_core():
    core = found().core
    assert core is not None
    assert set(core.family.adapters) == {"roomy", "without a tank"}
    assert core.family.shared
    assert core.core.mass_kg > 0


def test_documents_hold_a_row_for_each_vehicle():
    document = screen_json("four", 0, found())
    rows = {row["vehicle"]: row for row in document["vehicles"]}
    assert rows["roomy"]["count"]["packed"] == 4
    assert rows["roomy"]["axle_change_kg"]["front"]["value"] != 0
    assert rows["blank"]["count"] is None
    assert set(document["core"]["adapters"]) == {"roomy", "without a tank"}
    lines = "\n".join(line for group in screen_lines("four", found()) for line in group)
    assert all(row.vehicle in lines for row in found().rows)
    assert "high voltage can kill" in lines

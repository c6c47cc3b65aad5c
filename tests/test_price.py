"""The price of a layout."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packlayout.price import Bill, price
from packlayout.units import Measured
from tests.wiring_tables import demo, pack_job, tables


def one(bill: Bill, name: str = "quillon-estate/piano-tuner"):
    case = demo(name)
    from packlayout.model.layout import Layout
    from tests.wiring_tables import placed

    modules = tuple(placed(f"module {n}", "module-12s-54ah", (0, 177.0 * n, 300), block=1) for n in range(8))
    charger = placed("charger", "charger-6k6", (600, 0, 300), (330, 230, 95))
    return price(case, Layout((*modules, charger)), bill)


# ---- by hand


def test_a_bill_added_up_by_hand() -> None:
    found = one(
        Bill(members=10, plates=4, legs=4, metal_kg=15, cables=((35, 2.0), (35, 1.0)), hoses_m=(2.0,))
    )
    assert found is not None
    assert found.group("parts") == pytest.approx(8 * 610 + 940)
    assert found.group("metal") == pytest.approx(15 * 4.20)
    assert found.group("cable") == pytest.approx(3 * 19.50 + 2 * 9)
    frame_hours = 10 * 0.6 + 4 * 0.5 + 4 * 1.0
    hours = 30 + 45 + 14 + 8 * 0.8 + 2.5 + frame_hours + 2 * 1.2 + 0.6
    assert found.hours.value == pytest.approx(hours)
    assert found.group("hours") == pytest.approx(65 * hours)
    assert found.group("consumables") == pytest.approx(0.12 * (63 + 65 * frame_hours))
    assert found.total.value == pytest.approx(sum(line.total.value for line in found.lines))
    assert found.checks == ()


def test_conduit_and_signal_cables_by_hand() -> None:
    """Two pieces of one conduit, one of another; a cable of 8 x 0.25; fitting a piece takes 0.3 h, laying a cable 1.2 h."""
    found = one(
        Bill(
            conduits=(("corrugated 12", 1.0), ("corrugated 10", 2.0), ("corrugated 12", 0.5)),
            signals=((8, 0.25, 3.0),),
        )
    )
    assert found is not None
    lines = {line.name: line for line in found.lines}
    assert lines["conduit corrugated 12"].total.value == pytest.approx(1.5 * 1.05)
    assert lines["conduit corrugated 10"].total.value == pytest.approx(2 * 0.90)
    assert lines["signal cable 8 x 0.25 mm2"].total.value == pytest.approx(3 * 2.60)
    assert found.group("cable") == pytest.approx(1.5 * 1.05 + 1.8 + 7.8)
    assert lines["cut and fit a piece of conduit"].count == pytest.approx(0.9)
    assert lines["lay a cable and crimp its ends"].count == pytest.approx(1.2)


def test_copies_of_a_part_are_dear_together() -> None:
    found = one(Bill())
    assert found is not None
    modules = next(line for line in found.lines if line.count == 8)
    assert modules.total == Measured(4880.0, 320.0)


# ---- invariant


@given(st.floats(0, 200), st.floats(0, 50))
def test_more_metal_costs_more(metal: float, more: float) -> None:
    a, b = one(Bill(metal_kg=metal)), one(Bill(metal_kg=metal + more))
    assert a is not None
    assert b is not None
    assert b.total.value >= a.total.value
    assert b.total.value - a.total.value == pytest.approx(more * 4.20 * 1.12, abs=1e-6)


# ---- refusal


def test_a_missing_price_is_unknown_and_named() -> None:
    case, layout = pack_job(4)
    found = price(
        case, layout, Bill(cables=((33.0, 2.0),), conduits=(("lead pipe", 1.0),), signals=((61, 0.1, 2.0),))
    )
    assert found is not None
    assert [c.note for c in found.checks] == [
        "price of part module is not in shared/prices.yaml", "price of cable 33 mm2 is not in shared/prices.yaml",
        "price of signal cable 61 x 0.1 mm2 is not in shared/prices.yaml",
        "price of conduit lead pipe is not in shared/prices.yaml",
    ]  # fmt: skip
    assert all(c.verdict == "unknown" for c in found.checks)


def test_a_shop_without_prices_has_no_price() -> None:
    case, layout = pack_job(4, with_tables=False)
    assert price(case, layout, Bill()) is None
    assert tables().prices is not None

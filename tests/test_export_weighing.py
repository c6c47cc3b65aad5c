"""The weighing as JSON, terminal lines, tables and charts: every figure that was computed, and nothing else."""

import json
from dataclasses import replace
from math import hypot, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packlayout.export.blocks import Section, Table
from packlayout.export.charts import Bar, Chart, Stroke, Words, ellipse, fitting, ticks, width_of
from packlayout.export.document_weighing import KEYS
from packlayout.export.documents import weigh_json
from packlayout.export.figures import typed
from packlayout.export.report_content import content
from packlayout.export.summary import as_built_lines, weighing_lines
from packlayout.export.weighing_charts import axle_chart, cg_chart, ledger_chart, payload_chart
from packlayout.mass.weighing import (
    Compared,
    Comparison,
    Movable,
    NextMeasurement,
    NextMeasurements,
    OnTheRoad,
    PayloadCurve,
    PayloadRow,
    Restore,
    Ride,
    Suspect,
    Unlisted,
)  # fmt: skip
from packlayout.model.check import judge
from packlayout.model.geometry import MassItem, exact_point
from packlayout.study import Study
from packlayout.units import Measured
from tests.studies import study

M = Measured
SPARE = judge("as-built.total", "total", M(1020.0, 2.0), 1014.5, "max", "kg", "prediction")
BUILT = Comparison(
    "converted kerb",
    (Compared("front left", M(250.0, 2.0), M(251.0, 1.0), M(1.0, 2.2), True),
     Compared("total", M(1014.5, 5.2), M(1024.5, 2.0), M(10.0, 5.6), False)),
    (Suspect("motor", "mass of motor", 3.5, 0.5, "kg", 0.62),), Unlisted(M(10.0, 5.6), M(900.0, 200.0), None), (SPARE,),
    "left and right pads may be swapped",
)  # fmt: skip


def full() -> Study:
    """The made study with everything that a weighing can answer."""
    made = study()
    assert made.weighing is not None
    covariance = ((9.0, 0.0, 4.0), (0.0, 6.0, 0.0), (4.0, 0.0, 150.0))
    states = tuple(
        replace(s, front_percent=M(52.5, 0.3), cg_covariance=covariance, term="kerb mass")
        for s in made.weighing.states
    )
    rows = tuple(PayloadRow(1600.0 + 300 * k, M(400.0 - 60 * k, 9.0), "gross mass" if k < 2 else "rear axle plate")
                 for k in range(5))  # fmt: skip
    curves = (
        PayloadCurve("gross mass", tuple((r.x_mm, 400.0) for r in rows)),
        PayloadCurve("rear axle plate", tuple((r.x_mm, 460.0 - 75 * k) for k, r in enumerate(rows))),
        PayloadCurve("front axle plate", tuple((r.x_mm, 300.0 + 400 * k) for k, r in enumerate(rows))),
        PayloadCurve("front tyres", tuple((r.x_mm, 5000.0) for r in rows)),
    )
    found = judge("axle.rear.max", "Rear axle, laden", M(755.0, 7.7), 760.0, "max", "kg", "maker's plate")
    car = MassItem("Heron Estate", M(979.0, 3.0), exact_point((1095.0, 0.0, 560.0)), "original")
    weighed = replace(
        made.weighing, ledger=(car, *made.weighing.ledger), states=states, payload=rows, payload_curves=curves,
        movables=(Movable("charger", "former fuel tank", 2590.0, 280.0, "engine bay", 100.0, 292.0, "gross mass"),),
        rides=(Ride("converted kerb", (M(4.0, 1.0), M(-12.0, 2.0)), M(-0.4, 0.1), (M(1.45, 0.05), M(1.32, 0.06))),),
        restores=(Restore("rear", (M(22.0, 2.0), M(25.5, 2.4)), M(16.0, 3.0), M(12.0, 2.0)),),
        road=(OnTheRoad("converted kerb", (M(640.0, 8.0), M(374.0, 7.0)), M(143.0, 5.0), M(1.152, 0.031),
                        M(0.371, 0.004)),),
        stripped=BUILT,
        next_measurements=NextMeasurements(
            found, (NextMeasurement("engine", "place of engine, x", "mm", 20.0, 10.0, 5.1, "marginal", 0.975),),
            ("front tyres: the load one tyre may bear is not given",)),
    )  # fmt: skip
    return replace(made, weighing=weighed)


FULL = full()
assert FULL.weighing is not None
WEIGHED = FULL.weighing


def sections() -> dict[str, Section]:
    return {section.anchor: section for section in content(FULL, {}, ())}


def table(title: str) -> Table:
    found = [b for b in sections()["weighing"].blocks if isinstance(b, Table) and b.head and title in b.head]
    assert len(found) == 1
    return found[0]


def test_json_by_hand() -> None:
    made = weigh_json(FULL, BUILT)
    assert {*KEYS, "as_built", "not_done"} <= set(made)
    assert made["states"][0]["front_percent"] == {"value": 52.5, "tolerance": 0.3}
    assert made["states"][0]["cg_covariance_mm2"] == [[9.0, 0.0, 4.0], [0.0, 6.0, 0.0], [4.0, 0.0, 150.0]]
    assert made["states"][0]["term"] == "kerb mass"
    assert made["payload_curves"][0]["points"][1] == {"x_mm": 1900.0, "allowed_kg": 400.0}
    assert made["movables"][0]["best_zone"] == "engine bay"
    assert made["rides"][0]["height_change_mm"] == {
        "front": {"value": 4.0, "tolerance": 1.0}, "rear": {"value": -12.0, "tolerance": 2.0},
    }  # fmt: skip
    assert made["restores"][0]["restoring_rate_n_per_mm"] == {"value": 25.5, "tolerance": 2.4}
    assert made["road"][0]["braked_axle_kg"]["rear"] == {"value": 374.0, "tolerance": 7.0}
    assert made["next_measurements"]["rows"][0]["better"] == 10.0
    assert made["next_measurements"]["check"]["id"] == "axle.rear.max"
    for compared in (made["as_built"], made["stripped"]):
        assert compared["rows"][1] == {
            "name": "total", "predicted_kg": {"value": 1014.5, "tolerance": 5.2}, "within": False,
            "read_kg": {"value": 1024.5, "tolerance": 2.0}, "difference_kg": {"value": 10.0, "tolerance": 5.6},
        }  # fmt: skip
        assert compared["unlisted"]["y_mm"] is None
        assert compared["suspects"][0]["share"] == 0.62
        assert (compared["note"], len(compared["checks"])) == ("left and right pads may be swapped", 1)
    json.dumps(made, allow_nan=False)


def test_json_of_what_was_not_weighed() -> None:
    made = weigh_json(replace(FULL, weighing=None))
    assert [made[key] for key in KEYS] == [None] * len(KEYS)
    assert made["as_built"] is None


def test_terminal_by_hand() -> None:
    lines = " ".join(" ".join(weighing_lines(WEIGHED)).split())
    for words in (
        "Change at kerb: +35.5 +/- 4.1 kg in all, front axle -16.7 +/- 3.1 kg, rear axle +52.2 +/- 3.3 kg.",
        "1600 400 +/- 9 gross mass",
        "Best place for charger: engine bay at x 100 mm instead of former fuel tank at 2590: "
        "payload 292 kg instead of 280.",
        "+4 +/- 1 -12 +/- 2 -0.4 +/- 0.1 1.45 +/- 0.05 1.32 +/- 0.06",
        "To restore the rear height: wheel rate 25.5 +/- 2.4 N/mm instead of 22.0 +/- 2.0, or +12 +/- 2 mm of packing.",
        "640 +/- 8 374 +/- 7 1.15 +/- 0.03 0.371 +/- 0.004",
        "Measure next: place of engine, x to +/- 10 mm instead of +/- 20; then Rear axle, laden is known to +/- 5.1 kg "
        "instead of +/- 7.7.",
        "Missing altogether: front tyres: the load one tyre may bear is not given.",
    ):  # fmt: skip
        assert words in lines, words
    built = "\n".join(as_built_lines(BUILT))
    assert "motor, mass of motor: off by +3.5 kg, its tolerance 0.5; explains 62 %" in built
    assert "One unlisted thing would do: +10.0 +/- 5.6 kg at x 900 +/- 200 mm." in built
    assert built.endswith("left and right pads may be swapped")
    assert (lines + built).isascii()


def test_terminal_says_what_is_not_computed() -> None:
    lines = "\n".join(weighing_lines(replace(WEIGHED, payload=(), rides=(), road=(), next_measurements=None)))
    assert "Payload: not computed, no load floor is given." in lines
    assert "Ride height and frequency: not computed, the springs are not given." in lines
    assert "grip" not in lines
    assert "Measure next" not in lines


def test_tables_by_hand() -> None:
    assert table("rear height, mm").rows == (
        ("converted kerb", "+4.0 ± 1.0", "−12.0 ± 2.0", "−0.40 ± 0.10", "1.45 ± 0.05", "1.32 ± 0.06"),
    )
    assert table("restoring rate, N/mm").rows == (
        ("rear", "22.0 ± 2.0", "25.5 ± 2.4", "+16.0 ± 3.0", "+12.0 ± 2.0"),
    )
    assert table("static stability factor").rows[0][1:] == (
        "640.0 ± 8.0", "374.0 ± 7.0", "143.0 ± 5.0", "1.15 ± 0.03", "0.371 ± 0.004",
    )  # fmt: skip
    assert table("payload then, kg").rows[0][3:5] == ("engine bay, 100", "292.0")
    assert table("if known to").rows == (
        ("place of engine, x", "± 20 mm", "± 10 mm", "± 5.1 kg", "marginal", "97.5 %"),
    )
    assert table("within tolerance").rows[1] == ("total", "1014.5 ± 5.2", "1024.5 ± 2.0", "+10.0 ± 5.6", "no")


def test_axle_bars_by_hand() -> None:
    """A bar is as long as its load: 465 against 517.2 on the rear axle, in the original and converted kerb state."""
    chart = axle_chart(FULL.case, WEIGHED)
    bars = [m for m in chart.marks if isinstance(m, Bar)]
    before, after = bars[3], bars[4]
    assert (before.look, after.look) == ("before", "after")
    assert after.width / before.width == pytest.approx(517.2 / 465.0)
    limits = [m for m in chart.marks if isinstance(m, Stroke) and m.look == "limit"]
    assert (limits[1].points[0][0] - 640) / before.width == pytest.approx(760.0 / 465.0)


def test_ellipse_by_hand() -> None:
    """Covariance 9, 4, 150: axes from the eigenvalues, 2.4477 deviations for 95 % of a pair of normal figures."""
    middle, half = (9 + 150) / 2, sqrt(((9 - 150) / 2) ** 2 + 16)
    wanted = [2.4477 * sqrt(middle + half), 2.4477 * sqrt(middle - half)]
    found = [
        m
        for m in cg_chart(FULL.case, WEIGHED).marks
        if isinstance(m, Stroke) and m.closed and m.look == "before"
    ]
    points = found[0].points
    x0, y0 = (sum(p[k] for p in points) / len(points) for k in (0, 1))
    radii = [hypot(x - x0, y - y0) for x, y in points]
    assert max(radii) / min(radii) == pytest.approx(wanted[0] / wanted[1], rel=1e-3)
    # long axis leans the way of the positive covariance: rearward is up, and up is a smaller y on the screen
    far = points[radii.index(max(radii))]
    assert (far[0] - x0) * (far[1] - y0) < 0


def test_payload_by_hand() -> None:
    chart = payload_chart(WEIGHED)
    assert chart is not None
    words = [m.text for m in chart.marks if isinstance(m, Words)]
    assert "1 gross mass" in words
    assert "3 front axle plate" in words
    assert not any("front tyres" in w for w in words)  # it bounds nothing within the picture
    (line,) = [m for m in chart.marks if isinstance(m, Stroke) and m.look == "curve"]
    assert len(line.points) == 5
    heights = [400.0 - y for _, y in line.points]
    assert heights[4] / heights[0] == pytest.approx(160 / 400)
    assert payload_chart(replace(WEIGHED, payload=())) is None


def test_ledger_by_hand() -> None:
    assert FULL.layout is not None
    chart = ledger_chart(FULL.case, FULL.layout, WEIGHED)
    words = [m.text for m in chart.marks if isinstance(m, Words)]
    assert words[words.index("engine") + 1] == "−148.0"
    assert words[words.index("Marsh module 12 x 10") + 1] == "+122.0"
    assert "converted kerb" in words


def charts() -> list[Chart]:
    return [b for section in sections().values() for b in section.blocks if isinstance(b, Chart)]


def test_four_pictures_whole_and_legible() -> None:
    """All marks lie in the picture, and no words lie on other words."""
    made = charts()
    assert [c.title for c in made] == ["Axle loads in every state", "Centre of gravity in side view",
                                       "Payload along the load floor", "The ledger in steps"]  # fmt: skip
    for chart in made:
        boxes = [m.box for m in chart.marks if isinstance(m, Words)]
        for left, top, right, bottom in boxes:
            assert left >= 0, chart.title
            assert right <= 1000, chart.title
            assert top >= 0, chart.title
            assert bottom <= chart.height, chart.title
        for k, a in enumerate(boxes):
            for b in boxes[k + 1 :]:
                assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1], (chart.title, a, b)
        for mark in chart.marks:
            for x, y in mark.points if isinstance(mark, Stroke) else ():
                assert 0 <= x <= 1000, chart.title
                assert 0 <= y <= chart.height, chart.title


@given(st.text(max_size=60), st.floats(30, 400))
def test_words_fit(text: str, width: float) -> None:
    assert width_of(fitting(text, width)) <= width


@given(st.floats(-1e4, 1e4), st.floats(0.01, 1e4), st.integers(2, 10))
def test_ticks_lie_within(low: float, span: float, most: int) -> None:
    found = ticks(low, low + span, most)
    assert len(found) <= most
    assert all(low - 1e-6 * span <= t <= low + span * (1 + 1e-6) for t in found)


@given(st.floats(1, 50), st.floats(1, 50), st.floats(-3, 3))
def test_an_ellipse_keeps_its_axes(along: float, across: float, turn: float) -> None:
    radii = [hypot(x, y) for x, y in ellipse(0.0, 0.0, along, across, turn, "before").points]
    assert max(radii) == pytest.approx(max(along, across))
    assert min(radii) == pytest.approx(min(along, across))


def test_the_finished_vehicle_has_its_section() -> None:
    """Readings against the prediction where they are given; else it is said that there are none."""
    built = {s.anchor: s for s in content(replace(FULL, comparison=BUILT), {}, ())}["as-built"]
    tables = [b for b in built.blocks if isinstance(b, Table)]
    assert ("total", "1014.5 ± 5.2", "1024.5 ± 2.0", "+10.0 ± 5.6", "no") in tables[0].rows
    assert any("left and right pads may be swapped" in getattr(b, "text", "") for b in built.blocks)
    (words,) = sections()["as-built"].blocks
    assert getattr(words, "text", "") == "Not done: no scale readings of the finished vehicle were given."


def test_typed_signs() -> None:
    assert typed("−4.0 ± 1.5") == "-4.0 +/- 1.5"

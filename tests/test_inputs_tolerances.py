"""What tape and scanner are not sure of: read with the points, and added to distances as the brief asks."""

from dataclasses import replace

import pytest
from pydantic import ValidationError

from packlayout.inputs.zones import with_tolerances
from packlayout.model.vehicle import Station, Zone
from packlayout.placement.clear import body_mm
from tests.cases import brief, case, vehicle

OUTLINE = [[-300, 300], [300, 300], [300, 800], [-300, 800]]


def zone(**fields: object) -> Zone:
    stations = [{"x": -200, "outline": OUTLINE}, {"x": 400, "outline": OUTLINE}]
    return Zone.model_validate({"name": "bay", "use": "engine bay", "stations": stations, **fields})


def kept(made: Zone, found: dict[str, float], surface: str) -> float:
    """Distance to the body."""
    clearances = brief().clearances.model_copy(update={"surface": surface})
    job = case(brief=brief().model_copy(update={"clearances": clearances}))
    return body_mm(replace(job, vehicle=with_tolerances(vehicle(zones=(made,)), found)), "bay")


# ---- by hand


def test_the_largest_tolerance_of_its_figures_counts_for_a_station():
    rows = [["-300 +/- 3", 300], [300, "11 7/8 in +/- 1/8 in"], [300, 800], [-300, "800 ± 4"]]
    station = Station.model_validate({"x": "-200 +/- 2", "outline": rows})
    assert station.tolerance_mm == 4.0
    assert station.x == -200.0
    assert station.outline[1] == pytest.approx((300.0, 301.625))
    assert station.outline[3] == (-300.0, 800.0)


def test_what_is_stated_for_the_station_counts_when_it_is_larger():
    rows = [["-300 +/- 3", 300], *OUTLINE[1:]]
    assert Station.model_validate({"x": 0, "outline": rows, "tolerance": 6}).tolerance_mm == 6.0
    assert Station.model_validate({"x": 0, "outline": rows, "tolerance": "1/16 in"}).tolerance_mm == 3.0
    assert Station.model_validate({"x": 0, "outline": OUTLINE}).tolerance_mm == 0.0


@pytest.mark.parametrize(("surface", "added"), [("nominal", 0.0), ("95 %", 4.0), ("worst case", 6.0)])
def test_the_brief_says_how_much_of_it_shrinks_the_space(surface, added):
    assert kept(zone(), {"bay": 4.0}, surface) == pytest.approx(10.0 + added)


def test_stated_for_the_zone_against_found():
    assert kept(zone(tolerance=7), {"bay": 4.0}, "95 %") == 17.0  # tape: the larger
    scan = {"file": "a.ply", "unit": "mm", "reference": [
        {"scan": p, "vehicle": p} for p in ([0, 0, 0], [500, 0, 0], [0, 500, 0])]}  # fmt: skip
    free = Zone.model_validate({"name": "bay", "use": "engine bay", "mesh": scan})
    told = Zone.model_validate({"name": "bay", "use": "engine bay", "mesh": scan, "tolerance": 1})
    assert kept(free, {"bay": 4.0}, "95 %") == 14.0  # scatter that was found
    assert kept(told, {"bay": 4.0}, "95 %") == 11.0  # the user knows better


# ---- invariant


def test_a_vehicle_without_tolerances_is_as_it_was():
    made = vehicle(zones=(zone(),))
    assert with_tolerances(made, {"bay": 0.0}) == made


# ---- refusal


@pytest.mark.parametrize(
    ("rows", "word"),
    [([["-300 +/- -3", 300], *OUTLINE[1:]], "negative"), ([["3 stone +/- 1", 300], *OUTLINE[1:]], "3 stone")],
)
def test_tolerances_that_are_none(rows, word):
    with pytest.raises(ValidationError, match=word):
        Station.model_validate({"x": 0, "outline": rows})


def test_too_large_a_tolerance():
    with pytest.raises(ValidationError, match="out of range"):
        Station.model_validate({"x": "0 +/- 150", "outline": OUTLINE})

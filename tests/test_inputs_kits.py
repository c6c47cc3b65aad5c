"""A kit and vehicles -> a case for each: zones by use, what has none, and every fault at its line."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from packlayout.errors import InputError
from packlayout.inputs.check import check_paths
from packlayout.inputs.kits import read_candidates
from tests.workshop_files import CODE, VEHICLE, VEHICLE_FILE

Workshop = Callable[..., Path]
KIT_FILE = "kits/four.yaml"
KIT = """\
name: four modules
design_code: plain
modules: {part: module, count: 4, zones: [engine bay], core: {modules: [1, 2, 2]}}
parts:
  - {part: motor, zones: [gearbox tunnel], on_line: {offset: 2}}
  - {part: charger, zones: [former fuel tank]}
frame: {cradle_tube: SHS 25x2, leg_tube: SHS 30x2, material: S235}
"""


def told(workshop: Workshop, changes: dict[str, Any], *vehicles: str) -> list[str]:
    root = workshop({KIT_FILE: KIT, **changes})
    with pytest.raises(InputError) as caught:
        read_candidates(root / KIT_FILE, [root / v for v in vehicles or ("bays/corrow",)])
    return [str(fault).replace(f"{root}/", "") for fault in caught.value.faults]


# ---- by hand


def test_zones_by_their_use_become_the_vehicles_own(workshop: Workshop) -> None:
    root = workshop({KIT_FILE: KIT})
    (found,) = read_candidates(root / KIT_FILE, [root / "bays/corrow"])
    assert found.case is not None
    assert found.case.key == "corrow-four"
    assert found.case.brief.modules.zones == ("bay",)
    assert [(o.part, o.zones) for o in found.case.brief.parts] == [("charger", ("tank",))]
    assert found.lacking == ("motor: no gearbox tunnel is surveyed",)
    assert found.case.brief.modules.core is not None


def test_a_zones_own_name_serves_too(workshop: Workshop) -> None:
    root = workshop({KIT_FILE: KIT.replace("[gearbox tunnel]", "[bay]")})
    (found,) = read_candidates(root / KIT_FILE, [root / VEHICLE_FILE])
    assert found.case is not None
    assert [o.zones for o in found.case.brief.parts] == [("bay",), ("tank",)]
    assert found.lacking == ()


def test_a_vehicle_without_a_zone_for_the_modules_has_no_case(workshop: Workshop) -> None:
    root = workshop({KIT_FILE: KIT.replace("zones: [engine bay]", "zones: [boot]")})
    (found,) = read_candidates(root / KIT_FILE, [root / "bays/corrow"])
    assert found.case is None
    assert found.lacking[0] == "modules: no boot is surveyed"


def test_each_vehicle_once_and_in_order(workshop: Workshop) -> None:
    other = {"bays/second/vehicle.yaml": VEHICLE.replace("Corrow Two van", "Corrow Three van")}
    root = workshop({KIT_FILE: KIT, **other})
    paths = [root / "bays/second", root / "bays/corrow", root / "bays/second/vehicle.yaml"]
    assert [c.vehicle for c in read_candidates(root / KIT_FILE, paths)] == [
        "Corrow Three van",
        "Corrow Two van",
    ]


def test_a_kit_is_checked_where_it_lies(workshop: Workshop) -> None:
    root = workshop({KIT_FILE: KIT})
    faults, _ = check_paths([root])
    assert faults == []


# ---- refusal


def test_a_place_in_one_vehicle_is_refused(workshop: Workshop) -> None:
    kit = KIT.replace("on_line: {offset: 2}", "fixed: {at: [600, -135, 285]}")
    (fault,) = told(workshop, {KIT_FILE: kit})
    assert fault.startswith("kits/four.yaml:5:")
    assert "on_line" in fault


def test_faults_of_kit_and_vehicle_are_told_together_and_once(workshop: Workshop) -> None:
    kit = KIT.replace("part: charger", "part: chargr")
    bad = VEHICLE.replace("wheelbase: 2300 +/- 3", "wheelbase: 2.3")
    faults = told(
        workshop,
        {KIT_FILE: kit, VEHICLE_FILE: bad, "bays/second/vehicle.yaml": VEHICLE},
        "bays/corrow",
        "bays/second",
    )
    assert len([f for f in faults if f.startswith("kits/four.yaml:6:")]) == 1
    assert any(f.startswith(f"{VEHICLE_FILE}:3:") for f in faults)


def test_a_missing_vehicle_and_a_customer_in_a_kit(workshop: Workshop) -> None:
    assert "no such file" in told(workshop, {}, "bays/nowhere")[0]
    (fault,) = told(workshop, {KIT_FILE: KIT + "customer: a baker\n"})
    assert fault.startswith("kits/four.yaml:8:")


def test_a_code_that_is_not_there(workshop: Workshop) -> None:
    (fault,) = told(
        workshop,
        {"shared/design-codes/other.yaml": CODE, KIT_FILE: KIT.replace("code: plain", "code: plane")},
    )
    assert fault.startswith("kits/four.yaml:2:")

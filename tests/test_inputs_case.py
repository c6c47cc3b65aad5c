"""A brief and all it names -> a case; everything wrong is told at file:line."""

import subprocess
import sys
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest

from packlayout.errors import InputError
from packlayout.inputs.case import read_case
from tests.demo import ROOT
from tests.workshop_files import BRIEF, BRIEF_FILE, CHARGER, CODE, MODULE, MOTOR, TUBES, VEHICLE, VEHICLE_FILE

Workshop = Callable[..., Path]


def told(workshop: Workshop, changes: dict[str, Any], brief: str = BRIEF_FILE) -> list[str]:
    """Every fault, its file named from the workshop's root."""
    root = workshop(changes)
    with pytest.raises(InputError) as caught:
        read_case(root / brief)
    return [str(fault).replace(f"{root}/", "") for fault in caught.value.faults]


def swapped(text: str, old: str, new: str) -> str:
    assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times"
    return text.replace(old, new)


# ---- by hand


def test_a_whole_case(workshop: Workshop) -> None:
    root = workshop()
    case = read_case(root / BRIEF_FILE)
    assert case.key == "corrow-first"
    assert case.root == root
    assert case.vehicle.wheelbase_mm.value == 2300
    assert case.vehicle.wheelbase_mm.tolerance == 3
    assert sorted(case.parts) == ["charger", "module", "motor"]
    assert case.parts["charger"].electrical.power_kw == 3.3  # type: ignore[union-attr]
    assert case.modules_wanted == 4
    # three stations 400 mm apart: 700 x 500, 760 x 550 at the top edge's width, 700 x 600
    assert case.zones["bay"].bounds.lo == (-300, -380, 300)
    assert case.zones["bay"].bounds.hi == (500, 380, 900)
    assert case.zones["tank"].volume == pytest.approx(500 * 600 * 250)
    assert case.keep_outs["cross-member"].volume == pytest.approx(100 * 600 * 40)
    assert case.keep_outs["bracket"].volume == pytest.approx(100 * 40 * 80 / 2)
    assert case.sections["SHS 25x2"].side_mm == 25
    assert case.design_code.title == "Plain"
    assert case.notes == ()


def test_what_was_read_is_kept_with_its_digest(workshop: Workshop) -> None:
    root = workshop()
    inputs = dict(read_case(root / BRIEF_FILE).inputs)
    assert sorted(inputs) == sorted(path.relative_to(root).as_posix() for path in root.rglob("*.yaml"))
    assert inputs[BRIEF_FILE] == sha256(BRIEF.encode()).hexdigest()


def test_energy_asks_for_enough_modules(workshop: Workshop) -> None:
    root = workshop({BRIEF_FILE: swapped(BRIEF, "count: 4", "energy: 5 kWh")})
    assert read_case(root / BRIEF_FILE).modules_wanted == 3  # 2.4 kWh each


def test_files_are_named_as_the_user_named_the_brief(
    workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    root = workshop({BRIEF_FILE: swapped(BRIEF, "count: 4", "count: 0"), "modules/motor.yaml": "x: 1\n"})
    monkeypatch.chdir(root / "bays" / "corrow")
    with pytest.raises(InputError) as caught:
        read_case(Path("first.yaml"))
    assert {str(fault.file) for fault in caught.value.faults} == {"first.yaml", "../../modules/motor.yaml"}


def test_a_tape_vehicle_needs_no_heavy_library(workshop: Workshop) -> None:
    root = workshop()
    script = (
        "import sys; from pathlib import Path; from packlayout.inputs.case import read_case; "
        f"read_case(Path({str(root / BRIEF_FILE)!r})); "
        "print([name for name in ('trimesh', 'cadquery', 'OCP', 'scipy', 'pyvista') if name in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


# ---- refusal: one field


@pytest.mark.parametrize(
    ("file", "old", "new", "fault"),
    [
        (VEHICLE_FILE, "wheelbase: 2300 +/- 3\n", "",
         f"{VEHICLE_FILE}:1: wheelbase: missing; allowed: 1200 to 5000 mm; a bare number is in mm"),
        (VEHICLE_FILE, "wheelbase: 2300 +/- 3", "wheelbase: 2.3",
         f"{VEHICLE_FILE}:3: wheelbase: 2.3 is out of range; allowed: 1200 to 5000 mm; "
         "a bare number is in mm: if it is in m, write '2.3 m'"),
        (VEHICLE_FILE, "wheelbase: 2300 +/- 3", "wheelbase: 12 furlongs",
         f"{VEHICLE_FILE}:3: wheelbase: unknown unit 'furlongs'; allowed: mm, cm, m, in"),
        (VEHICLE_FILE, "wheelbase: 2300 +/- 3", "wheelbase: .nan",
         f"{VEHICLE_FILE}:3: wheelbase: nan is not a finite quantity; allowed: 1200 to 5000 mm"),
        (VEHICLE_FILE, "wheelbase: 2300 +/- 3", "wheelbase:",
         f"{VEHICLE_FILE}:3: wheelbase: nothing stands here; allowed: 1200 to 5000 mm"),
        (VEHICLE_FILE, "wheelbase:", "whelbase:",
         f"{VEHICLE_FILE}:3: whelbase: unknown field 'whelbase'; allowed: name, maker,"),
        (VEHICLE_FILE, "wheelbase:", "wheelbase_mm:",
         f"{VEHICLE_FILE}:3: wheelbase_mm: unknown field 'wheelbase_mm'"),
        (VEHICLE_FILE, "front_axle: 700", "front_axle: 700 +/- 5",
         f"{VEHICLE_FILE}:6: plated.front_axle: '700 +/- 5' has a tolerance; allowed: a plain figure, 50 to 5000 kg"),
        (VEHICLE_FILE, "  axles: {front: 520 +/- 2, rear: 480 +/- 2}\n", "",
         f"{VEHICLE_FILE}:8: weighed: none of them given; allowed: exactly one of corners, axles"),
        (VEHICLE_FILE, "corner: [-100, -300, 300]", "corner: [-100, -300]",
         f"{VEHICLE_FILE}:34: keep_outs.cross-member.box.corner: [-100, -300] is not a point; "
         "allowed: a list of three lengths [x, y, z]"),
        (VEHICLE_FILE, "kind: moving", "kind: wobbling",
         f"{VEHICLE_FILE}:36: keep_outs.column.kind: 'wobbling'; allowed: solid, moving, hot"),
        (VEHICLE_FILE, "name: tank", "name: bay",
         f"{VEHICLE_FILE}:29: zones.bay.name: a second zone called 'bay'; allowed: each name once"),
        (VEHICLE_FILE, "mass: 150 +/- 3", "mass: -150",
         f"{VEHICLE_FILE}:15: removed.engine.mass: -150 is out of range; allowed: 0.01 to 3000 kg"),
        (VEHICLE_FILE, "name: Corrow Two van", "name: 1957",
         f"{VEHICLE_FILE}:1: name: 1957 is not text; put it in quotes; allowed: text of 1 to 120 characters"),
        (BRIEF_FILE, "count: 4", "count: four",
         f"{BRIEF_FILE}:3: modules.count: 'four'; allowed: "),
        (BRIEF_FILE, "count: 4", "count: 4, energy: 10",
         f"{BRIEF_FILE}:3: modules: the number of modules is not clear; allowed: exactly one of count, energy"),
        (BRIEF_FILE, "{part: charger, zones: [tank]}", "{part: charger, zones: [tank], on_pack: yes}",
         f"{BRIEF_FILE}:6: parts[2].on_pack: 'yes'; allowed: true when it sits on top of the modules."),
        ("modules/motor.yaml", "kind: motor", "kind: moter",
         "modules/motor.yaml:1: kind: unknown kind 'moter'; allowed: battery module,"),
        ("modules/motor.yaml", "kind: motor\n", "",
         "modules/motor.yaml:1: kind: missing; allowed: battery module,"),
        ("modules/motor.yaml", "mass: 38\n", "",
         "modules/motor.yaml:1: mass: missing; allowed: 0.01 to 2000 kg"),
        ("modules/motor.yaml", "min: 100", "min: 500",
         "modules/motor.yaml:9: electrical: voltages out of order; allowed: min < max"),
        ("shared/tubes.yaml", "wall: 2, outer_radius: 4, area_mm2: 174", "wall: 2, outer_radius: 4, area_mm2: true",
         "shared/tubes.yaml:3: sections.SHS 25x2.area_mm2: True is not a quantity"),
    ],
)  # fmt: skip
def test_one_fault(workshop: Workshop, file: str, old: str, new: str, fault: str) -> None:
    text = {
        VEHICLE_FILE: VEHICLE,
        BRIEF_FILE: BRIEF,
        "modules/motor.yaml": MOTOR,
        "shared/tubes.yaml": TUBES,
    }[file]
    found = told(workshop, {file: swapped(text, old, new)})
    assert [line for line in found if line.startswith(fault)], found


def test_a_misspelt_field_is_told_with_the_nearest(workshop: Workshop) -> None:
    found = told(workshop, {VEHICLE_FILE: swapped(VEHICLE, "wheelbase:", "whelbase:")})
    assert found[1].endswith("; did you mean 'wheelbase'?")


def test_all_faults_of_all_files_are_told_at_once(workshop: Workshop) -> None:
    found = told(
        workshop,
        {
            BRIEF_FILE: swapped(BRIEF, "count: 4", "count: 0"),
            VEHICLE_FILE: swapped(VEHICLE, "fuel: 20 +/- 2", "fuel: -1"),
            "modules/motor.yaml": swapped(MOTOR, "mass: 38", "mass: heavy"),
            "modules/module.yaml": MODULE + "mass: 3\n",
            "shared/tubes.yaml": None,
            "shared/materials.yaml": "materials: [\n",
        },
    )
    assert [line.split(": ")[0] for line in found] == [
        "bays/corrow/first.yaml:3",
        "bays/corrow/vehicle.yaml:10",
        "modules/module.yaml:11",
        "modules/motor.yaml:5",
        "shared/materials.yaml:2",
        "shared/tubes.yaml",
    ]


# ---- refusal: files against each other


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("part: module", "part: modul", f"{BRIEF_FILE}:3: modules.part: unknown part 'modul'; allowed: module, motor, "
         "charger; did you mean 'module'?"),
        ("part: motor", "part: ../../motor", f"{BRIEF_FILE}:5: parts[1].part: unknown part '../../motor'"),
        ("part: module", "part: motor", f"{BRIEF_FILE}:3: modules.part: 'motor' is a motor; allowed: a battery module"),
        ("part: motor", "part: module", f"{BRIEF_FILE}:5: parts[1].part: 'module' is a battery module; "
         "allowed: any other kind"),
        ("part: charger", "part: motor", f"{BRIEF_FILE}:6: parts[2].part: a second part called 'motor'; "
         "allowed: names that differ; give each of them a `name`"),
        ("zones: [tank]", "zones: [tnak]", f"{BRIEF_FILE}:6: parts[2].zones[1]: unknown zone 'tnak'; "
         "allowed: tank, bay; did you mean 'tank'?"),
        ("count: 4, zones: [bay]", "count: 4, zones: [bay, bay]",
         f"{BRIEF_FILE}:3: modules.zones[2]: 'bay' is given twice"),
        ("zones: [tank]", "zones: [tank], on_pack: true", f"{BRIEF_FILE}:6: parts[2].zones: on_pack, but in no zone "
         "that modules may go in; allowed: bay"),
        ("zones: [tank]", "zones: [bay], on_pack: true, fixed: {at: [0, 0, 400]}",
         f"{BRIEF_FILE}:6: parts[2].on_pack: both fixed and on_pack; allowed: one of the two"),
        ("zones: [tank]", "zones: [tank], fixed: {at: [2400, 0, 320], up: -z}",
         f"{BRIEF_FILE}:6: parts[2].fixed.up: 'charger' may not stand with -z up; allowed: +z"),
        ("design_code: plain", "design_code: plain\nwiring: {signals: [{name: sense, start: [motor, shift], goal: [dial]}]}",
         f"{BRIEF_FILE}:3: wiring.signals.sense.start[2]: unknown port 'shift'; allowed: shaft; did you mean 'shaft'?"),
        ("design_code: plain", "design_code: plain\nwiring: {signals: [{name: sense, start: [motor, shaft], goal: [dial]}]}",
         f"{BRIEF_FILE}:3: wiring.signals.sense.goal[1]: unknown fixed point 'dial'"),
        ("design_code: plain", "design_code: plain\nwiring: {signals: [{name: s, start: [moter, a], goal: [dial]}]}",
         f"{BRIEF_FILE}:3: wiring.signals.s.start[1]: unknown part of the brief 'moter'; allowed: motor"),
        ("SHS 25x2", "SHS 25x3", f"{BRIEF_FILE}:7: frame.cradle_tube: unknown tube 'SHS 25x3'; allowed: SHS 25x2, "),
        ("S235", "S999", f"{BRIEF_FILE}:7: frame.material: unknown material 'S999'; allowed: S235"),
        ("design_code: plain", "design_code: strict", f"{BRIEF_FILE}:2: design_code: unknown design code 'strict'; "
         "allowed: plain"),
        ("design_code: plain", "design_code: plain\nvehicle: ../other/vehicle.yaml",
         f"{BRIEF_FILE}:3: vehicle: no such file: '../other/vehicle.yaml'"),
        ("design_code: plain", "design_code: plain\nvehicle: ../../../elsewhere/vehicle.yaml",
         f"{BRIEF_FILE}:3: vehicle: '../../../elsewhere/vehicle.yaml' leads out of the workshop folder"),
        ("design_code: plain", "design_code: plain\nvehicle: /etc/passwd",
         f"{BRIEF_FILE}:3: vehicle: '/etc/passwd' is no path"),
    ],
)  # fmt: skip
def test_what_does_not_agree(workshop: Workshop, old: str, new: str, fault: str) -> None:
    found = told(workshop, {BRIEF_FILE: swapped(BRIEF, old, new)})
    assert [line for line in found if line.startswith(fault)], found


def test_a_count_out_of_range_names_the_range(workshop: Workshop) -> None:
    brief = swapped(BRIEF, "design_code: plain", "design_code: plain\nwiring: {strings: 0}")
    assert told(workshop, {BRIEF_FILE: brief}) == [
        f"{BRIEF_FILE}:3: wiring.strings: 0; allowed: a whole number, 1 to 20: Strings in parallel; the number of "
        "modules is a multiple of it."
    ]


@pytest.mark.parametrize(
    ("conduit", "fault"),
    [
        ("hosepipe", "unknown conduit 'hosepipe'; allowed: "),
        ("steel tube 12x1.5", "steel tube 12x1.5 is 9 mm wide inside, for a cable of 9 mm; allowed: at least 9.9 mm: "),
    ],
)  # fmt: skip
def test_conduit_of_a_signal_cable_that_is_not_there_or_too_thin(
    workshop: Workshop, conduit: str, fault: str
) -> None:
    order = f"{{name: s, start: [motor, shaft], goal: [motor, shaft], diameter: 9, conduit: {conduit}}}"
    brief = swapped(BRIEF, "design_code: plain", f"design_code: plain\nwiring: {{signals: [{order}]}}")
    rules = (ROOT / "shared" / "electrical.yaml").read_text(encoding="utf-8")
    found = told(workshop, {BRIEF_FILE: brief, "shared/electrical.yaml": rules})
    assert [
        line for line in found if line.startswith(f"{BRIEF_FILE}:3: wiring.signals.s.conduit: {fault}")
    ], found


def test_an_unknown_thread(workshop: Workshop) -> None:
    text = VEHICLE.replace("thread: M10", "thread: M11", 1)
    assert told(workshop, {VEHICLE_FILE: text}) == [
        f"{VEHICLE_FILE}:17: mounts.left.thread: unknown thread 'M11'; allowed: M10; did you mean 'M10'?"
    ]


def test_a_design_code_bears_the_name_of_its_file(workshop: Workshop) -> None:
    found = told(workshop, {"shared/design-codes/plain.yaml": swapped(CODE, "name: plain", "name: other")})
    assert found == [
        "shared/design-codes/plain.yaml:1: name: 'other' in a file called plain.yaml; allowed: plain"
    ]


def test_a_symlink_out_of_the_workshop(workshop: Workshop, tmp_path: Path) -> None:
    root = workshop()
    outside = tmp_path / "outside.yaml"
    outside.write_text(CHARGER, encoding="utf-8")
    (root / "modules" / "charger.yaml").unlink()
    (root / "modules" / "charger.yaml").symlink_to(outside)
    with pytest.raises(InputError, match=r"charger\.yaml: lies outside the workshop folder"):
        read_case(root / BRIEF_FILE)


def test_a_brief_in_no_workshop(tmp_path: Path) -> None:
    file = tmp_path / "brief.yaml"
    file.write_text(BRIEF, encoding="utf-8")
    with pytest.raises(
        InputError, match="is in no workshop folder; allowed: a file below a folder that holds modules"
    ):
        read_case(file)


def test_a_folder_or_nothing_in_place_of_a_brief(workshop: Workshop) -> None:
    root = workshop()
    with pytest.raises(InputError, match=r"is a folder; allowed: a brief's YAML file; such as first\.yaml"):
        read_case(root / "bays" / "corrow")
    with pytest.raises(InputError, match=r"none\.yaml: no such file"):
        read_case(root / "bays" / "corrow" / "none.yaml")


# ---- refusal: shapes


def test_every_bad_station_is_told_at_its_line(workshop: Workshop) -> None:
    text = swapped(VEHICLE, "[[-350, 300], [350, 300], [350, 800], [-350, 800]]",
                   "[[-350, 300], [350, 800], [350, 300], [-350, 800]]")  # fmt: skip
    text = swapped(text, "[[-350, 300], [350, 300], [350, 900], [-350, 900]]",
                   "[[-350, 300], [350, 300], [350, 300], [-350, 900]]")  # fmt: skip
    assert told(workshop, {VEHICLE_FILE: text}) == [
        f"{VEHICLE_FILE}:24: zones.bay.stations[1].outline: the outline crosses or touches itself at (0, 550), between "
        "points 1-2 and 3-4; allowed: points in order round it; look for two points that are swapped or a wrong sign",
        f"{VEHICLE_FILE}:28: zones.bay.stations[3].outline[3]: point 3 repeats the one before; "
        "allowed: each point once; leave it out",
    ]


def test_stations_out_of_order(workshop: Workshop) -> None:
    text = swapped(VEHICLE, "x: 500", "x: 50")
    assert told(workshop, {VEHICLE_FILE: text}) == [
        f"{VEHICLE_FILE}:27: zones.bay.stations[3].x: x 50 after x 100; "
        "allowed: stations in the order of x, at least 1 mm apart"
    ]


def test_own_cg_outside_the_part(workshop: Workshop) -> None:
    text = swapped(MOTOR, '["130 +/- 5", 120, 120]', "[130, 120, 300]")
    assert told(workshop, {"modules/motor.yaml": text}) == [
        "modules/motor.yaml:6: cg: the centre of gravity is 60 mm outside; "
        "allowed: a point within the part's box, [0, 0, 0] to 260 x 240 x 240 mm"
    ]

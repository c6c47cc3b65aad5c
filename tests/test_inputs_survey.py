"""The measuring sheet and the skeleton of a vehicle."""

import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest

from packlayout.errors import InputError
from packlayout.inputs.case import read_case
from packlayout.inputs.check import check_paths
from packlayout.inputs.reader import VEHICLE as VEHICLE_KIND
from packlayout.inputs.survey import SHEET, VEHICLE, survey
from tests.workshop_files import BRIEF

Workshop = Callable[..., Path]

FILLED = {
    "name:": "Grey van, 1958", "maker:": "Corrow Vehicles", "wheelbase:": "2438 +/- 3", "track_front:": "1245 +/- 4",
    "track_rear:": "1240", "front_axle:": "640", "rear_axle:": "780", "gross:": "1400", "size:": "5.60-15",
    "front_load:": "415", "rear_load:": "415", "radius:": "305", "front_left:": "276 +/- 1.5", "front_right:": "269",
    "rear_left:": "243", "rear_right:": "246", "fuel:": "28", "- raised:": "rear", "height:": "500 +/- 3",
    "level:": "545", "lifted:": "567.8 +/- 1", "wheel_radius:": "305", "suspension_blocked:": "true",
    "capacity:": "9.5 gal", "at: []": "[2800, 0, 450]", "width:": "1560",
    "side: []": "[[-600, 300], [3300, 300], [0, 1500]]",
}  # fmt: skip
OUTLINE = "[[-350, 300], [350, 300], [350, 800], [-350, 800]]"


def filled_in(text: str) -> str:
    """The skeleton as a user fills it in: each open field once, the two stations one after the other."""
    lines, stations = [], iter(("-300", OUTLINE, "400", OUTLINE))
    todo = dict(FILLED)
    for line in text.splitlines():
        body = line.split("#")[0].strip()
        if body in ("- x:", "outline: []"):
            lines.append(line.split("#")[0].rstrip(" []") + f" {next(stations)}")
        elif body in todo:
            lines.append(line.split("#")[0].rstrip().removesuffix(" []") + f" {todo.pop(body)}")
        else:
            lines.append(line)
    assert not todo, f"not in the skeleton: {todo}"
    return "\n".join(lines) + "\n"


class Words(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.codes: list[str] = []
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag != "meta":
            self.open.append(tag)
        self.links += [str(value) for name, value in attrs if name in ("src", "href", "data")]

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.links += [str(value) for name, value in attrs if name in ("src", "href", "data")]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag, f"</{tag}> closes something else"

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] == "code":
            self.codes.append(data)


# ---- by hand


def test_two_files_are_written(workshop: Workshop) -> None:
    root = workshop()
    made = survey(root / "bays" / "grey-van")
    assert [path.name for path in made] == [VEHICLE, SHEET]
    assert sorted(path.name for path in (root / "bays" / "grey-van").iterdir()) == [SHEET, VEHICLE]
    assert "VEHICLE-NAME" not in "".join(path.read_text(encoding="utf-8") for path in made)
    assert "Measuring sheet: grey-van" in made[1].read_text(encoding="utf-8")


def test_the_skeleton_is_a_list_of_what_to_do(workshop: Workshop) -> None:
    root = workshop()
    made = survey(root / "bays" / "grey-van")
    faults, _ = check_paths([made[0]])
    lines = made[0].read_text(encoding="utf-8").splitlines()
    assert len(faults) > 25
    for fault in faults:
        assert fault.found in ("nothing stands here", "a list of 0", "[] is not a point"), str(fault)
        assert re.search(r"(:|\[\])\s*(#.*)?$", lines[fault.line - 1]), str(fault)


def test_a_filled_in_skeleton_is_a_vehicle(workshop: Workshop) -> None:
    root = workshop()
    file = survey(root / "bays" / "grey-van")[0]
    file.write_text(filled_in(file.read_text(encoding="utf-8")), encoding="utf-8")
    (file.parent / "job.yaml").write_text(
        BRIEF.replace("[bay]", "[engine bay]").replace("[tank]", "[engine bay]"), encoding="utf-8"
    )
    case = read_case(file.parent / "job.yaml")
    assert case.vehicle.name == "Grey van, 1958"
    assert case.zones["engine bay"].volume == pytest.approx(700 * 700 * 500)


def test_the_examples_in_the_comments_hold(workshop: Workshop) -> None:
    root = workshop()
    file = survey(root / "bays" / "grey-van")[0]
    text = filled_in(file.read_text(encoding="utf-8"))
    lists = r"^( *)(mounts|keep_outs|seats|removed|added|aboard): \[\].*$"
    text = re.sub(lists, r"\1\2:", text, flags=re.MULTILINE)
    text, count = re.subn(r"^( *)# (- |  \w|load_floor|driveline)", r"\1\2", text, flags=re.MULTILINE)
    assert count > 15
    file.write_text(text, encoding="utf-8")
    assert [str(fault) for fault in check_paths([file])[0]] == []


def test_the_sheet_stands_alone_and_is_well_formed(workshop: Workshop) -> None:
    text = survey(workshop() / "bays" / "grey-van")[1].read_text(encoding="utf-8")
    words = Words()
    words.feed(text)
    assert words.open == []
    assert words.links == []
    assert "http" not in text
    assert "@import" not in text


def test_each_box_of_the_sheet_has_a_field(workshop: Workshop) -> None:
    text = survey(workshop() / "bays" / "grey-van")[1].read_text(encoding="utf-8")
    words = Words()
    words.feed(text)
    schema = VEHICLE_KIND.json_schema()
    known = set(schema["properties"]).union(*(row.get("properties", ()) for row in schema["$defs"].values()))
    fields = {step for code in words.codes for step in code.split(".")} - {"vehicle", "yaml"}
    assert len(fields) > 30
    assert fields <= known


# ---- refusal


def test_a_vehicle_that_is_there_is_left_alone(workshop: Workshop) -> None:
    root = workshop()
    before = (root / "bays/corrow/vehicle.yaml").read_bytes()
    with pytest.raises(InputError, match=r"has a vehicle\.yaml already; allowed: a new folder"):
        survey(root / "bays" / "corrow")
    assert (root / "bays/corrow/vehicle.yaml").read_bytes() == before
    assert not (root / "bays/corrow" / SHEET).exists()


@pytest.mark.parametrize("place", ["bays", "modules/van", "bays/corrow/van", "."])
def test_a_folder_that_is_no_bay(workshop: Workshop, place: str) -> None:
    with pytest.raises(InputError, match="is not a vehicle's folder; allowed: a folder of its own in"):
        survey(workshop() / place)


def test_no_workshop(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is in no workshop folder"):
        survey(tmp_path / "bays" / "van")


def test_both_or_neither(workshop: Workshop, monkeypatch: pytest.MonkeyPatch) -> None:
    root = workshop()
    real = Path.write_text

    def full(self: Path, *args: object, **kwargs: object) -> int:
        if self.name.startswith(SHEET):
            raise OSError(28, "No space left on device")
        return real(self, *args, **kwargs)  # type: ignore[arg-type]

    monkeypatch.setattr(Path, "write_text", full)
    with pytest.raises(InputError, match="No space left on device"):
        survey(root / "bays" / "grey-van")
    assert not (root / "bays" / "grey-van").exists()

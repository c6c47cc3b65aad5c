"""What a user meets who connects a pack to a device that cannot stand its voltage, by the real command line."""

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.workshop_files import BRIEF, BRIEF_FILE, CHARGER

pytestmark = pytest.mark.slow

Make = Callable[..., Path]
WORDS = "DANGER: the fully charged pack gives 50 V and Wick 3 charger stands 40 V."
TOO_LOW = {
    "modules/charger.yaml": CHARGER.replace("min: 100, max: 400", "min: 20, max: 40"),
    BRIEF_FILE: BRIEF.replace("count: 4", "count: 1").replace("  - {part: motor, zones: [bay]}\n", ""),
}


def packlayout(*words: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "packlayout.cli", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)


# ---- refusal


def test_too_high_a_voltage_is_told_first_and_once(workshop: Make) -> None:
    """A module of 50 V on a charger for 40 V."""
    brief = workshop(TOO_LOW) / BRIEF_FILE
    ran = packlayout("wire", brief, "--quiet")
    assert ran.returncode == 1, ran.stderr
    assert ran.stdout.startswith(WORDS)
    assert ran.stdout.count("DANGER") == 1
    assert (
        "FAIL  Wick 3 charger: voltage of the fully charged pack: 50, at most 40 V (see the top)"
        in ran.stdout
    )


def test_too_high_a_voltage_stands_at_the_top_of_every_file(workshop: Make, tmp_path: Path) -> None:
    brief, out = workshop(TOO_LOW) / BRIEF_FILE, tmp_path / "out"
    ran = packlayout("fit", brief, "--quiet", "--json", "--out", out)
    assert ran.returncode == 1, ran.stderr
    for document in (json.loads(ran.stdout), json.loads((out / "checks.json").read_text())):
        assert document["danger"][0].startswith(WORDS)
    first = json.loads((out / "checks.json").read_text())["checks"][0]
    assert (first["id"], first["verdict"]) == ("electrical.overvoltage.Wick 3 charger", "fail")
    page = (out / "report.html").read_text()
    assert page.index("DANGER") < page.index("Does it fit?")

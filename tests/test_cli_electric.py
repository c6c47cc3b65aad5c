"""What a user meets who connects a pack to a device that cannot stand its voltage, by the real command line."""

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.workshop_files import BRIEF, BRIEF_FILE, CHARGER, FILES

pytestmark = pytest.mark.slow

WORDS = "DANGER: the fully charged pack gives 50 V and Wick 3 charger stands 40 V."
TOO_LOW = {
    "modules/charger.yaml": CHARGER.replace("min: 100, max: 400", "min: 20, max: 40"),
    BRIEF_FILE: BRIEF.replace("count: 4", "count: 1").replace("  - {part: motor, zones: [bay]}\n", ""),
}


def packlayout(*words: object, seed: str = "0") -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "packlayout.cli", *map(str, words)]
    own = {**os.environ, "PYTHONHASHSEED": seed}
    return subprocess.run(command, capture_output=True, text=True, timeout=300, check=False, env=own)


@dataclass(frozen=True)
class Fitted:
    """The whole job, done once: a module of 50 V on a charger for 40 V."""

    brief: Path
    out: Path
    ran: subprocess.CompletedProcess[str]


@pytest.fixture(scope="module")
def fitted(tmp_path_factory: pytest.TempPathFactory) -> Fitted:
    root = tmp_path_factory.mktemp("shop")
    for name, text in {**FILES, **TOO_LOW}.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(text)
    brief, out = root / BRIEF_FILE, root / "out"
    return Fitted(brief, out, packlayout("fit", brief, "--quiet", "--json", "--out", out))


# ---- refusal


def test_too_high_a_voltage_stands_at_the_top_of_every_file(fitted: Fitted) -> None:
    assert fitted.ran.returncode == 1, fitted.ran.stderr
    for document in (json.loads(fitted.ran.stdout), json.loads((fitted.out / "checks.json").read_text())):
        assert document["danger"][0].startswith(WORDS)
    first = json.loads((fitted.out / "checks.json").read_text())["checks"][0]
    assert (first["id"], first["verdict"]) == ("electrical.overvoltage.Wick 3 charger", "fail")
    page = (fitted.out / "report.html").read_text()
    assert page.index("DANGER") < page.index("Does it fit?")


def test_too_high_a_voltage_is_told_first_and_once(fitted: Fitted) -> None:
    ran = packlayout("wire", fitted.brief, "--layout", fitted.out / "layout-1.yaml", "--quiet")
    assert ran.returncode == 1, ran.stderr
    assert ran.stdout.startswith(WORDS)
    assert ran.stdout.count("DANGER") == 1
    assert (
        "FAIL  Wick 3 charger: voltage of the fully charged pack: 50, at most 40 V (see the top)"
        in ran.stdout
    )


# ---- invariant


def test_two_runs_write_the_same_bytes(fitted: Fitted, tmp_path: Path) -> None:
    """In two interpreters that order their sets differently."""
    again = packlayout("fit", fitted.brief, "--out", tmp_path / "again", "--quiet", seed="1")
    assert again.returncode == 1, again.stderr
    alike = (".yaml", ".step", ".glb", ".dxf", ".csv", ".h", ".svg", ".json", ".html")
    names = [one.name for one in sorted(fitted.out.iterdir()) if one.suffix in alike]
    assert {Path(name).suffix for name in names} >= {".yaml", ".step", ".glb", ".csv", ".json", ".html"}
    for name in names:
        assert (fitted.out / name).read_bytes() == (tmp_path / "again" / name).read_bytes(), name

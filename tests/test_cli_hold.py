"""A layout file whose locked parts stay while the rest is searched, by the real command line."""

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from packlayout.desk.files import LAYOUT
from tests.desks import desk
from tests.workshop_files import BRIEF_FILE

pytestmark = pytest.mark.slow


def test_the_locked_part_of_a_layout_stays_while_the_rest_is_searched(
    workshop: Callable[..., Path], tmp_path: Path
) -> None:
    """The charger where no search would put it, and locked; the modules go where they are best."""
    made = desk(workshop())
    stood = next(p for p in made.state.layout.placements if p.name == "Wick 3 charger")
    text = (made.folder / LAYOUT).read_text()
    spot = text.index(f"name: {stood.name}")
    x, y, z = stood.at
    wanted = (x + 7.5, y - 2.25, z + 1.75)
    moved = text[spot:].replace(f"at: [{x:g}, {y:g}, {z:g}]", f"at: [{', '.join(map(str, wanted))}]", 1)
    assert moved != text[spot:]
    held = tmp_path / "held.yaml"
    held.write_text(text[:spot] + moved.replace("locked: false", "locked: true", 1))
    brief = made.case.root / BRIEF_FILE
    command = ["place", brief, "--hold", held, "--out", tmp_path / "out", "--json", "--quiet"]
    ran = subprocess.run(
        [sys.executable, "-m", "packlayout.cli", *map(str, command)],
        capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    assert ran.returncode in (0, 1), ran.stderr
    layouts = json.loads(ran.stdout)["layouts"]
    assert layouts
    for found in layouts:
        placed = {r["name"]: r for r in found["placements"]}
        assert placed[stood.name]["box_mm"]["min"] == pytest.approx(wanted, abs=1e-6)
        assert placed[stood.name]["locked"]
        module, before = (
            placed["module 1"],
            next(p for p in made.state.layout.placements if p.name == "module 1"),
        )
        assert not module["locked"]
        assert module["box_mm"]["min"] != pytest.approx(before.at, abs=1e-3)

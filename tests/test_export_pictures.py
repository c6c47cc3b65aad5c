"""Pictures: drawn in another process that may die; words that can be read."""

import ctypes.util
import random
import struct
import sys
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from packlayout.export.annotate import HEIGHT, WIDTH, Frame, callout_lane, framed, mark_lane, width_px
from packlayout.export.palette import channels, colour
from packlayout.export.pictures import SIDE, THREE_QUARTER, picture_scene, write_pictures
from packlayout.export.scene import Callout, Scene
from packlayout.model.geometry import Vec
from tests.studies import study

STUDY = study()
SCENE = picture_scene(STUDY)
Rect = tuple[float, float, float, float]


def _rows(scene: Scene, frame: Frame) -> dict[str, Rect]:
    """Rectangles of all words with a leader: left, top, right, bottom."""
    words = (*callout_lane(scene, frame), *mark_lane(scene, frame))
    return {
        f"{k} {w.pointer.text}": (w.pointer.begin, w.y - 9, w.pointer.end, w.y + 9)
        for k, w in enumerate(words)
    }


def _apart(a: Rect, b: Rect) -> bool:
    return a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]


def _readable(scene: Scene) -> None:
    for view in scene.views:
        frame = framed(scene, view)
        rects = _rows(scene, frame)
        for (one, a), (other, b) in combinations(rects.items(), 2):
            assert _apart(a, b), f"{one} covers {other}"
        for name, (left, top, right, bottom) in rects.items():
            assert 0 <= left < right <= WIDTH, name
            assert 75 <= top < bottom <= HEIGHT - 60, name
        corners = np.array([frame.pixel((float(x), float(y), float(z))) for x, y, z in scene.frame])
        assert corners.min() > 30
        assert corners[:, 0].max() < WIDTH - 30
        assert corners[:, 1].max() <= frame.bottom_px + 1


def test_side_view_by_hand() -> None:
    """To the right x, upward z, the front axle on the left; one scale in both directions."""
    frame = framed(SCENE, SCENE.views[0])
    origin, rear, roof = (
        frame.pixel(at) for at in ((0.0, 0.0, 0.0), (2310.0, 500.0, 0.0), (0.0, 0.0, 1000.0))
    )
    assert rear[0] - origin[0] == pytest.approx(2310 * frame.px_per_mm)
    assert rear[1] == pytest.approx(origin[1])
    assert origin[1] - roof[1] == pytest.approx(1000 * frame.px_per_mm)


def test_words_are_apart() -> None:
    _readable(SCENE)


@pytest.mark.parametrize("seed", range(6))
def test_words_are_apart_with_many_parts(seed: int) -> None:
    dice = random.Random(seed)

    def somewhere() -> Vec:
        return dice.uniform(-300, 2800), dice.uniform(-400, 400), dice.uniform(300, 700)

    many = tuple(Callout(f"part {k} " + "m" * dice.randrange(25), somewhere()) for k in range(25))
    _readable(replace(SCENE, callouts=many))


def test_what_is_said() -> None:
    assert SCENE.title == "Heron Estate — Piano tuner"
    assert {c.text for c in SCENE.callouts} >= {"block 1: 6 modules", "block 2: 4 modules", "motor"}
    assert [m.text for m in SCENE.marks] == ["CG before: x 1097, z 560 mm", "CG after: x 1178, z 531 mm"]
    assert [c.lines for c in SCENE.captions] == [
        ("front axle", "514 kg before, 497 kg after"), ("rear axle", "465 kg before, 517 kg after"),
    ]  # fmt: skip
    assert {k.text for k in SCENE.keys} >= {
        "motor",
        "frame",
        "free space",
        "keep-out, moving",
        "mounting hole",
    }
    assert len(SCENE.crosses) == 4


def test_a_study_without_results_still_shows_the_vehicle() -> None:
    bare = picture_scene(replace(STUDY, layout=None, placed=None, framed=None, weighing=None))
    assert bare.callouts == bare.marks == bare.captions == ()
    _readable(bare)


def test_width_of_words() -> None:
    assert width_px("") == 0
    assert width_px("motor motor") == pytest.approx(2 * width_px("motor") + width_px(" "), rel=0.05)
    assert width_px("$x$") > width_px("x"), "a name with $ is no formula"


def _size(png: bytes) -> tuple[int, int]:
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = struct.unpack(">II", png[16:24])
    return width, height


@pytest.mark.slow
def test_drawn(tmp_path: Path) -> None:
    from matplotlib.image import imread

    made = write_pictures(STUDY, tmp_path, ())
    if not made.files:
        pytest.skip(made.notes[0])
    assert [path.name for path in made.files] == [SIDE, THREE_QUARTER]
    for path in made.files:
        data = path.read_bytes()
        assert _size(data) == (1600, 1000)
        assert len(data) < 400_000
        assert b"Software" not in data
    image = np.asarray(imread(made.files[0]))[:, :, :3]
    frame = framed(SCENE, SCENE.views[0])
    # module 1 seen from the side, away from leaders and wheels: its colour, tinted by the free space before it
    x, y = frame.pixel((-200.0, -195.0, 470.0))
    seen = image[round(y), round(x)]
    assert np.abs(seen - channels(colour("battery module"))).max() < 0.15


@pytest.mark.skipif(sys.platform == "win32", reason="needs a shell")
def test_a_drawing_process_that_dies_is_one_line(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """What VTK does where there is no OpenGL."""
    deadly = tmp_path / "python"
    deadly.write_text("#!/bin/sh\nkill -SEGV $$\n", encoding="utf-8")
    deadly.chmod(0o755)
    monkeypatch.setattr("packlayout.export.pictures.sys.executable", str(deadly))
    made = write_pictures(STUDY, tmp_path, ())
    assert made.files == ()
    assert made.notes == (
        "pictures left out: no off-screen OpenGL here (the drawing process ended with SIGSEGV); "
        "on Debian: apt install libegl1 libgl1-mesa-dri",
    )
    assert sorted(path.name for path in tmp_path.iterdir()) == ["python"]


@pytest.mark.skipif(
    not sys.platform.startswith("linux") or ctypes.util.find_library("OSMesa") is not None,
    reason="OSMesa is there, so drawing with it works",
)
def test_without_opengl(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A library that is not there, named by the setting that VTK itself reads: the process ends with a signal."""
    monkeypatch.setenv("VTK_DEFAULT_OPENGL_WINDOW", "vtkOSOpenGLRenderWindow")
    made = write_pictures(STUDY, tmp_path, ())
    assert made.files == ()
    assert len(made.notes) == 1
    assert made.notes[0].startswith("pictures left out: no off-screen OpenGL here (")
    assert list(tmp_path.iterdir()) == []


def test_a_missing_library_is_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "pyvista.py").write_text("raise ImportError('No module named pyvista')", encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    made = write_pictures(STUDY, tmp_path, ())
    assert made.notes == ("pictures left out: drawing failed (ImportError: No module named pyvista)",)

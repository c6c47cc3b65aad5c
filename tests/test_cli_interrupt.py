"""Ctrl-C: never lost in a compiled kernel, and what was found by then is handed out whole, by the real command line."""

import json
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numba
import numpy as np
import pytest
import typer

from packlayout.cli.door import interruptible, told
from packlayout.errors import ExportError
from packlayout.space.cells import Bools
from tests.workshop_files import BRIEF_FILE


@numba.njit
def _busy(a: Bools) -> tuple[int, Bools]:
    total = 0
    for k in range(2000):
        total += a[k % len(a)]
    return total, a.copy()


def _busy_until_interrupted(after_s: float) -> None:
    flags = np.ones(1000, dtype=np.bool_)
    _busy(flags)
    with interruptible():
        # the alarm comes from outside as Ctrl-C does, most often while the kernel runs
        signal.signal(signal.SIGALRM, signal.getsignal(signal.SIGINT))
        signal.setitimer(signal.ITIMER_REAL, after_s)
        while True:
            _busy(flags)


def test_an_interruption_in_a_compiled_kernel_is_told_as_one() -> None:
    for turn in range(40):
        with pytest.raises(KeyboardInterrupt):
            _busy_until_interrupted(0.001 * (1 + turn % 7))


def test_an_error_that_an_interruption_came_out_as_is_told_as_one(capsys: pytest.CaptureFixture[str]) -> None:
    def load() -> None:
        try:
            try:
                raise KeyboardInterrupt
            except KeyboardInterrupt as error:
                raise ImportError("initialization failed") from error
        except ImportError as error:
            raise ExportError("STEP files need a library") from error

    with pytest.raises(typer.Exit) as left, told(debug=False):
        load()
    assert left.value.exit_code == 130
    assert capsys.readouterr().err == "interrupted; what was written is whole\n"
    with pytest.raises(typer.Exit) as left, told(debug=False):
        raise ExportError("the disk is full")
    assert left.value.exit_code == 2
    assert "the disk is full" in capsys.readouterr().err


@pytest.mark.slow
@pytest.mark.parametrize(("command", "last"), [("place", "routing cables"), ("fit", "frames drawn")])
def test_layouts_found_before_an_interruption_are_written_alone_and_hold(
    workshop: Callable[..., Path], tmp_path: Path, command: str, last: str
) -> None:
    brief, out = workshop() / BRIEF_FILE, tmp_path / "out"
    running = subprocess.Popen(
        [sys.executable, "-m", "packlayout.cli", command, str(brief), "--out", str(out), "--json"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert running.stderr is not None
    seen = next(line for line in running.stderr if last in line)
    running.send_signal(signal.SIGINT)
    words, more = running.communicate(timeout=120)
    assert running.returncode == 130, seen + more
    found = json.loads(words)
    assert any("weighing and driving (interrupted)" in line for line in found["not_done"])
    assert found["checks"]
    assert all(c["verdict"] == "pass" and not c["id"].startswith("frame") for c in found["checks"])
    written = sorted(p.name for p in out.iterdir())
    assert written == [f"layout-{n}.yaml" for n in range(1, len(written) + 1)] != []

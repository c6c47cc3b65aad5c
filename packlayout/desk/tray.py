"""The tray: layouts put by to be compared and taken up again. On disk at once, like everything on the desk."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from packlayout.desk.files import set_aside, write_whole
from packlayout.desk.numbers import AtRest
from packlayout.desk.state import RefusedError, State, state_json, state_of
from packlayout.errors import ExportError, PacklayoutError

FILE = "desk-tray.json"
FORMAT = 1
MOST = 40


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """A layout on the tray.

    Attributes:
        number: Its own; never given again.
        title: What it is.
        state: Where everything stands.
        source: `search`, `by hand`, or the name of a file.
        score: What the aims make of it, the less the better; None when it was not found by a search.
    """

    number: int
    title: str
    state: State
    source: str
    score: float | None = None


class Tray:
    """The layouts by number. Changes on disk first, then in memory."""

    def __init__(self, path: Path, about: str) -> None:
        """Open the tray at `path`; empty when there is none.

        Args:
            path: The file.
            about: What it belongs to: vehicle and brief. A file about something else, or from another version, is
                set aside.

        Raises:
            ExportError: when the file cannot be read.
        """
        self.path, self.about = path, about
        self.layouts: dict[int, Kept] = {}
        self.judged: dict[int, tuple[object, AtRest]] = {}
        self._next = 1
        try:
            if path.is_file() and not self._read(path.read_bytes()):
                set_aside(path)
        except OSError as error:
            raise ExportError(f"{path} could not be opened: {error.strerror}") from error

    def add(self, state: State, title: str, source: str, score: float | None = None) -> Kept:
        """Put a layout on the tray.

        Raises:
            RefusedError: when it is full.
            ExportError: when it cannot be written.
        """
        if len(self.layouts) >= MOST:
            raise RefusedError(f"the tray holds no more than {MOST} layouts: discard some first")
        kept = Kept(self._next, title, state, source, score)
        self._write({**self.layouts, kept.number: kept}, self._next + 1)
        return kept

    def get(self, number: int) -> Kept:
        """A layout of the tray.

        Raises:
            RefusedError: for a number that is not there.
        """
        if number not in self.layouts:
            raise RefusedError(f"there is no layout {number} on the tray")
        return self.layouts[number]

    def discard(self, number: int) -> None:
        """Take a layout off the tray."""
        self.get(number)
        self._write({n: kept for n, kept in self.layouts.items() if n != number}, self._next)
        self.judged.pop(number, None)

    def best(self) -> int:
        """Number of the best layout that searches have found; nought when there is none."""
        scored = [(kept.score, n) for n, kept in self.layouts.items() if kept.score is not None]
        return min(scored)[1] if scored else 0

    def _write(self, layouts: dict[int, Kept], following: int) -> None:
        rows = [
            {"number": k.number, "title": k.title, "source": k.source, "score": k.score, "state": state_json(k.state)}
            for k in layouts.values()
        ]  # fmt: skip
        document = {"format": FORMAT, "about": self.about, "next": following, "layouts": rows}
        write_whole(self.path, json.dumps(document, ensure_ascii=False, allow_nan=False) + "\n")
        self.layouts, self._next = layouts, following

    def _read(self, text: bytes) -> bool:
        """Take in what is there; False when it is no tray of this job."""
        try:
            document: Any = json.loads(text)
            if (document["format"], document["about"]) != (FORMAT, self.about):
                return False
            for row in document["layouts"]:
                number, score = int(row["number"]), row["score"]
                self.layouts[number] = Kept(
                    number,
                    str(row["title"]),
                    state_of(row["state"]),
                    str(row["source"]),
                    None if score is None else float(score),
                )
            self._next = max(int(document["next"]), max(self.layouts, default=0) + 1)
        except (ValueError, KeyError, TypeError, PacklayoutError):
            self.layouts = {}
            return False
        return True

"""Every state that ever was, on disk: nothing is lost when the power goes, and undo has no end.

`desk-history.jsonl` only ever grows, one JSON document a line: a state with the number of the one it came from, or
the number of the state gone back or forward to. A line that was cut short is the last one and is left out.
"""

import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from packlayout.desk.files import set_aside
from packlayout.desk.state import State, state_json, state_of
from packlayout.errors import ExportError, PacklayoutError

FILE = "desk-history.jsonl"
FORMAT = 1


@dataclass(frozen=True, slots=True)
class Entry:
    """One state of the history.

    Attributes:
        number: Its own, from 1.
        parent: Of the state it came from; 0 for the first.
        title: What was done.
        state: The outcome.
    """

    number: int
    parent: int
    title: str
    state: State


class History:
    """The states and where in them the work is. Grows in memory and on disk alike, the disk first."""

    def __init__(self, path: Path, about: str) -> None:
        """Open the history at `path`, or begin one.

        Args:
            path: The file; its folder is made.
            about: What it belongs to: vehicle and brief. A file about something else is set aside.

        Raises:
            ExportError: when the file cannot be read or written.
        """
        self.path = path
        self.entries: dict[int, Entry] = {}
        self.forward: dict[int, int] = {}
        self.at = 0
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            good = self._read(about) if path.exists() else None
            if good is None:
                self.entries, self.forward, self.at = {}, {}, 0
                if path.exists():
                    set_aside(path)
                self._append({"format": FORMAT, "about": about})
            elif good < path.stat().st_size:
                with path.open("r+b") as file:
                    file.truncate(good)
        except OSError as error:
            raise ExportError(f"{path} could not be opened: {error.strerror}") from error

    @property
    def now(self) -> Entry:
        """The present state; `KeyError` before there is one."""
        return self.entries[self.at]

    @property
    def undo_title(self) -> str:
        """What undo would take back; empty when nothing."""
        return self.now.title if self.at and self.now.parent else ""

    @property
    def redo_title(self) -> str:
        """What redo would do again; empty when nothing."""
        ahead = self.forward.get(self.at)
        return self.entries[ahead].title if ahead else ""

    def add(self, title: str, state: State) -> Entry:
        """A new state after the present one."""
        entry = Entry(max(self.entries, default=0) + 1, self.at, title, state)
        self._append({"n": entry.number, "from": entry.parent, "title": title, "state": state_json(state)})
        self._take(entry)
        return entry

    @property
    def behind(self) -> Entry | None:
        """The state that undo goes to; None at the first."""
        return self.entries.get(self.now.parent)

    @property
    def ahead(self) -> Entry | None:
        """The state that was last undone from here; None when there is none."""
        return self.entries.get(self.forward.get(self.at, 0))

    def go(self, entry: Entry) -> None:
        """Back or forward to a state."""
        self._append({"at": entry.number})
        self.at = entry.number

    def _take(self, entry: Entry) -> None:
        self.entries[entry.number] = entry
        if entry.parent:
            self.forward[entry.parent] = entry.number
        self.at = entry.number

    def _append(self, document: dict[str, Any]) -> None:
        line = json.dumps(document, ensure_ascii=False, allow_nan=False, separators=(",", ":")) + "\n"
        try:
            with self.path.open("ab") as file:
                file.write(line.encode())
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            raise ExportError(
                f"{self.path} could not be written: {error.strerror}; nothing was changed"
            ) from error

    def _read(self, about: str) -> int | None:
        """Take in what is there; the number of good bytes, or None when it is about something else."""
        good = 0
        for n, line in enumerate(self.path.read_bytes().splitlines(keepends=True)):
            if not line.endswith(b"\n"):
                break
            try:
                document = json.loads(line)
                if n == 0:
                    if (document["format"], document["about"]) != (FORMAT, about):
                        return None
                elif "at" in document:
                    self.at = self.entries[document["at"]].number
                else:
                    parent = int(document["from"])
                    if parent and parent not in self.entries:
                        return None
                    self._take(
                        Entry(int(document["n"]), parent, str(document["title"]), state_of(document["state"]))
                    )
            except (ValueError, KeyError, TypeError, PacklayoutError):
                # cut short, or from another version: what comes before it still counts
                break
            good += len(line)
        return good if self.entries or good else None

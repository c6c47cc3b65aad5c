"""The folder of results: written beside, then swapped in, so that a pack is whole or as it was."""

import errno
import hashlib
import os
import shutil
import tempfile
from collections.abc import Callable, Generator, Iterable, Sequence, Set
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from packlayout.errors import ExportError
from packlayout.study import Study

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Written:
    """One file of the pack.

    Attributes:
        path: Where it is.
        kind: Key of the exporter that made it.
        sha256: Of its bytes, in hex.
    """

    path: Path
    kind: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Made:
    """What one exporter did.

    Attributes:
        files: What it wrote.
        notes: What it left out and why, one line each.
    """

    files: tuple[Path, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Exporter:
    """One kind of output.

    Attributes:
        make: Writes files into a folder; is told the notes of the exporters before it.
        files: Patterns of all files it may write; what matches and is not written again is out of date.
    """

    make: Callable[[Study, Path, tuple[str, ...]], Made]
    files: tuple[str, ...]


def stamp() -> datetime:
    """The date that goes into files: SOURCE_DATE_EPOCH, else the first day of 2000, so that bytes repeat."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    try:
        return datetime.fromtimestamp(int(epoch), UTC)
    except (ValueError, OverflowError, OSError):
        return datetime(2000, 1, 1, tzinfo=UTC)


@contextmanager
def staged(folder: Path, patterns: Sequence[str], keep: Iterable[Path] = ()) -> Generator[Path]:
    """A temporary folder beside `folder` whose files replace those of `folder` when the block ends well.

    Files of `folder` that match a pattern and were not written again go; all others stay. When anything fails or
    the user interrupts, `folder` is as it was.

    Args:
        folder: The pack; made when it is not there.
        patterns: Which files of the pack are being written, relative to it.
        keep: Files that must stay as they are even when they match: what the user gave as input.

    Yields:
        The temporary folder to write into.

    Raises:
        ExportError: when the folder cannot be written; the message says what to do.
    """
    beside: Path | None = None
    try:
        folder = folder.resolve()  # beside what a link points to: moving must not cross to another disk
        folder.parent.mkdir(parents=True, exist_ok=True)
        if folder.exists() and not folder.is_dir():
            raise NotADirectoryError(errno.ENOTDIR, "it is a file", str(folder))
        home = folder if folder.is_mount() else folder.parent
        beside = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", suffix=".tmp", dir=home))
        new = beside / "new"
        new.mkdir()
        yield new
        _swap(new, folder, beside / "old", patterns, frozenset(path.resolve() for path in keep))
    except OSError as error:
        raise ExportError(_in_words(error, folder)) from error
    finally:
        if beside is not None:
            shutil.rmtree(beside, ignore_errors=True)


def _swap(new: Path, folder: Path, old: Path, patterns: Sequence[str], keep: Set[Path]) -> None:
    if not folder.exists():
        new.rename(folder)
        return
    names = (path.relative_to(new) for path in new.rglob("*") if path.is_file())
    coming = sorted(name for name in names if (folder / name).resolve() not in keep)
    for name in coming:
        if (folder / name).is_dir():
            raise IsADirectoryError(errno.EISDIR, "it is a folder", str(folder / name))
    found = (path for pattern in patterns for path in folder.glob(pattern) if path.is_file())
    leaving = {path.relative_to(folder) for path in found if path.resolve() not in keep}
    moved: list[tuple[Path, Path]] = []

    def move(source: Path, target: Path) -> None:
        target.parent.mkdir(parents=True, exist_ok=True)
        source.replace(target)
        moved.append((source, target))

    try:
        for name in sorted({*leaving, *(name for name in coming if (folder / name).exists())}):
            move(folder / name, old / name)
        for name in coming:
            move(new / name, folder / name)
    except BaseException:
        for source, target in reversed(moved):
            target.replace(source)
        raise


def _in_words(error: OSError, folder: Path) -> str:
    where = error.filename or folder
    reasons = {
        errno.ENOSPC: "the disk is full: free some space",
        errno.EDQUOT: "the disk quota is used up: free some space",
        errno.EFBIG: "the file would be larger than allowed here",
        errno.EACCES: f"{where} may not be written: close programs that have it open, or choose another --out",
        errno.EPERM: f"{where} may not be written: close programs that have it open, or choose another --out",
        errno.EROFS: "it is on a read-only disk: choose another --out",
        errno.ENOTDIR: f"{where} is a file, not a folder: choose another --out",
        errno.EEXIST: f"{where} is a file, not a folder: choose another --out",
        errno.EISDIR: f"{where} is a folder where a file should go: move it away",
    }
    reason = reasons.get(error.errno or 0, f"{where}: {error.strerror or error}")
    return f"{folder} could not be written; {reason}. What was there before is as it was"


def sha256(path: Path) -> str:
    """Hash of a file's bytes, in hex."""
    return hashlib.sha256(path.read_bytes()).hexdigest()

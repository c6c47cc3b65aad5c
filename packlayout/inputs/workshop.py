"""The workshop folder: where things are, and what may not be reached from it."""

import os
from dataclasses import dataclass
from pathlib import Path

from packlayout.errors import Fault, InputError


@dataclass(frozen=True, slots=True)
class Workshop:
    """A folder with modules/ and bays/.

    Attributes:
        root: Its absolute path, symlinks as the user wrote them.
        relative: Files are shown relative to the working folder, as the user named the first one.
    """

    root: Path
    relative: bool = False

    def shown(self, path: Path) -> Path:
        """A file as the user is told of it."""
        return Path(os.path.relpath(path)) if self.relative else path

    def holds(self, path: Path) -> bool:
        """True when a path, with its symlinks followed, lies within the workshop."""
        try:
            return path.resolve().is_relative_to(self.root.resolve())
        except (OSError, RuntimeError, ValueError):  # a loop of symlinks, a nought byte
            return False

    def key(self, path: Path) -> str:
        """A file's path within the workshop, with forward slashes."""
        return path.relative_to(self.root).as_posix()

    def part_files(self) -> dict[str, Path]:
        """Name of each part -> its file in modules/."""
        folder = self.root / "modules"
        return {path.stem: path for path in sorted(folder.glob("*.yaml")) if path.is_file()}

    def code_files(self) -> dict[str, Path]:
        """Name of each design code -> its file in shared/design-codes/."""
        folder = self.root / "shared" / "design-codes"
        return {path.stem: path for path in sorted(folder.glob("*.yaml")) if path.is_file()}


def is_workshop(folder: Path) -> bool:
    """True for a folder that holds modules/ and bays/."""
    return (folder / "modules").is_dir() and (folder / "bays").is_dir()


def find_workshop(path: Path) -> Workshop:
    """The workshop a file or folder belongs to: itself, or the nearest folder above it.

    Raises:
        InputError: when no folder above it is one.
    """
    absolute = Path(os.path.abspath(path))  # noqa: PTH100 - `resolve` would follow symlinks
    for folder in (absolute, *absolute.parents):
        if is_workshop(folder):
            return Workshop(folder, relative=not path.is_absolute())
    raise InputError(
        Fault(
            path, 0, "", "is in no workshop folder",
            "a file below a folder that holds modules/ and bays/",
            "`packlayout init DIR` makes one",
        )
    )  # fmt: skip

"""`manifest.json`: what a pack holds and what it was made from; and whether that is still so."""

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any, Literal

from packlayout import __version__
from packlayout.errors import ExportError
from packlayout.export.pack import sha256, stamp
from packlayout.study import Study

MANIFEST = "manifest.json"


@dataclass(frozen=True, slots=True)
class Mismatch:
    """One thing that is not as it was when the pack was made.

    Attributes:
        what: A file of the pack, an input it was made from, or the program.
        path: Within the pack or the workshop; empty for the program.
        why: `changed`, `missing`, or the versions.
    """

    what: Literal["file", "input", "program"]
    path: str
    why: str

    def __str__(self) -> str:
        told = {"file": "in the pack", "input": "input", "program": "packlayout"}[self.what]
        return f"{told}: {self.path} is {self.why}" if self.path else f"{told}: {self.why}"


def manifest_of(study: Study, files: Mapping[str, tuple[str, Path]], given: Iterable[Path] = ()) -> str:
    """The manifest as text.

    Args:
        study: What the pack was made from.
        files: Path within the pack -> kind, and where the file is now.
        given: Files that it was made from besides those the case names: a layout that the user edited. One that
            lies outside the workshop is not written down, since nobody else has it.
    """
    rows = [
        {"path": path, "kind": kind, "sha256": sha256(where)} for path, (kind, where) in sorted(files.items())
    ]
    inputs = dict(study.case.inputs)
    root = study.case.root.resolve()
    for path in given:
        if path.resolve().is_relative_to(root) and path.is_file():
            inputs[path.resolve().relative_to(root).as_posix()] = sha256(path)
    document: dict[str, Any] = {
        "packlayout": __version__,
        "key": study.case.key,
        "vehicle": study.case.vehicle.name,
        "brief": study.case.brief.name,
        "seed": study.seed,
        "made": stamp().strftime("%Y-%m-%dT%H:%M:%SZ"),
        "files": rows,
        "inputs": [{"path": path, "sha256": digest} for path, digest in sorted(inputs.items())],
    }
    return json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def verify(folder: Path, root: Path) -> tuple[Mismatch, ...]:
    """Hold a pack against its manifest, and the manifest against the workshop as it is now.

    Args:
        folder: The pack.
        root: The workshop folder that holds the inputs.

    Returns:
        What no longer matches: files first, then inputs, then the program; empty when all is as it was.

    Raises:
        ExportError: when there is no manifest, or it cannot be read.
    """
    document = _read(folder / MANIFEST)
    found = [Mismatch("file", path, why) for path, why in _held(folder, document["files"])]
    found += [Mismatch("input", path, why) for path, why in _held(root, document["inputs"])]
    if document["packlayout"] != __version__:
        found.append(
            Mismatch("program", "", f"made by version {document['packlayout']}, this is {__version__}")
        )
    return tuple(found)


def _read(path: Path) -> dict[str, Any]:
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
        rows = [*document["files"], *document["inputs"]]
        words = [document["packlayout"], *(row[key] for row in rows for key in ("path", "sha256"))]
        if all(isinstance(word, str) for word in words):
            return document
    except FileNotFoundError:
        raise ExportError(f"{path} is not there; a whole export writes it: packlayout export BRIEF") from None
    except (OSError, ValueError, TypeError, KeyError) as error:
        raise ExportError(f"{path} cannot be read as a manifest ({error}); make the pack again") from error
    raise ExportError(f"{path} cannot be read as a manifest; make the pack again")


def _held(folder: Path, rows: Iterable[Mapping[str, str]]) -> Iterable[tuple[str, str]]:
    for row in rows:
        path = PurePosixPath(row["path"])
        if path.is_absolute() or ".." in path.parts:
            yield row["path"], "not a path within the folder"
            continue
        try:
            digest = hashlib.sha256((folder / path).read_bytes()).hexdigest()
        except OSError:
            yield row["path"], "missing"
            continue
        if digest != row["sha256"]:
            yield row["path"], "changed"

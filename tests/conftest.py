"""A small workshop folder of invented things, for tests that read files."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.workshop_files import FILES

Edit = dict[str, str]
"""Path within the workshop -> its whole text."""


@pytest.fixture
def workshop(tmp_path: Path) -> Callable[..., Path]:
    """Makes the folder; `workshop({path: text})` adds or changes files, text None takes one away."""

    def make(changes: dict[str, str | bytes | None] | None = None) -> Path:
        root = tmp_path / "shop"
        for name, text in {**FILES, **(changes or {})}.items():
            file = root / name
            if text is None:
                file.unlink(missing_ok=True)
                continue
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_bytes(text if isinstance(text, bytes) else text.encode())
        return root

    return make

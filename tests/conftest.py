"""A small workshop folder of invented things, for tests that read files; and a browser, for those of the page."""

from collections.abc import Callable, Generator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from packlayout.desk.session import Desk
from tests.desk_browser import chromium, opened
from tests.desk_servers import served
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


@pytest.fixture(scope="module")
def browser() -> Generator[Browser]:
    """A headless browser for all tests of a file."""
    with chromium() as made:
        yield made


@pytest.fixture
def address(made: Desk) -> Generator[str]:
    """Where the file's own desk `made` is served."""
    with served(made) as address:
        yield address


@pytest.fixture
def page(browser: Browser, address: str) -> Generator[Page]:
    """The page of that desk; a fault that the browser tells of fails the test."""
    tab = browser.new_page(viewport={"width": 1400, "height": 950})
    faults: list[str] = []
    tab.on("pageerror", lambda error: faults.append(str(error)))
    tab.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
    opened(tab, address)
    yield tab
    tab.close()
    assert faults == []

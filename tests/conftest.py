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

FIRST = (
    "test_end_to_end", "test_frame_design", "test_desk_page", "test_desk_views", "test_placement", "test_study",
    "test_placement_explain", "test_screening", "test_cli_electric", "test_cli_hold",
)  # fmt: skip
"""Files that take long, the longest first. Where the search is not compiled yet, the first of them does it, and the
second and the third do without: two workers would otherwise compile the same at the same time."""


def pytest_configure(config: pytest.Config) -> None:
    """Files are handed out in the order they are collected in, not by how many tests they hold."""
    if hasattr(config.option, "loadscopereorder"):
        config.option.loadscopereorder = False


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The longest files first, so that no worker is left alone with one of them at the end."""
    turn = {name: number for number, name in enumerate(FIRST)}
    items.sort(key=lambda item: turn.get(item.path.stem, len(turn)))


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

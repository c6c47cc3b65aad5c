"""What tests do with the page in a browser, and the browser itself."""

import shutil
from collections.abc import Generator
from contextlib import contextmanager

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

CHROMIUM = shutil.which("chromium")
# the first page of a cold browser, or one on a busy machine, takes its time
expect.set_options(timeout=20_000)
MOTOR_NAME = "Hartle M30 motor"
FLOOR = """
load_floor: {begin_x: 1500, end_x: 2700, half_width: 500, height: 600}
seats: [{name: driver, at: [1200, -300, 700]}]
"""
NEEDED = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None, reason="no chromium here: `apt-get install chromium`"),
]
"""Marks of every file that opens the page."""


@contextmanager
def chromium(*more: str) -> Generator[Browser]:
    """A headless browser while the block runs."""
    with sync_playwright() as playwright:
        made = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", *more])
        yield made
        made.close()


def opened(tab: Page, address: str) -> None:
    tab.goto(address)
    expect(tab.locator("body")).to_have_attribute("data-ready", "yes")
    expect(tab.locator("#things tr").first).to_be_visible()


def choose(tab: Page, name: str) -> None:
    tab.locator("#things").get_by_role("button", name=name, exact=True).click()


def axle(tab: Page, end: str) -> float:
    """The load that the page shows now, kg."""
    words = tab.locator(f"tr[data-axle={end}] .now").inner_text()
    return float(words.split("±")[0].replace("−", "-"))


def place(tab: Page) -> list[float]:
    """Where the chosen thing stands by the form."""
    return [float(tab.locator(f".coordinates input[name={k}]").input_value()) for k in "xyz"]


def in_space(tab: Page, name: str) -> tuple[float, float]:
    """Where a thing is on the screen: seen from above with itself in the middle."""
    choose(tab, name)
    tab.locator("#from-above").click()
    box = tab.locator("#space-view").bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

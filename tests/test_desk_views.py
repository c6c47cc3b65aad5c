"""What the views show beyond the parts, in a real browser: frame and cables, measuring, touch, the pack to take away."""

import io
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, expect

from packlayout.desk import operations as ops
from packlayout.desk.session import Desk
from tests.desk_browser import FLOOR, MOTOR_NAME, NEEDED, axle, choose, in_space, opened
from tests.desk_servers import served
from tests.desks import desk, layout, study_of
from tests.workshop_files import FILES

pytestmark = NEEDED
Make = Callable[..., Path]
CHARGER_NAME = "Wick 3 charger"


@pytest.fixture
def made(workshop: Make) -> Desk:
    root = workshop({"bays/corrow/vehicle.yaml": FILES["bays/corrow/vehicle.yaml"] + FLOOR})
    made = desk(root)
    made.take_study(made.state, study_of(made, thick_mm=80.0))
    return made


def orange(tab: Page) -> int:
    """How many points of the view in space are as orange as a high-voltage cable."""
    tab.wait_for_timeout(900)
    picture = Image.open(io.BytesIO(tab.locator("#space-view").screenshot())).convert("RGB")
    r, g, b = np.moveaxis(np.asarray(picture).astype(int), 2, 0)
    return int(((r > 170) & (g > 60) & (g < 190) & (b < 110) & (r - b > 110)).sum())


def middle_of(tab: Page) -> tuple[float, float]:
    """The middle of the view in space on the screen."""
    tab.locator("#space-view").scroll_into_view_if_needed()
    box = tab.locator("#space-view").bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


# by hand


def test_cables_are_drawn_and_faint_once_a_part_has_moved(page: Page) -> None:
    drawn = orange(page)
    assert drawn > 30
    expect(page.locator("#drawn-note")).to_have_text("Frame and cables are those of this layout.")
    choose(page, MOTOR_NAME)
    page.get_by_role("button", name="Up z +").click()
    expect(page.locator("#drawn-note")).to_contain_text(
        f"out of date, drawn faint: {MOTOR_NAME} changed since"
    )
    expect(page.locator("#whole-note")).to_be_visible()
    expect(page.locator("#facts")).to_contain_text("2.0 kg, of the layout before")
    assert orange(page) < drawn / 4
    page.locator("#show-flat").click()
    for view in ("plan", "side"):
        expect(page.locator(f"#{view}-view .works.old polyline.run")).to_have_count(1)
        dashes = page.locator(f"#{view}-view polyline.run").evaluate(
            "node => getComputedStyle(node).strokeDasharray"
        )
        assert dashes != "none"
    page.locator("#undo").click()
    expect(page.locator("#plan-view .works.old")).to_have_count(0)
    page.locator("#show-space").click()
    assert orange(page) > drawn / 2


def test_cables_fade_while_a_part_is_held(page: Page) -> None:
    x, y = in_space(page, MOTOR_NAME)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 20, y, steps=4)
    expect(page.locator("#drawn-note")).to_contain_text(f"{MOTOR_NAME} changed since")
    page.keyboard.press("Escape")
    page.mouse.up()
    expect(page.locator("#drawn-note")).to_contain_text("of this layout")


def test_the_hand_goes_by_a_view_whose_picture_is_late(page: Page) -> None:
    page.evaluate(
        "() => { const frame = window.requestAnimationFrame.bind(window);"
        " window.requestAnimationFrame = () => 0; return new Promise(frame); }"
    )
    painted = page.locator("#space-view").get_attribute("data-painted")
    x, y = in_space(page, MOTOR_NAME)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 20, y, steps=4)
    expect(page.locator("#near-list")).to_contain_text(MOTOR_NAME)
    assert page.locator("#space-view").get_attribute("data-painted") == painted
    page.mouse.up()
    expect(page.locator("#saved")).to_contain_text(f"moved {MOTOR_NAME}")


def test_a_cable_is_found_by_its_name(page: Page) -> None:
    page.locator("#runs-count").click()
    row = page.locator("#runs tr")
    expect(row).to_contain_text("charger lead")
    expect(row).to_contain_text("2 × 16 mm²")
    row.get_by_role("button").press("Enter")
    expect(page.locator("#space-labels")).to_contain_text("◎ charger lead")
    page.locator("#show-flat").click()
    expect(page.locator("#side-view polyline.run.chosen")).to_have_count(1)
    expect(page.locator("#side-view .place")).to_have_count(1)


def test_faces_are_measured_by_keyboard(page: Page, made: Desk) -> None:
    page.locator("#measure-box summary").press("Enter")
    page.locator("#measure-a").select_option(MOTOR_NAME)
    page.locator("#measure-b").select_option("module 3")
    motor, module = (ops.members(made.state.layout, name)[0].box for name in (MOTOR_NAME, "module 3"))
    room = [max(b - d, c - a) for a, b, c, d in zip(motor.hi, motor.lo, module.lo, module.hi, strict=True)]
    gap = sum(max(0.0, v) ** 2 for v in room) ** 0.5
    expect(page.locator("#measured")).to_contain_text(f"Nearest points: {gap:.1f} mm apart.")
    page.locator("#measure-a-face").focus()
    page.keyboard.press("t")  # the top
    page.locator("#measure-b-face").focus()
    page.keyboard.press("u")  # the underside
    height = motor.hi[2] - module.lo[2]
    expect(page.locator("#measured")).to_contain_text(f"Face to face along z: {height:.1f} mm.")
    expect(page.locator("#space-labels")).to_contain_text(f"{height:.1f} mm")
    page.locator("#measure-b").select_option("the ground")
    expect(page.locator("#measured")).to_contain_text("Face to face along z: 640.0 mm.")
    page.locator("#show-flat").click()
    expect(page.locator("#side-view line.measure")).to_have_count(1)


def test_two_faces_are_touched_in_the_view(page: Page) -> None:
    x, y = in_space(page, MOTOR_NAME)
    page.locator("#measure-faces").check()
    page.locator("#space-view").scroll_into_view_if_needed()
    page.mouse.click(x, y)
    expect(page.locator("#measured-faces")).to_contain_text("First point")
    page.mouse.click(x + 4, y)
    expect(page.locator("#measured-faces")).to_contain_text("Face to face: 0.0 mm.")
    page.locator("#measure-faces").uncheck()


def test_a_check_leads_to_its_place(page: Page) -> None:
    choose(page, MOTOR_NAME)
    page.locator(".coordinates input[name=x]").fill("0")
    page.get_by_role("button", name="Put there").click()
    first = page.locator("#checks button").first
    expect(first).to_contain_text("✕ fails")
    expect(page.locator("#space-labels .fails").first).to_contain_text("✕")
    first.press("Enter")
    expect(page.locator("#space-labels")).to_contain_text("◎")
    page.locator("#show-flat").click()
    expect(page.locator("#plan-view .place")).to_have_count(1)


def test_the_camera_is_moved_by_keys(page: Page) -> None:
    canvas = page.locator("#space-view")
    canvas.focus()
    page.wait_for_timeout(600)
    before = canvas.screenshot()
    for key in ("Shift+ArrowRight", "Shift+ArrowUp", "+"):
        page.keyboard.press(key)
    page.wait_for_timeout(600)
    assert canvas.screenshot() != before
    expect(page.locator("#saved")).to_contain_text("began")


def test_a_tablet_drags_with_a_finger(browser: Browser, made: Desk) -> None:
    with served(made) as address:
        context = browser.new_context(
            viewport={"width": 1024, "height": 768}, has_touch=True, is_mobile=True, device_scale_factor=2
        )
        tab = context.new_page()
        opened(tab, address)
        assert tab.evaluate("document.documentElement.scrollWidth") <= 1024
        tab.locator("#things").get_by_role("button", name=MOTOR_NAME, exact=True).tap()
        expect(tab.locator("#chosen .name")).to_contain_text(MOTOR_NAME)
        tab.locator("#from-above").tap()
        x, y = middle_of(tab)
        before = axle(tab, "rear")
        touch = context.new_cdp_session(tab)

        def finger(kind: str, *at: tuple[float, float]) -> None:
            points = [{"x": px, "y": py} for px, py in at]
            touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

        finger("touchStart", (x, y))
        for n in range(1, 6):
            finger("touchMove", (x + 8 * n, y))
        expect(tab.locator("#near")).to_be_visible()
        finger("touchEnd")
        expect(tab.locator("#saved")).to_contain_text(f"moved {MOTOR_NAME}")
        at = ops.members(made.state.layout, MOTOR_NAME)[0].at
        assert at[0] > layout().placements[4].at[0] + 10
        assert at[2] == 400.0
        assert axle(tab, "rear") > before
        # up and down, where there is no Shift key
        tab.locator("#from-left").tap()
        tab.locator("#upright").check()
        x, y = middle_of(tab)
        finger("touchStart", (x, y))
        for n in range(1, 6):
            finger("touchMove", (x, y - 8 * n))
        expect(tab.locator("#near")).to_be_visible()
        finger("touchEnd")
        expect(tab.locator("#near")).to_be_hidden()
        raised = ops.members(made.state.layout, MOTOR_NAME)[0].at
        assert raised[2] > 410
        assert raised[:2] == at[:2]
        context.close()


def test_a_tap_right_after_a_flick_counts(browser: Browser, made: Desk) -> None:
    """A browser that took the flick for a scroll would swallow the tap, to stop the scroll's run-out."""
    with served(made) as address:
        context = browser.new_context(viewport={"width": 1024, "height": 768}, has_touch=True, is_mobile=True)
        tab = context.new_page()
        opened(tab, address)
        touch = context.new_cdp_session(tab)
        for view, button in 3 * (("#space-view", "#show-flat"), ("#plan-view", "#show-space")):
            tab.locator(view).scroll_into_view_if_needed()
            box = tab.locator(view).bounding_box()
            assert box is not None
            x, y = box["x"] + 40, box["y"] + box["height"] - 25
            for n in range(6):
                kind = "touchMove" if n else "touchStart"
                points = [{"x": x + 12 * n, "y": y}]
                touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
            touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
            tab.locator(button).tap()
            expect(tab.locator(button)).to_have_attribute("aria-pressed", "true", timeout=5000)
        context.close()


def test_the_tray_is_there_after_the_desk_was_started_anew(browser: Browser, made: Desk) -> None:
    with served(made) as address:
        tab = browser.new_page()
        opened(tab, address)
        tab.locator("#keep").click()
        expect(tab.locator("#tray")).to_contain_text("1. began")
        tab.close()
    again = desk(made.case.root, begun=False)
    assert again.resume()
    with served(again) as address:
        tab = browser.new_page()
        opened(tab, address)
        expect(tab.locator("#tray")).to_contain_text("1. began")
        tab.get_by_text("Compare two").click()
        expect(tab.locator("#compare-table")).to_contain_text("Rear axle, kg")
        tab.close()


def test_the_pack_is_written_with_progress_and_taken_away(page: Page, made: Desk) -> None:
    page.evaluate(
        "window.said = []; new MutationObserver(() => window.said.push(document.getElementById('job').textContent))"
        ".observe(document.getElementById('job'), {childList: true, characterData: true, subtree: true})"
    )
    page.locator("#export").click()
    expect(page.locator("#busy")).to_be_visible()
    expect(page.locator("#stop")).to_be_enabled()
    expect(page.locator("#files li").first).to_be_visible(timeout=240_000)
    said = page.evaluate("window.said")
    assert len(set(said)) > 4
    assert said[-1] == "writing the files: done"
    expect(page.locator("#busy")).to_be_hidden()
    with page.expect_download() as waiting:
        page.get_by_role("link", name="All of them as one ZIP").click()
    archive = zipfile.ZipFile(waiting.value.path())
    assert archive.testzip() is None
    names = {Path(name).name for name in archive.namelist()}
    assert {"desk-layout.yaml", "assembly.step", "report.html", "checks.json"} <= names
    with page.expect_popup() as popup:
        page.get_by_role("link", name="report.html").click()
    report = popup.value
    expect(report.locator("h1").first).to_be_visible()
    report.close()
    assert (
        CHARGER_NAME
        in archive.read(next(n for n in archive.namelist() if n.endswith("desk-layout.yaml"))).decode()
    )
    assert (made.folder / "report.html").is_file()

"""The page in a real browser against the real server."""

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from packlayout.desk import operations as ops
from packlayout.desk.session import Desk
from tests.desk_browser import FLOOR, MOTOR_NAME, NEEDED, axle, choose, in_space, opened, place
from tests.desk_servers import served
from tests.desks import desk, layout
from tests.workshop_files import BRIEF_FILE, FILES

pytestmark = NEEDED
Make = Callable[..., Path]


@pytest.fixture
def made(workshop: Make) -> Desk:
    root = workshop({"bays/corrow/vehicle.yaml": FILES["bays/corrow/vehicle.yaml"] + FLOOR})
    return desk(root)


# by hand


def test_dragging_a_part_in_space_moves_the_axle_load_while_it_is_held(page: Page, made: Desk) -> None:
    page.locator("#snap-hand").uncheck()
    before = axle(page, "rear")
    x, y = in_space(page, MOTOR_NAME)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 30, y, steps=4)
    expect(page.locator("#near")).to_be_visible()
    expect(page.locator("#near-list")).to_contain_text(MOTOR_NAME)
    held = axle(page, "rear")
    assert held != before
    assert ops.members(made.state.layout, MOTOR_NAME) == ops.members(layout(), MOTOR_NAME)
    page.mouse.up()
    expect(page.locator("#saved")).to_contain_text(f"moved {MOTOR_NAME}")
    expect(page.locator("#near")).to_be_hidden()
    at = ops.members(made.state.layout, MOTOR_NAME)[0].at
    assert at[2] == 400.0
    assert axle(page, "rear") - before == pytest.approx(38 * (at[0] - 180) / 2300, abs=0.11)
    page.keyboard.press("Control+z")
    expect(page.locator("tr[data-axle=rear] .now")).to_contain_text(f"{before:.1f}")
    page.keyboard.press("Control+y")
    expect(page.locator("#undo")).to_be_enabled()


def test_an_overlap_turns_the_check_red_and_undo_turns_it_back(page: Page) -> None:
    choose(page, MOTOR_NAME)
    page.locator(".coordinates input[name=x]").fill("0")
    page.get_by_role("button", name="Put there").click()
    first = page.locator("#checks li").first
    expect(first).to_contain_text("✕ fails")
    expect(page.locator("#checks")).to_contain_text(f"Clearance between parts: pack block 1 to {MOTOR_NAME}")
    colour = first.locator(".verdict").evaluate("node => getComputedStyle(node).color")
    assert colour == "rgb(165, 22, 31)"
    page.locator("#undo").click()
    expect(page.locator("#checks")).not_to_contain_text("Clearance between parts")


def test_dragging_in_the_plan_snaps_to_a_neighbour(page: Page, made: Desk) -> None:
    page.locator("#show-flat").click()
    choose(page, MOTOR_NAME)
    page.locator("#plan-view").scroll_into_view_if_needed()
    box = page.locator(f"#plan-view [data-thing='{MOTOR_NAME}'] .body").bounding_box()
    assert box is not None
    scale = box["width"] / 260
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    cradle = 110 + 27  # rear face of the block with its cradle: tube and liner
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 5, y, steps=2)
    page.mouse.move(x + (cradle + 10 + 5 - 180) * scale, y, steps=5)
    page.mouse.up()
    expect(page.locator("#saved")).to_contain_text(f"moved {MOTOR_NAME}")
    at = ops.members(made.state.layout, MOTOR_NAME)[0].at
    from packlayout.desk.numbers import near

    to_block = next(
        row for row in near(made.case, made.state.layout, MOTOR_NAME) if "pack block" in row.title
    )
    assert to_block.distance_mm == pytest.approx(10.0, abs=1e-3)
    assert at[2] == 400.0


def test_everything_but_dragging_is_done_by_keyboard(page: Page, made: Desk) -> None:
    page.locator("#space-view").focus()
    page.keyboard.press("n")
    page.keyboard.press("n")
    expect(page.locator("#live")).to_contain_text(MOTOR_NAME)
    for key in ("3", "ArrowRight", "1", "ArrowUp", "PageUp"):
        page.keyboard.press(key)
    expect(page.locator(".coordinates input[name=z]")).to_have_value("401")
    assert ops.members(made.state.layout, MOTOR_NAME)[0].at == (205.0, -119.0, 401.0)
    expect(page.locator("#live")).to_contain_text("Front axle")
    page.keyboard.press("r")
    expect(page.locator("#saved")).to_contain_text("turned")
    page.keyboard.press("l")
    expect(page.locator("#chosen")).to_contain_text("(locked)")
    page.keyboard.press("ArrowRight")
    expect(page.locator("#message")).to_contain_text("is locked; unlock it first")
    page.keyboard.press("l")
    expect(page.locator("#chosen")).not_to_contain_text("(locked)")
    page.keyboard.press("Delete")
    expect(page.locator("#out")).to_contain_text(MOTOR_NAME)
    page.get_by_role("button", name=f"Put in {MOTOR_NAME}").press("Enter")
    expect(page.locator("#things")).to_contain_text(MOTOR_NAME)
    outline = page.locator("#undo").evaluate(
        "node => { node.focus(); return getComputedStyle(node).outlineWidth }"
    )
    assert outline == "3px"


def test_goods_move_along_the_floor_with_the_slider(page: Page, made: Desk) -> None:
    page.locator("#goods-kg").fill("100")
    page.locator("#goods-kg").press("Tab")
    expect(page.locator("#saved")).to_contain_text("moved the goods")
    page.locator("#goods-x").focus()
    page.keyboard.press("End")
    expect(page.locator("#goods-x-words")).to_contain_text("2700 mm")
    page.locator("#undo").focus()
    expect(page.locator("#goods-loads")).to_contain_text("±")
    for _ in range(200):  # what was said of the first move looks like what is said of the second
        if made.state.goods is not None and made.state.goods.x_mm > 2600:
            break
        page.wait_for_timeout(50)
    assert made.state.goods is not None
    assert (made.state.goods.x_mm, made.state.goods.mass_kg) == (2700.0, 100.0)
    rest = made.rest.goods
    assert rest is not None
    expect(page.locator("#goods-loads")).to_contain_text(f"rear axle {rest.axle[1].value:.1f}")


def test_clearances_are_changed_and_a_wrong_one_is_told(page: Page, made: Desk) -> None:
    page.get_by_text("Least clearances").click()
    page.get_by_label("to the body, mm").fill("120")
    page.get_by_role("button", name="Set clearances").click()
    expect(page.locator("#checks li").first).to_contain_text("Clearance to the body")
    expect(page.locator("#brief-differs")).to_be_visible()
    page.get_by_label("to the body, mm").fill("9999")
    page.get_by_role("button", name="Set clearances").click()
    expect(page.locator("#message")).to_contain_text("body")
    assert made.state.clearances.body_mm == 120


def test_two_tabs_do_not_overwrite_each_other_silently(
    browser: Browser, page: Page, address: str, made: Desk
) -> None:
    other = browser.new_page(viewport={"width": 1400, "height": 950})
    opened(other, address)
    x, y = in_space(page, MOTOR_NAME)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 30, y, steps=3)
    expect(page.locator("#near")).to_be_visible()
    choose(other, "Wick 3 charger")
    other.get_by_role("button", name="Rearward").click()
    expect(other.locator("#saved")).to_contain_text("nudged Wick 3 charger")
    page.mouse.move(x + 40, y, steps=2)
    page.mouse.up()
    expect(page.locator("#message")).to_contain_text("changed elsewhere")
    expect(page.locator("#saved")).to_contain_text("nudged Wick 3 charger")
    assert ops.members(made.state.layout, MOTOR_NAME) == ops.members(layout(), MOTOR_NAME)
    other.close()


def test_what_is_locked_stays_when_it_is_solved_again_and_layouts_are_compared(
    page: Page, made: Desk
) -> None:
    choose(page, "Wick 3 charger")
    page.get_by_role("button", name="Lock", exact=True).click()
    page.locator("#solve").click()
    expect(page.locator("#tray tr").first).to_be_visible(timeout=120_000)
    page.locator("#stop").click()
    expect(page.locator("#stop")).to_be_disabled(timeout=20_000)
    page.get_by_text("Compare two").click()
    expect(page.locator("#compare-table")).to_contain_text("Rear axle, kg")
    assert page.locator("#compare-views svg").count() == 4
    page.locator("#compare-3d").check()
    expect(page.locator("#pair-words")).to_be_visible()
    page.locator("#compare-3d").uncheck()
    page.get_by_role("button", name="Take layout 1").click()
    expect(page.locator("#saved")).to_contain_text("took layout 1 from the tray")
    assert ops.members(made.state.layout, "Wick 3 charger")[0].at == (2400.0, -85.0, 350.0)
    page.get_by_role("button", name="Discard layout 1", exact=True).click()
    expect(page.get_by_role("button", name="Take layout 1", exact=True)).to_have_count(0)


def test_frame_and_list_come_to_the_open_page_once_they_are_worked_out(browser: Browser, made: Desk) -> None:
    with served(made, calculating=True) as address:
        tab = browser.new_page(viewport={"width": 1400, "height": 950})
        opened(tab, address)
        expect(tab.locator("#whole")).to_be_visible(timeout=120_000)
        expect(tab.locator("#drawn-note")).to_have_text("Frame and cables are those of this layout.")
        expect(tab.locator("#check-whole")).to_have_text("Whole list, as on the command line.")
        assert made.study is not None
        tab.close()


def test_after_a_kill_nothing_is_lost(browser: Browser, workshop: Make) -> None:
    root = workshop()
    made = desk(root)
    command = [sys.executable, "-m", "packlayout.cli", "desk", str(root / BRIEF_FILE), "--no-browser"]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}

    def started() -> tuple[subprocess.Popen[str], str]:
        server = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=environment
        )
        assert server.stdout is not None
        return server, server.stdout.readline().strip()

    server, address = started()
    tab = browser.new_page()
    opened(tab, address)
    choose(tab, MOTOR_NAME)
    for n in range(1, 6):
        tab.get_by_role("button", name="Up z +").click()
        expect(tab.locator(".coordinates input[name=z]")).to_have_value(str(400 + 5 * n))
    server.send_signal(signal.SIGKILL)
    server.wait(10)
    expect(tab.locator("#message")).to_contain_text("The line to the desk is down")
    server, address = started()
    try:
        opened(tab, address)
        choose(tab, MOTOR_NAME)
        assert place(tab) == [180.0, -120.0, 425.0]
        for n in range(5, 0, -1):
            tab.locator("#undo").click()
            expect(tab.locator(".coordinates input[name=z]")).to_have_value(str(395 + 5 * n))
    finally:
        server.kill()
        server.wait(10)
        tab.close()
    assert made.folder.is_dir()

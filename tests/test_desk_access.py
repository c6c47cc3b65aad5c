"""The page for everybody: offline, without WebGL, with hostile names, by axe, on small screens."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from packlayout.desk import operations as ops
from packlayout.desk.session import Desk
from tests.desk_browser import CHROMIUM, FLOOR, MOTOR_NAME, NEEDED, axle, choose, opened
from tests.desk_servers import served
from tests.desks import desk, layout, study_of
from tests.workshop_files import BRIEF, BRIEF_FILE, FILES, MOTOR

AXE = Path(__file__).parent / "axe" / "axe.min.js"
pytestmark = NEEDED
Make = Callable[..., Path]


@pytest.fixture
def made(workshop: Make) -> Desk:
    root = workshop({"bays/corrow/vehicle.yaml": FILES["bays/corrow/vehicle.yaml"] + FLOOR})
    return desk(root)


# refusal


def test_it_needs_nothing_from_elsewhere(browser: Browser, address: str) -> None:
    tab = browser.new_page()
    elsewhere: list[str] = []
    own = address.split("/", 3)[2]

    def watch(route: object) -> None:
        url = route.request.url  # type: ignore[attr-defined]
        if own in url:
            route.continue_()  # type: ignore[attr-defined]
        else:
            elsewhere.append(url)
            route.abort()  # type: ignore[attr-defined]

    tab.route("**/*", watch)
    opened(tab, address)
    assert elsewhere == []
    tab.close()


def test_without_webgl_numbers_plan_and_side_are_there(browser: Browser, made: Desk) -> None:
    with served(made) as address:
        plain = browser.browser_type.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-3d-apis"]
        )
        tab = plain.new_page()
        opened(tab, address)
        expect(tab.locator("#no-webgl")).to_be_visible()
        expect(tab.locator("#show-space")).to_be_disabled()
        expect(tab.locator(f"#plan-view [data-thing='{MOTOR_NAME}']")).to_be_attached()
        tab.locator("#side-view").focus()
        tab.keyboard.press("n")
        before = axle(tab, "front")
        for _ in range(8):
            tab.keyboard.press("ArrowLeft")
        expect(tab.locator("#live")).to_contain_text("nudged pack block 1")
        tab.wait_for_timeout(300)
        assert axle(tab, "front") > before
        plain.close()


def test_hostile_names_show_as_text(browser: Browser, workshop: Make) -> None:
    hostile = "<img src=x onerror=alert(1)><script>alert(2)</script>"
    root = workshop(
        {
            BRIEF_FILE: BRIEF.replace("first job", f'"{hostile}"').replace(
                "{part: motor,", f'{{part: motor, name: "{hostile}",'
            ),
            "modules/motor.yaml": MOTOR.replace("Hartle Motors", f'"{hostile}"'),
        }
    )  # fmt: skip
    made = desk(root, begun=False)
    stood = layout().placements[4]
    from dataclasses import replace

    from packlayout.model.layout import Layout

    made.begin_with(
        Layout((*layout().placements[:4], replace(stood, name=hostile), layout().placements[5])), hostile
    )
    made.keep(made.state, hostile, hostile)
    study = study_of(made)
    assert study.wiring is not None
    run = replace(study.wiring.runs[0], name=hostile, nearest=hostile)
    made.take_study(made.state, replace(study, wiring=replace(study.wiring, runs=(run,), caution=hostile)))
    with served(made) as address:
        tab = browser.new_page()
        dialogs: list[str] = []
        tab.on("dialog", lambda dialog: dialogs.append(dialog.message))
        opened(tab, address)
        choose(tab, hostile)
        expect(tab.locator("#chosen")).to_contain_text(hostile)
        expect(tab.locator("#job-name")).to_contain_text(hostile)
        for place in ("#tray", "#runs", "#caution"):
            expect(tab.locator(place)).to_contain_text(hostile)
        tab.locator("#runs-count").click()
        tab.locator("#runs button").click()
        expect(tab.locator("#space-labels")).to_contain_text(hostile[:20])
        tab.locator("#show-flat").click()
        tab.wait_for_timeout(300)
        assert tab.locator("img").count() == 0
        assert tab.locator("body script").count() == 0
        assert dialogs == []
        tab.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(browser: Browser, address: str, made: Desk, scheme: str) -> None:
    made.keep(made.state, "kept", "search", 0.5)
    made.take_study(made.state, study_of(made))
    made.edit(
        made.revision,
        "x",
        lambda case, s: ops.take_out(ops.put(case, s, MOTOR_NAME, (0.0, 0.0, 400.0)), "Wick 3 charger"),
    )
    tab = browser.new_page(viewport={"width": 1400, "height": 950}, color_scheme=scheme)  # type: ignore[arg-type]
    opened(tab, address)
    choose(tab, MOTOR_NAME)
    tab.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
    tab.locator("#checks button").first.click()
    expect(tab.locator("#whole")).to_be_visible()
    source = AXE.read_text(encoding="utf-8")
    for button in ("#show-space", "#show-flat", "#help"):
        tab.locator(button).click()
        tab.mouse.move(0, 0)
        tab.evaluate(source)
        found = tab.evaluate(
            "axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']})"
        )
        told = [
            (v["id"], [n["html"][:120] + " " + n.get("failureSummary", "")[:200] for n in v["nodes"][:3]])
            for v in found["violations"]
        ]
        assert told == [], json.dumps(told, indent=1)
    tab.close()


@pytest.mark.parametrize("width", [820, 400])
def test_it_fits_a_tablet_and_a_narrow_window(browser: Browser, address: str, made: Desk, width: int) -> None:
    made.keep(made.state, "a layout with a title that is long enough to be wrapped", "by hand")
    tab = browser.new_page(viewport={"width": width, "height": 1100})
    opened(tab, address)
    assert tab.evaluate("document.documentElement.scrollWidth") <= width
    tab.close()

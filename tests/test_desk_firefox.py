"""The page in Firefox, spoken to without a driver. Headless it has no WebGL here: plan and side view take its place."""

from collections.abc import Callable, Generator
from pathlib import Path

import pytest

from packlayout.desk import operations as ops
from packlayout.desk.session import Desk
from tests.desk_browser import FLOOR, MOTOR_NAME
from tests.desk_firefox import FIREFOX, Tab, firefox
from tests.desk_servers import served
from tests.desks import desk, layout, study_of
from tests.workshop_files import FILES

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(FIREFOX is None, reason="no Firefox here: `apt-get install firefox-esr`"),
]
Make = Callable[..., Path]
REAR = "parseFloat(document.querySelector('tr[data-axle=rear] .now').textContent)"
SAVED = "document.getElementById('saved').textContent"


@pytest.fixture
def made(workshop: Make) -> Desk:
    made = desk(workshop({"bays/corrow/vehicle.yaml": FILES["bays/corrow/vehicle.yaml"] + FLOOR}))
    made.take_study(made.state, study_of(made))
    return made


@pytest.fixture
def tab(made: Desk) -> Generator[Tab]:
    with served(made) as address, firefox() as tab:
        tab.open(address)
        tab.until("document.body.dataset.ready === 'yes' && document.querySelector('#things tr')")
        yield tab
        assert tab.errors == []


# by hand


def test_a_part_is_dragged_pushed_by_keys_and_put_back(tab: Tab, made: Desk) -> None:
    before = tab.find(REAR)
    tab.drag(tab.middle("#show-flat"))
    x, y = tab.middle(f"#plan-view [data-thing='{MOTOR_NAME}'] .body")
    tab.drag((x, y), (x + 5, y), (x + 25, y), (x + 40, y))
    tab.until(f"{SAVED}.includes('moved {MOTOR_NAME}')")
    at = ops.members(made.state.layout, MOTOR_NAME)[0].at
    assert at[0] > 200
    assert at[2] == 400.0
    assert tab.find(REAR) - before == pytest.approx(38 * (at[0] - 180) / 2300, abs=0.11)
    assert "out of date" in tab.find("document.getElementById('drawn-note').textContent")
    tab.find("document.getElementById('side-view').focus()")
    tab.press("3", "\ue013")  # step 25 mm, arrow up
    tab.until("document.querySelector('.coordinates input[name=z]').value === '425'")
    for title in ("moved", "began"):
        tab.drag(tab.middle("#undo"))
        tab.until(f"{SAVED}.includes('{title}')")
    assert made.state.layout == layout()


def test_it_says_whether_there_is_a_view_in_space(tab: Tab) -> None:
    able = not tab.find("document.getElementById('show-space').disabled")
    assert tab.find("document.getElementById('no-webgl').hidden") is able
    assert tab.find("document.getElementById('flat').hidden") is able
    assert tab.find("document.querySelectorAll('#things tr').length") == 3

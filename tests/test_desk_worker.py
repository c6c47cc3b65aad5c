"""The process that does what takes seconds: what it tells, how it is overtaken and stopped."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from packlayout.desk.session import Desk
from packlayout.desk.worker import Job, OvertakenError, Worker, case_to_search, run_job
from packlayout.model.layout import Layout
from tests.desks import desk

Make = Callable[..., Path]


@pytest.fixture
def made(workshop: Make) -> Desk:
    return desk(workshop())


# by hand


def test_a_job_ends_with_one_last_word(made: Desk) -> None:
    def overtaken(word: str, what: Any) -> None:
        heard.append(word)
        if word == "say":
            raise OvertakenError

    heard: list[str] = []
    run_job(made.case, Job("study", made.state), overtaken)
    assert heard == ["say", "overtaken"]
    heard = []
    run_job(
        made.case, Job("nothing of the kind", made.state), lambda word, what: heard.append(f"{word}: {what}")
    )
    assert heard == ["failed: unexpected fault: KeyError: 'nothing of the kind'"]


@pytest.mark.slow
def test_a_calculation_is_overtaken_and_the_process_goes_on(made: Desk) -> None:
    worker = Worker(made.case)
    words: list[str] = []

    def tell(word: str, what: Any) -> None:
        words.append(word)
        if words == ["say"]:
            worker.overtake()

    assert worker.listen(Job("study", made.state), tell)
    assert words[-1] == "overtaken"
    process = worker._process
    words.clear()
    assert worker.listen(Job("study", made.state), lambda word, what: words.append(word))
    assert words[-1] == "done"
    assert worker._process is process
    worker.stop()


@pytest.mark.slow
def test_a_job_that_is_stopped_says_so_and_the_next_one_is_done(made: Desk) -> None:
    worker = Worker(made.case)
    words: list[str] = []

    def tell(word: str, what: Any) -> None:
        words.append(word)
        worker.stop()

    assert not worker.listen(Job("solve", made.state), tell)
    # in the middle of the search: it never came to its end
    assert words[0] == "say"
    assert "done" not in words
    words.clear()
    assert worker.listen(Job("study", made.state), lambda word, what: words.append(word))
    assert words[-1] == "done"
    worker.stop()


def test_the_search_asks_for_what_stands_and_not_for_what_is_out(made: Desk) -> None:
    stands = made.state.layout.placements
    asked = case_to_search(made.case, Layout((*stands[:3], stands[4]))).brief
    assert asked.modules.count == 3
    assert [(o.part, o.name) for o in asked.parts] == [("motor", "Hartle M30 motor")]

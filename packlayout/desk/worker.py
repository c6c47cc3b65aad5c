"""What takes seconds, in a process of its own: the whole calculation, the search, the export.

The process is started once and keeps the case, so that a job sends only what changed. Stopping a job ends the process;
the next job starts another. What a job writes is written whole or not at all, so ending it at any moment is safe.
"""

import multiprocessing
import os
import signal
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

from packlayout.desk.state import Json, State, case_of
from packlayout.errors import PacklayoutError
from packlayout.model.brief import Case, PartBody, PartOrder
from packlayout.model.catalogue import Part
from packlayout.model.geometry import MassItem
from packlayout.model.layout import Layout

SEARCHES = 6
"""Seeds that one search goes through; it can be stopped before."""


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """One thing to do.

    Attributes:
        kind: `study`, `solve` or `export`.
        state: What it starts from.
        parts: Parts beyond those of the case, with their bodies.
        made: What frame, cables and shaft weigh, for the search.
        folder: Where to, for the export.
    """

    kind: str
    state: State
    parts: tuple[tuple[str, Part, PartBody | None], ...] = ()
    made: tuple[MassItem, ...] = ()
    folder: Path = Path()


Tell = Callable[[str, Any], None]
"""Told a word, `say`, `found`, `done`, `failed` or `overtaken`, and what goes with it."""


class OvertakenError(Exception):
    """A calculation that nobody waits for any more."""


def run_job(case: Case, job: Job, tell: Tell) -> None:
    """Do one job; `tell` hears what comes of it, `done`, `failed` or `overtaken` last."""
    parts = {**case.parts, **{key: part for key, part, _ in job.parts}}
    bodies = {**case.bodies, **{key: body for key, _, body in job.parts if body is not None}}
    if job.parts:
        case = replace(case, parts=parts, bodies=bodies)
    try:
        tell("done", _JOBS[job.kind](case_of(case, job.state), job, tell))
    except OvertakenError:
        tell("overtaken", None)
    except PacklayoutError as error:
        tell("failed", str(error))
    except Exception as error:
        tell("failed", f"unexpected fault: {type(error).__name__}: {error}")


def _study(case: Case, job: Job, tell: Tell) -> Any:
    from packlayout.study import run

    return run(case, 0, job.state.layout, lambda line: tell("say", line))


def _solve(case: Case, job: Job, tell: Tell) -> int:
    """Search with one seed after the other; each better layout is told as it is found."""
    from packlayout.mass.ledger import base_items
    from packlayout.placement.place import place

    case = case_to_search(case, job.state.layout)
    burden = (*base_items(case), *job.made)
    found: dict[tuple[object, ...], float] = {}
    for seed in range(SEARCHES):
        tell("say", f"search {seed + 1} of {SEARCHES}")
        placed = place(case, burden, seed, lambda line: tell("say", line), held=job.state.layout)
        for scored in placed.layouts:
            key = tuple((p.name, p.at, p.up, p.turn_deg) for p in scored.layout.placements)
            if key not in found:
                found[key] = scored.score
                tell("found", (locks_kept(scored.layout, job.state.layout), scored.objectives, scored.score))
        for line in placed.why_not_more:
            tell("say", line)
    return len(found)


def case_to_search(case: Case, layout: Layout) -> Case:
    """The case that asks for exactly what a layout holds: what was taken out is not wanted, what was exchanged is.

    Parts keep the names they have in the layout, so that those that are locked are found again.
    """
    orders: list[PartOrder] = []
    left = list(case.brief.parts)
    for p in (p for p in layout.placements if p.block is None):
        named = [o for o in left if p.name.startswith(o.name or case.parts[o.part].name)]
        alike = [o for o in left if case.parts[o.part].kind == case.parts[p.part].kind]
        order = next(iter((*(o for o in named if o.part == p.part), *named, *alike)), None)
        if order is None:
            order = PartOrder(part=p.part, zones=(p.zone,))
        else:
            left.remove(order)
        orders.append(order.model_copy(update={"part": p.part, "name": p.name}))
    modules = case.brief.modules
    if layout.modules:
        modules = modules.model_copy(update={"count": len(layout.modules), "energy_kwh": None})
    return replace(case, brief=case.brief.model_copy(update={"parts": tuple(orders), "modules": modules}))


def locks_kept(found: Layout, before: Layout) -> Layout:
    """A layout that was found, with locked what was locked before."""
    locked = {p.name for p in before.placements if p.locked}
    return Layout(tuple(replace(p, locked=p.name in locked) for p in found.placements), found.title)


def _export(case: Case, job: Job, tell: Tell) -> list[Json]:
    from packlayout.export import EXPORTERS, write
    from packlayout.study import run

    study = run(case, 0, job.state.layout, lambda line: tell("say", line))
    # the layouts of a search stay as they are: the desk keeps its own layout file
    kinds = [kind for kind in EXPORTERS if kind != "layout"]
    written = write(study, job.folder, kinds=kinds, progress=lambda line: tell("say", line))
    return [
        {"name": w.path.relative_to(job.folder).as_posix(), "kind": w.kind, "sha256": w.sha256}
        for w in written
    ]


_JOBS: dict[str, Callable[[Case, Job, Tell], Any]] = {"study": _study, "solve": _solve, "export": _export}


def _serve(pipe: Connection) -> None:
    """The life of the process: a case, then one job after the other."""
    # the terminal's interrupt is for the server, which ends this process itself
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # figures that follow a hand go before what takes seconds anyway
    if sys.platform != "win32":
        os.nice(10)
    try:
        case: Case = pipe.recv()

        def tell(word: str, what: Any) -> None:
            pipe.send((word, what))
            # whatever comes while a job is done says that it is overtaken: it ends at its next word
            if word == "say" and pipe.poll():
                raise OvertakenError

        while True:
            job: Job | None = pipe.recv()
            if job is not None:
                run_job(case, job, tell)
    except (EOFError, BrokenPipeError, ConnectionResetError):
        return


class Worker:
    """A process for jobs, one at a time. `listen` blocks, so it is called from a thread."""

    def __init__(self, case: Case) -> None:
        self._case = case
        self._process: BaseProcess | None = None
        self._pipe: Any = None

    def listen(self, job: Job, tell: Tell) -> bool:
        """Do a job and pass on what it tells.

        Returns:
            False when it was stopped, or its process died.
        """
        try:
            pipe = self._started()
            pipe.send(job)
            while True:
                word, what = pipe.recv()
                tell(word, what)
                if word in ("done", "failed", "overtaken"):
                    return True
        except (EOFError, OSError):
            return False

    def overtake(self) -> None:
        """Have the job end at its next word; the process stays."""
        if self._pipe is not None:
            with suppress(OSError):
                self._pipe.send(None)

    def stop(self) -> None:
        """End the process, and with it the job."""
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.join(5)

    def _started(self) -> Any:
        if self._process is None or not self._process.is_alive() or self._pipe is None:
            context = multiprocessing.get_context("spawn")
            self._pipe, theirs = context.Pipe()
            self._process = context.Process(target=_serve, args=(theirs,), daemon=True)
            self._process.start()
            theirs.close()
            self._pipe.send(self._case)
        return self._pipe

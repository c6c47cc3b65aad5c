"""Who sits at the desk: the connections, what each message does, and the jobs that run beside."""

import asyncio
import json
from collections.abc import Awaitable, Callable
from dataclasses import replace
from typing import Any

from packlayout.desk import drawn_view, view
from packlayout.desk import messages as m
from packlayout.desk import operations as ops
from packlayout.desk.session import Desk
from packlayout.desk.state import Goods, Json, RefusedError, State, aims_of, clearances_of, missing
from packlayout.desk.studies import Key, key_of
from packlayout.desk.tray import MOST
from packlayout.desk.worker import Job, Worker
from packlayout.errors import PacklayoutError
from packlayout.model.layout import Layout
from packlayout.study import Study

Send = Callable[[str], Awaitable[None]]
SETTLE_S = 0.4
"""How long the layout of a desk at work rests before the whole calculation of it begins."""


class Table:
    """All that the pages of one desk share.

    Args:
        desk: The desk.
        settle_s: How long the layout rests before the whole calculation of it begins, s; infinite: none begins.
    """

    def __init__(self, desk: Desk, settle_s: float = SETTLE_S) -> None:
        self.desk = desk
        self._settle_s = settle_s
        self.exported: list[Json] = []
        self._pages: dict[int, Send] = {}
        self._next = 0
        self._judge, self._helper = Worker(desk.case), Worker(desk.case)
        self._judging: asyncio.Task[None] | None = None
        self._helping: asyncio.Task[None] | None = None
        self._judged: Key | None = None
        self._told_drawn = 0
        self._busy: Json = {"t": "job", "kind": "", "line": ""}

    # ------------------------------------------------------------ pages

    async def join(self, send: Send) -> int:
        """A page has opened; it is told how things stand."""
        self._next += 1
        self._pages[self._next] = send
        for document in (
            drawn_view.drawn_view(self.desk), view.state_view(self.desk), view.tray_view(self.desk), self._busy,
            self._files(),
        ):  # fmt: skip
            await send(_text(document))
        self._judge_soon()
        return self._next

    def leave(self, who: int) -> None:
        """A page has closed."""
        self._pages.pop(who, None)
        self.desk.cancel(who)

    async def hear(self, who: int, text: str) -> None:
        """One message of a page: carried out, or refused with the reason."""
        send, seq = self._pages[who], None
        try:
            message = m.read_message(text)
            seq = message.seq
            answer = self._carry_out(who, message)
        except PacklayoutError as error:
            await self._refuse(send, seq, str(error))
            return
        except Exception as error:
            # a fault of ours must not take the page away from somebody at work
            await self._refuse(send, seq, f"unexpected fault: {type(error).__name__}: {error}")
            return
        if isinstance(answer, dict):
            await send(_text({**answer, "ack": seq}))
            return
        await self._tell_state(who, seq)
        self._judge_soon()

    async def _refuse(self, send: Send, seq: int | None, why: str) -> None:
        """Say why, and how things stand, so that the page shows nothing that is not so."""
        await send(_text({"t": "refused", "ack": seq, "why": why, "revision": self.desk.revision}))
        await send(_text(view.state_view(self.desk)))

    async def _tell_state(self, who: int = 0, ack: int | None = None) -> None:
        """Tell all pages how things stand, and what is drawn from the whole calculation when that is another now."""
        drawn = self.desk.studies.drawn
        if drawn is not None and drawn.number != self._told_drawn:
            self._told_drawn = drawn.number
            await self._tell(drawn_view.drawn_view(self.desk))
        await self._tell(view.state_view(self.desk), who, ack)

    async def _tell(self, document: Json, who: int = 0, ack: int | None = None) -> None:
        """Tell all pages; one of them that it was its doing."""
        text = _text(document)
        for page, send in list(self._pages.items()):
            await send(_text({**document, "ack": ack}) if page == who else text)

    def _carry_out(self, who: int, message: m.AnyMessage) -> Json | None:
        """Do it; an answer for this page alone, or None when the state has changed for all."""
        desk = self.desk
        match message:
            case m.Begin():
                desk.begin(who, message.base, message.target)
                return {"t": "begun", "target": message.target}
            case m.Move():
                drag, found = desk.move(who, message.at, message.snap)
                return view.moving_view(drag.target, desk.judged_case, drag.state.layout, found)
            case m.Commit():
                desk.commit(who)
            case m.Cancel():
                desk.cancel(who)
                return view.state_view(desk)
            case m.SetGoods() if message.live:
                loads, payload = desk.look_at_goods(Goods(message.x_mm, message.mass_kg))
                return {
                    "t": "goods",
                    "loads": [view.load_view(load) for load in loads],
                    "payload": view.payload_view(payload),
                }
            case m.Solve() | m.Stop() | m.Export() | m.Keep() | m.Discard():
                return self._beside(message)
            case m.Take():
                desk.take(message.base, message.number)
            case _:
                self._edit(message)
        return None

    def _edit(self, message: m.AnyMessage) -> None:
        desk, base = self.desk, message.base
        match message:
            case m.Put(target=name):
                desk.edit(base, f"put {name}", lambda case, s: ops.put(case, s, name, message.at))
            case m.Nudge(target=name):
                desk.edit(base, f"nudged {name}", lambda case, s: ops.shift(case, s, name, message.by))
            case m.Snap(target=name):
                desk.snap(base, name)
            case m.Turn(target=name):
                desk.edit(base, f"turned {name}", lambda _, s: ops.turn(s, name, message.quarters))
            case m.Stand(target=name):
                desk.edit(
                    base, f"stood {name} on another face", lambda c, s: ops.stand(c, s, name, message.up)
                )
            case m.Lock(target=name):
                word = "locked" if message.locked else "unlocked"
                desk.edit(base, f"{word} {name}", lambda _, s: ops.lock(s, name, message.locked))
            case m.TakeOut(target=name):
                desk.edit(base, f"took {name} out", lambda _, s: ops.take_out(s, name))
            case m.PutIn(target=name):
                desk.edit(base, f"put {name} in", lambda _, s: ops.put_in(s, name))
            case m.Exchange(target=name):
                desk.exchange(base, name, message.part)
            case m.SetClearances():
                desk.set_clearances(base, clearances_of(self._fields(desk.state.clearances, message.values)))
            case m.SetAims():
                desk.set_aims(base, aims_of(self._fields(desk.state.aims, message.values)))
            case m.SetGoods():
                desk.set_goods(base, Goods(message.x_mm, message.mass_kg))
            case m.Undo():
                desk.undo(base)
            case m.Redo():
                desk.redo(base)
            case _:
                raise RefusedError("that is no operation")

    @staticmethod
    def _fields(record: Any, values: Json) -> Json:
        known = type(record).model_fields
        for name in values:
            if name not in known:
                raise RefusedError(f"{name!r} is unknown; known: {', '.join(known)}")
        return {**record.model_dump(), **values}

    # ------------------------------------------------------------ the whole calculation

    def _judge_soon(self) -> None:
        """Begin the whole calculation of the present state, unless it is done or under way."""
        if self.desk.study is not None:
            return
        if self._judging is None or self._judging.done():
            self._judging = asyncio.ensure_future(self._judge_all())
        elif self._judged is not None and self._judged != key_of(self.desk.state):
            self._judged = None
            self._judge.overtake()

    async def _judge_all(self) -> None:
        """Until the present state is calculated: the newest wins, what it overtakes is given up."""
        failed = 0
        while self.desk.study is None:
            state = self.desk.state
            await asyncio.sleep(self._settle_s)
            if state is not self.desk.state:
                continue
            word, what, whole = await self._judge_one(state)
            if word == "done" and isinstance(what, Study):
                if self.desk.take_study(state, what):
                    await self._tell_state()
                    await self._tell(view.tray_view(self.desk))
                continue
            if word == "overtaken":
                continue
            failed += 1
            if state is self.desk.state and (whole or failed > 2):
                await self._tell({"t": "judging", "line": ""})
                await self._tell({"t": "note", "line": f"frame, cables and whole check list: {what}"})
                return

    async def _judge_one(self, state: State) -> tuple[str, Any, bool]:
        """The last word of one whole calculation, and whether it came to an end at all; its steps are told."""
        loop, heard = asyncio.get_running_loop(), [("failed", "the calculation was cut short")]

        def hear(word: str, what: Any) -> None:
            heard.append((word, what))
            if word == "say":
                line = {"t": "judging", "line": str(what)}
                loop.call_soon_threadsafe(lambda: self._soon(self._tell(line)))

        self._judged = key_of(state)
        job = Job("study", state, self._more_parts())
        whole = await asyncio.to_thread(self._judge.listen, job, hear)
        self._judged = None
        return (*heard[-1], True) if whole else (*heard[0], False)

    def _more_parts(self) -> tuple[Any, ...]:
        asked = {self.desk.case.brief.modules.part, *(o.part for o in self.desk.case.brief.parts)}
        return tuple(
            (k, p, self.desk.case.bodies.get(k)) for k, p in self.desk.case.parts.items() if k not in asked
        )

    # ------------------------------------------------------------ searching, exporting, the tray

    def _beside(self, message: m.AnyMessage) -> Json:
        desk = self.desk
        match message:
            case m.Keep():
                desk.keep(desk.state, message.title or desk.history.now.title, "by hand")
            case m.Discard():
                desk.tray.discard(message.number)
            case m.Stop():
                self._helper.stop()
            case m.Solve() | m.Export():
                self._start(message)
            case _:
                raise RefusedError("that is no operation")
        self._soon(self._tell(view.tray_view(desk)))
        return {"t": "ok"}

    def _start(self, message: m.Solve | m.Export) -> None:
        if self._helping is not None and not self._helping.done():
            raise RefusedError(f"{self._busy['kind']} is still under way: stop it first, or wait")
        kind = "solve" if isinstance(message, m.Solve) else "export"
        desk = self.desk
        job = Job(kind, desk.state, self._more_parts(), desk.rest.made, desk.folder)
        self._helping = asyncio.ensure_future(self._help(job))

    async def _help(self, job: Job) -> None:
        loop = asyncio.get_running_loop()
        queue: asyncio.Queue[tuple[str, Any]] = asyncio.Queue()

        def heard(word: str, what: Any) -> None:
            loop.call_soon_threadsafe(queue.put_nowait, (word, what))

        def listen() -> None:
            if not self._helper.listen(job, heard):
                heard("stopped", None)

        title = "searching layouts" if job.kind == "solve" else "writing the files"
        await self._progress(title, "starting")
        thread = asyncio.ensure_future(asyncio.to_thread(listen))
        while True:
            word, what = await queue.get()
            if word == "say":
                await self._progress(title, str(what))
            elif word == "found":
                await self._found(job, *what)
            else:
                break
        await thread
        if word == "done" and job.kind == "export":
            self.exported = [*what]
            await self._tell(self._files())
        ends = {
            "done": f"{title}: done" if job.kind == "export" else f"{title}: done, {what} found",
            "failed": f"{title}: {what}",
            "stopped": f"{title}: stopped; what was found or written before is whole",
        }
        await self._progress("", ends[word])

    async def _progress(self, kind: str, line: str) -> None:
        self._busy = {"t": "job", "kind": kind, "line": line}
        await self._tell(self._busy)

    async def _found(self, job: Job, layout: Layout, objectives: dict[str, float], score: float) -> None:
        """A layout of the search goes on the tray."""
        del objectives
        if len(self.desk.tray.layouts) >= MOST:
            return
        state = replace(job.state, layout=layout, out=missing(self.desk.case, layout))
        self.desk.keep(state, layout.title or "a layout", "search", score)
        await self._tell(view.tray_view(self.desk))

    def _files(self) -> Json:
        return {"t": "files", "files": self.exported}

    def _soon(self, what: Any) -> None:
        self._last = asyncio.ensure_future(what)

    def close(self) -> None:
        """End the processes of the jobs."""
        self._judge.stop()
        self._helper.stop()


def _text(document: Json) -> str:
    return json.dumps(document, ensure_ascii=False, allow_nan=False)

"""The truth: one layout that is worked on, whoever looks at it. Pure Python, no network, no page.

An edit names the revision it was made on. One that was made on an older revision is refused and told, so that two
tabs never overwrite each other.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from packlayout.desk import operations as ops
from packlayout.desk.catalogue import Catalogue
from packlayout.desk.files import LAYOUT, save_layout, text_of_layout
from packlayout.desk.history import FILE, Entry, History
from packlayout.desk.numbers import AtRest, Load, Moving, Payload, at_rest, corners, loads_now, moving, things
from packlayout.desk.snap import snapped
from packlayout.desk.state import Goods, RefusedError, State, case_of, first_state, missing
from packlayout.desk.studies import Studies
from packlayout.desk.tray import FILE as TRAY_FILE
from packlayout.desk.tray import Kept, Tray
from packlayout.errors import GeometryError
from packlayout.inputs.layouts import read_layout
from packlayout.model.brief import Aims, Case, Clearances
from packlayout.model.geometry import Vec
from packlayout.model.layout import Layout
from packlayout.study import Study


@dataclass(frozen=True, slots=True)
class Drag:
    """A thing that somebody holds.

    Attributes:
        target: What.
        base: Revision it was picked up from.
        state: With the thing where it is held.
    """

    target: str
    base: int
    state: State


class Desk:
    """One job on the desk. Not safe for threads: the server calls it from one place."""

    def __init__(self, case: Case, folder: Path, catalogue: Catalogue) -> None:
        """Open the desk.

        Args:
            case: As read; parts that were exchanged before are added to it.
            folder: `exports/VEHICLE-BRIEF`.
            catalogue: Parts beyond those of the brief.

        Raises:
            ExportError: when the history or the tray cannot be opened.
            RefusedError: when a part that stands on the desk is no longer in modules/.
        """
        self.case, self.folder, self.catalogue = case, folder, catalogue
        about = f"{case.vehicle.name}: {case.brief.name}"
        self.history = History(folder / FILE, about)
        self.tray = Tray(folder / TRAY_FILE, about)
        self.studies = Studies()
        self.revision = 0
        self.drags: dict[int, Drag] = {}
        self._rest: AtRest | None = None
        self._cased: tuple[tuple[int, Clearances, Aims], Case] | None = None
        if self.begun:
            self._know_parts(self.state)

    @property
    def begun(self) -> bool:
        """Whether there is a state."""
        return self.history.at > 0

    @property
    def state(self) -> State:
        """The present one."""
        return self.history.now.state

    @property
    def judged_case(self) -> Case:
        """The case with the clearances and aims of the present state."""
        return self._case(self.state)

    @property
    def study(self) -> Study | None:
        """The whole calculation of the present state; None until it is done."""
        return self.studies.of(self.state)

    @property
    def rest(self) -> AtRest:
        """The present state, judged."""
        if self._rest is None:
            self._rest = at_rest(self.judged_case, self.state, self.studies.made)
        return self._rest

    def begin_with(self, layout: Layout, title: str) -> None:
        """A layout from elsewhere becomes the present state, with the clearances and aims it states or the brief's."""
        bare = Layout(layout.placements, layout.title)
        state = first_state(self.case, bare)
        if self.begun:
            state = replace(self.state, layout=bare, out=missing(self.case, bare))
        brief = self.case.brief
        clearances, aims = layout.clearances or brief.clearances, layout.aims or brief.aims
        self._know_parts(state)
        self._new(title, replace(state, clearances=clearances, aims=aims))

    def resume(self) -> bool:
        """Go on where the history ends, or with what was made of `desk-layout.yaml` by hand since.

        Returns:
            False when there is no history.

        Raises:
            InputError: when the file was edited and is no good; each fault at file:line.
        """
        if not self.begun:
            return False
        path = self.folder / LAYOUT
        written = text_of_layout(self.case, self.state)
        if path.is_file() and path.read_text(encoding="utf-8") != written:
            self.begin_with(read_layout(path, self.case), f"edited {LAYOUT} by hand")
        else:
            self._changed()
        return True

    # ------------------------------------------------------------ edits

    def edit(self, base: int | None, title: str, change: Callable[[Case, State], State]) -> None:
        """Carry out one operation and keep the outcome.

        Raises:
            RefusedError: when it was made on an older revision, or by the operation itself.
        """
        self.refuse_stale(base)
        self._new(title, change(self.judged_case, self.state))

    def refuse_stale(self, base: int | None) -> None:
        """Refuse an edit that was made in front of an older state."""
        if base != self.revision:
            raise RefusedError(
                "the layout was changed elsewhere since, in another tab or by a search that was kept; "
                "this edit was not carried out: look at the layout as it stands now and do it again"
            )

    def begin(self, who: int, base: int | None, target: str) -> None:
        """Somebody takes hold of a thing."""
        self.refuse_stale(base)
        ops.put(self.judged_case, self.state, target, ops.box_of(ops.members(self.state.layout, target)).lo)
        self.drags[who] = Drag(target, self.revision, self.state)

    def move(self, who: int, at: Vec, snap: str = "") -> tuple[Drag, Moving]:
        """Where it is held now; `snap` names the axes along which it may snap.

        Raises:
            RefusedError: when nothing is held, or the layout was changed under the hand.
        """
        drag = self._drag(who)
        case = self._case(drag.state)
        state = ops.put(case, drag.state, drag.target, at)
        if snap:
            state = self._snapped(case, state, drag.target, snap)
        drag = replace(drag, state=state)
        self.drags[who] = drag
        return drag, moving(case, state, drag.target, self.rest)

    def commit(self, who: int) -> None:
        """It is let go: one step of the history, whatever way it took."""
        try:
            drag = self._drag(who)
        finally:
            self.cancel(who)
        if drag.state != self.state:
            self._new(f"moved {drag.target}", drag.state)

    def cancel(self, who: int) -> None:
        """It is put back."""
        self.drags.pop(who, None)

    def _drag(self, who: int) -> Drag:
        drag = self.drags.get(who)
        if drag is None:
            raise RefusedError("nothing is held")
        self.refuse_stale(drag.base)  # until it is let go: what the hand still sends is told the same
        return drag

    def snap(self, base: int | None, target: str) -> None:
        """Push a thing to what it is close to."""
        self.edit(base, f"snapped {target}", lambda case, state: self._snapped(case, state, target))

    def exchange(self, base: int | None, target: str, part: str) -> None:
        """Another part of the catalogue in a part's place."""
        self.refuse_stale(base)
        self._know_part(part)
        self.edit(base, f"exchanged {target}", lambda case, state: ops.exchange(case, state, target, part))

    def set_clearances(self, base: int | None, clearances: Clearances) -> None:
        """Other clearances."""
        self.edit(base, "changed the clearances", lambda _, state: ops.with_clearances(state, clearances))

    def set_aims(self, base: int | None, aims: Aims) -> None:
        """Other aims."""
        self.edit(base, "changed the aims", lambda _, state: ops.with_aims(state, aims))

    def set_goods(self, base: int | None, goods: Goods) -> None:
        """Goods elsewhere, or other goods."""
        self.edit(base, "moved the goods", lambda case, state: ops.with_goods(case, state, goods))

    def look_at_goods(self, goods: Goods) -> tuple[tuple[Load, ...], Payload | None]:
        """What the loads would be with other goods; nothing is kept."""
        state = ops.with_goods(self.judged_case, self.state, goods)
        return loads_now(self.judged_case, state, self.rest)

    def undo(self, base: int | None) -> None:
        """One state back."""
        self.refuse_stale(base)
        self._go(self.history.behind, "there is nothing to undo: this is where the work began")

    def redo(self, base: int | None) -> None:
        """One state forward."""
        self.refuse_stale(base)
        self._go(self.history.ahead, "there is nothing to do again")

    # ------------------------------------------------------------ tray

    def keep(self, state: State, title: str, source: str, score: float | None = None) -> Kept:
        """Put a layout on the tray.

        Raises:
            RefusedError: when it is full.
        """
        return self.tray.add(state, title, source, score)

    def kept_rest(self, kept: Kept) -> AtRest:
        """A layout of the tray, judged with what frame, cables and shaft weigh now, so that all are judged alike."""
        drawn = self.studies.drawn
        found = self.tray.judged.get(kept.number)
        if found is None or found[0] is not drawn:
            self._know_parts(kept.state)
            found = drawn, at_rest(self._case(kept.state), kept.state, self.studies.made)
            self.tray.judged[kept.number] = found
        return found[1]

    def take(self, base: int | None, number: int) -> None:
        """Go on with a layout of the tray."""
        kept = self.tray.get(number)
        self._know_parts(kept.state)
        self.edit(
            base,
            f"took layout {number} from the tray",
            lambda _, state: replace(
                kept.state, clearances=state.clearances, aims=state.aims, goods=state.goods
            ),
        )

    # ------------------------------------------------------------ the whole calculation

    def take_study(self, state: State, study: Study) -> bool:
        """The whole calculation of a state has come in.

        Returns:
            True when it is that of the present state.
        """
        self.studies.take(state, study)
        self._rest = None
        return self.study is study

    # ------------------------------------------------------------ inside

    def _new(self, title: str, state: State) -> None:
        try:
            rest = at_rest(self._case(state), state, self.studies.made)
        except GeometryError as error:
            raise RefusedError(str(error)) from error
        self.history.add(title, state)
        self._changed(rest)

    def _go(self, entry: Entry | None, words: str) -> None:
        if entry is None:
            raise RefusedError(words)
        self._know_parts(entry.state)
        self.history.go(entry)
        self._changed()

    def _changed(self, rest: AtRest | None = None) -> None:
        self.revision += 1
        before = self.studies.drawn
        self.studies.draw(self.state)
        self._rest = rest if self.studies.drawn is before else None
        save_layout(self.case, self.state, self.folder)

    def _case(self, state: State) -> Case:
        # the same case for the same settings, so that what others keep for a case is found again
        key = (id(self.case), state.clearances, state.aims)
        if self._cased is None or self._cased[0] != key:
            self._cased = (key, case_of(self.case, state))
        return self._cased[1]

    def _snapped(self, case: Case, state: State, target: str, axes: str = "xyz") -> State:
        held = ops.members(state.layout, target)
        names = {p.name for p in held} | {ops.block_name(p.block) for p in held if p.block is not None}
        room = case.zones[held[0].zone].bounds
        every = things(case, state.layout)
        # a block snaps with its cradle round it, and is put by its modules
        whole = next((box for name, box in every if name == target), ops.box_of(held))
        others = corners(box for name, box in every if name not in names)
        gap, body = case.brief.clearances.parts_mm, case.brief.clearances.body_mm
        lo, bare = snapped(whole, others, room, gap, body), ops.box_of(held).lo
        at = tuple(
            b + n - w if axis in axes else b for axis, b, n, w in zip("xyz", bare, lo, whole.lo, strict=True)
        )
        return ops.put(case, state, target, (at[0], at[1], at[2]))

    def _know_parts(self, state: State) -> None:
        for p in (*state.layout.placements, *state.out):
            self._know_part(p.part)

    def _know_part(self, key: str) -> None:
        if key in self.case.parts:
            return
        part, body = self.catalogue.part(key)
        bodies = {**self.case.bodies, **({key: body} if body is not None else {})}
        self.case = replace(self.case, parts={**self.case.parts, key: part}, bodies=bodies)

"""All figures of a weighing as one function of the measured inputs."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from packlayout.mass.combine import centre, inertia_about_centre, moments, with_inertia
from packlayout.mass.ledger import frame_rows, part_rows
from packlayout.mass.loads import axle_loads, corner_loads
from packlayout.mass.original import original_inertia
from packlayout.mass.payload import ORIGINAL_REAR, Bound, allowed_masses, bounds
from packlayout.mass.propagate import Inputs, Register
from packlayout.mass.readings import CORNERS, Readings, mass_item, read
from packlayout.mass.ride import ride_figures
from packlayout.mass.road import road_figures
from packlayout.mass.springs import Springs, springs
from packlayout.mass.states import (
    CHANGE,
    CONVERTED,
    DRIVER,
    ORIGINAL,
    STRIPPED,
    Aboard,
    floor_middle,
    key,
    laden_states,
)  # fmt: skip
from packlayout.mass.table import Table, rows_of, table
from packlayout.model.brief import Case
from packlayout.model.geometry import Floats, MassItem, Vec
from packlayout.model.layout import Layout
from packlayout.units import Measured


@dataclass(frozen=True, slots=True, eq=False)
class Weigher:
    """The evaluator: `(k, B)` inputs -> named `(B,)` figures.

    Names are those of `states.key`: `STATE: mass`, `STATE: cg x`, `STATE: inertia x`, `STATE: front axle`,
    `STATE: front left corner` and so on, and the same for the state `change`; what design codes limit;
    and the names of the payload `bounds`.

    Attributes:
        case: Plate, outline, brief.
        readings: Of the original vehicle.
        inertia: True inertia of the original over its estimate, three inputs.
        removed: What is taken out, fuel included.
        fitted: What is put in.
        stripped: What was aboard when the stripped vehicle was weighed; None when it was not.
        laden: Each laden state and what is aboard.
        bounds: On the payload.
        springs: None when they are not given.
        lowest: (n, 2) x and z of the lowest edge of each thing that is fitted.
    """

    case: Case
    readings: Readings
    inertia: tuple[int, int, int]
    removed: Table
    fitted: Table
    stripped: Table | None
    laden: tuple[tuple[Aboard, Table], ...]
    bounds: tuple[Bound, ...]
    springs: Springs | None
    lowest: Floats

    def __call__(self, inputs: Floats) -> Mapping[str, Floats]:
        """Figures of a batch."""
        figures: dict[str, Floats] = {}
        split = self._lean(inputs)
        original = self._original(inputs)
        stripped = original + self.removed.sums(inputs)
        converted = stripped + self.fitted.sums(inputs)
        self._state(figures, ORIGINAL, original, inputs, split)
        self._state(figures, CONVERTED, converted, inputs, split)
        if self.stripped is not None:
            self._state(figures, STRIPPED, stripped + self.stripped.sums(inputs), inputs, split)
        self._change(figures)
        figures["kerb mass ratio"] = 100 * converted[0] / original[0]
        figures["kerb height ratio"] = 100 * figures[key(CHANGE, "cg z")] / figures[key(ORIGINAL, "cg z")]
        for aboard, carried in self.laden:
            sums = converted + carried.sums(inputs)
            if aboard.goods_at is not None:
                sums = sums + self._goods(sums, aboard.goods_at)
            self._state(figures, aboard.name, sums, inputs, split)
        self._road(figures, inputs)
        if self.bounds:
            self._payload(figures, original, inputs)
        return figures

    def _original(self, inputs: Floats) -> Floats:
        points = self.readings.kerb_sums(inputs)
        factors = inputs[list(self.inertia)]
        return with_inertia(points, original_inertia(self.case, points[0], factors))

    def _goods(self, sums: Floats, at: Vec) -> Floats:
        room = np.maximum(self.case.vehicle.plated.gross_kg - sums[:1], 0.0)
        x, y, z = (np.full_like(room, c) for c in at)
        return moments(room, x, y, z, np.zeros((1, 3)))

    def _change(self, figures: dict[str, Floats]) -> None:
        prefix = key(CONVERTED, "")
        for name in [name for name in figures if name.startswith(prefix)]:
            what = name.removeprefix(prefix)
            figures[key(CHANGE, what)] = figures[name] - figures[key(ORIGINAL, what)]

    def _payload(self, figures: dict[str, Floats], original: Floats, inputs: Floats) -> None:
        driver = next(carried for aboard, carried in self.laden if aboard.name == DRIVER)
        sums = original + driver.sums(inputs)
        middle = floor_middle(self.case)
        assert middle is not None
        sums = sums + self._goods(sums, middle)
        wheelbase = inputs[self.readings.wheelbase]
        figures[ORIGINAL_REAR] = sums[1] / wheelbase
        figures.update(allowed_masses(self.bounds, figures, DRIVER, wheelbase))

    def _road(self, figures: dict[str, Floats], inputs: Floats) -> None:
        wheelbase = inputs[self.readings.wheelbase]
        tracks = inputs[self.readings.tracks[0]], inputs[self.readings.tracks[1]]
        for state in (ORIGINAL, CONVERTED, *(aboard.name for aboard, _ in self.laden)):
            road_figures(figures, self.case.brief.road, wheelbase, tracks, state)
            if self.springs is not None:
                ride_figures(figures, self.springs, inputs, wheelbase, state)
                self._clearance(figures, wheelbase, state)

    def _clearance(self, figures: dict[str, Floats], wheelbase: Floats, state: str) -> None:
        if not len(self.lowest):
            return
        front, rear = (figures[key(state, f"{end} height change")] for end in ("front", "rear"))
        share = self.lowest[:, :1] / wheelbase
        heights = self.lowest[:, 1:] + front * (1 - share) + rear * share
        figures[key(state, "clearance")] = heights.min(axis=0)

    def _state(
        self,
        figures: dict[str, Floats],
        name: str,
        sums: Floats,
        inputs: Floats,
        split: tuple[Floats, Floats | None],
    ) -> None:
        readings, (lean, share) = self.readings, split
        tracks = inputs[readings.tracks[0]], inputs[readings.tracks[1]]
        cg, inertia = centre(sums), inertia_about_centre(sums)
        axle = axle_loads(sums[0], cg[0], inputs[readings.wheelbase])
        cross = lean if share is None else lean + share * sums[2] - axle[0] * cg[1]
        corner = corner_loads(axle, cg[1], tracks, cross)
        figures[key(name, "mass")] = sums[0]
        for k, letter in enumerate("xyz"):
            figures[key(name, f"cg {letter}")] = cg[k]
            figures[key(name, f"inertia {letter}")] = inertia[k]
        for end, load in zip(("front", "rear"), axle, strict=True):
            figures[key(name, f"{end} axle")] = load
        for wheel, load in zip(CORNERS, corner, strict=True):
            figures[key(name, f"{wheel} corner")] = load
        figures[key(name, "front share")] = 100 * axle[0] / sums[0]
        right = corner[1] + corner[3]
        figures[key(name, "side excess")] = 2 * right - sums[0]
        figures[key(name, "side share")] = 100 * (2 * right / sums[0] - 1)

    def _lean(self, inputs: Floats) -> tuple[Floats, Floats | None]:
        """What fixes the split of a sideways moment between the axles, kg mm.

        Without springs: the moment on the front axle beyond its fair share, as weighed. With springs: the
        moment on the front axle of a vehicle without any sideways moment, and the share it takes of one.
        """
        cross = self.readings.cross(inputs)
        if self.springs is None:
            return cross, None
        weighed = self.readings.weighed_sums(inputs)
        front = weighed[0] - weighed[1] / inputs[self.readings.wheelbase]
        share = self.springs.front_share(inputs)
        return cross + front * weighed[2] / weighed[0] - share * weighed[2], share


def weigher(
    case: Case, layout: Layout, frame_items: tuple[MassItem, ...] = (), more: tuple[Aboard, ...] = ()
) -> tuple[Weigher, Inputs]:
    """Set up the evaluator and its inputs.

    Args:
        case: Vehicle, brief and conventions.
        layout: Where the parts stand.
        frame_items: What the frame weighs.
        more: States beyond those of `laden_states`.

    Returns:
        The evaluator and the inputs in the order of its rows.
    """
    register = Register()
    readings = read(register, case)
    share = Measured(1.0, case.conventions.inertia_tolerance_percent / 100)
    x, y, z = (
        register.add(f"true {axis} inertia of the original over its estimate", "1", share)
        for axis in ("roll", "pitch", "yaw")
    )
    vehicle = case.vehicle
    removed = [
        readings.fuel_out(),
        *rows_of(register, (mass_item(item, "removed", -1.0) for item in vehicle.removed)),
    ]
    fitted = [
        *rows_of(register, (mass_item(item, "added") for item in vehicle.added)),
        *part_rows(register, case, layout),
        *frame_rows(register, frame_items),
    ]
    stripped = None
    if vehicle.stripped is not None:
        stripped = table(rows_of(register, (mass_item(item, "original") for item in vehicle.stripped.aboard)))
    laden = tuple((aboard, table(rows_of(register, aboard.items))) for aboard in (*laden_states(case), *more))
    known = floor_middle(case) is not None and any(aboard.name == DRIVER for aboard, _ in laden)
    made = Weigher(
        case,
        readings,
        (x, y, z),
        table(removed),
        table(fitted),
        stripped,
        laden,
        bounds(case) if known else (),
        springs(register, case, readings.tracks),
        _lowest(layout, frame_items),
    )
    return made, register.inputs()


def _lowest(layout: Layout, frame_items: tuple[MassItem, ...]) -> Floats:
    """Middle along x and lowest edge of each part and each piece of the frame, at the surveyed ride height."""
    parts = [(p.box.centre[0], p.box.lo[2]) for p in layout.placements]
    pieces = [
        (item.position[0].value, item.position[2].value - (item.size[2] / 2 if item.size else 0.0))
        for item in frame_items
    ]
    return np.array([*parts, *pieces]).reshape(-1, 2)

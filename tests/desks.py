"""A desk over the small workshop, with a layout made by hand."""

from pathlib import Path

from packlayout.desk.catalogue import Catalogue
from packlayout.desk.session import Desk
from packlayout.electrical.cables import Run
from packlayout.electrical.wire import Wiring
from packlayout.inputs.case import read_case
from packlayout.inputs.workshop import find_workshop
from packlayout.model.brief import Case
from packlayout.model.geometry import MassItem
from packlayout.model.layout import Layout, Placement
from packlayout.space.bends import Line
from packlayout.space.routes import End
from packlayout.study import Study
from packlayout.units import Measured
from tests.workshop_files import BRIEF_FILE

MODULE, MOTOR, CHARGER = (300.0, 180.0, 120.0), (260.0, 240.0, 240.0), (250.0, 170.0, 80.0)


def layout() -> Layout:
    """Four modules in one block, the motor behind them, the charger in the tank's place."""
    modules = [
        Placement(f"module {2 * row + k + 1}", "module", "bay", (-190.0, -182.0 + 182.0 * k, 380.0 + 122.0 * row), "+z",
                  180, MODULE, 1)
        for row in range(2) for k in range(2)
    ]  # fmt: skip
    motor = Placement("Hartle M30 motor", "motor", "bay", (180.0, -120.0, 400.0), "+z", 0, MOTOR)
    charger = Placement("Wick 3 charger", "charger", "tank", (2400.0, -85.0, 350.0), "+z", 0, CHARGER)
    return Layout((*modules, motor, charger), "by hand")


def case_of(root: Path) -> Case:
    """The case of the small workshop."""
    return read_case(root / BRIEF_FILE)


def desk(root: Path, begun: bool = True) -> Desk:
    """A desk on it, in exports/."""
    case = case_of(root)
    made = Desk(case, root / "exports" / case.key, Catalogue(find_workshop(root)))
    if begun:
        made.begin_with(layout(), "began")
    return made


_END = End("Wick 3 charger", "out", (2400.0, 0.0, 350.0), (1.0, 0.0, 0.0))


def study_of(made: Desk, cable_kg: float = 2.0, thick_mm: float = 20.0) -> Study:
    """A whole calculation with one cable and no frame."""
    line = Line(((2400.0, 0.0, 350.0), (2500.0, 0.0, 350.0), (2500.0, 200.0, 350.0)), 40.0)
    run = Run(
        "charger lead", "HV", _END, _END, 2, 16.0, thick_mm, line, None, 100.0, 16.0, 20.0, 0.5, 300.0,
        Measured(cable_kg, 0.1), 1, 0.0, 5.0, "",
    )  # fmt: skip
    item = MassItem("charger lead", run.mass, (Measured(2450.0), Measured(50.0), Measured(350.0)), "added")
    return Study(
        case=made.case, seed=0, placed=None, layout=made.state.layout, framed=None, weighing=None, checks=(),
        not_done=(), wiring=Wiring(None, None, (run,), (item,), ()),
    )  # fmt: skip

"""A desk over the small workshop, with a layout made by hand."""

from pathlib import Path

from packlayout.desk.catalogue import Catalogue
from packlayout.desk.session import Desk
from packlayout.inputs.case import read_case
from packlayout.inputs.workshop import find_workshop
from packlayout.model.brief import Case
from packlayout.model.layout import Layout, Placement
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

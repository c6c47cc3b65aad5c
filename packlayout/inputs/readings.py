"""The finished vehicle's scale readings -> `AsBuilt`, and faults of the comparison told at their line."""

from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from packlayout.errors import InputError, ReadingError
from packlayout.inputs.faults import faults_of
from packlayout.inputs.source import read_source
from packlayout.model.weighed import AsBuilt

AS_BUILT = TypeAdapter(AsBuilt)


def read_as_built(path: Path) -> AsBuilt:
    """Read the scale readings of a finished vehicle.

    Args:
        path: The file, wherever it is: corners or axles, the state weighed, what was aboard beyond it.

    Returns:
        The readings.

    Raises:
        InputError: with every fault, each at file:line.
    """
    source = read_source(path)
    try:
        return AS_BUILT.validate_python(source.data, by_alias=True, by_name=False)
    except ValidationError as error:
        raise InputError(*faults_of(error, source, AS_BUILT)) from None


@contextmanager
def at_line_of(path: Path) -> Generator[None]:
    """Turns a reading that the comparison refuses into a fault at its line of the readings file."""
    try:
        yield
    except ReadingError as error:
        source = read_source(path)
        where = (
            ("state",) if error.field == "state" else ("corners" if "corners" in source.data else "axles",)
        )
        raise InputError(source.fault(where, error.found, error.allowed, error.advice)) from None

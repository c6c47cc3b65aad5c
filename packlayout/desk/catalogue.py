"""The parts in modules/ that the brief does not name, read when they are asked for."""

from dataclasses import dataclass

from packlayout.desk.state import RefusedError
from packlayout.errors import InputError
from packlayout.inputs.parts import read_part
from packlayout.inputs.reader import Reader
from packlayout.inputs.workshop import Workshop
from packlayout.model.brief import PartBody
from packlayout.model.catalogue import Part


@dataclass(frozen=True, slots=True)
class Offer:
    """A part that could stand in another's place."""

    key: str
    name: str
    maker: str
    kind: str
    mass_kg: float


class Catalogue:
    """What the workshop has; a file with faults is left out and `packlayout check` tells them."""

    def __init__(self, workshop: Workshop) -> None:
        self._workshop = workshop
        self._read: dict[str, tuple[Part, PartBody | None] | None] = {}

    def part(self, key: str) -> tuple[Part, PartBody | None]:
        """A part and its body.

        Raises:
            RefusedError: for a name that is not in modules/, or a file with faults.
        """
        found = self._part(key)
        if found is None:
            known = ", ".join(offer.key for offer in self.offers())
            raise RefusedError(f"modules/ holds no good part called {key!r}; there are: {known}")
        return found

    def offers(self) -> tuple[Offer, ...]:
        """All good parts, by name of their file."""
        made: list[Offer] = []
        for key in self._workshop.part_files():
            found = self._part(key)
            if found is not None:
                part = found[0]
                made.append(Offer(key, part.name, part.maker, part.kind, part.mass_kg.value))
        return tuple(made)

    def _part(self, key: str) -> tuple[Part, PartBody | None] | None:
        if key not in self._read:
            files = self._workshop.part_files()
            self._read[key] = None
            if key in files:
                reader = Reader(self._workshop)
                try:
                    made = read_part(reader, files[key])
                    reader.finish()
                except InputError:
                    made = None
                self._read[key] = made
        return self._read[key]

"""JSON Schemas of every kind of file, from the records, so that an editor completes and checks as one types.

`python -m packlayout.inputs.schemas [DIR]` writes them, by default to shared/schemas of the working folder.
"""

import json
import sys
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter

from packlayout.inputs.layouts import LAYOUT
from packlayout.inputs.reader import (
    BRIEF,
    CABLES,
    CONVENTIONS,
    CYCLES,
    DESIGN_CODE,
    ELECTRICAL,
    FASTENERS,
    FUSES,
    KIT,
    MATERIALS,
    PRICES,
    SHAFTS,
    STOCK,
    TUBES,
    VEHICLE,
)  # fmt: skip
from packlayout.inputs.wording import RecordSchema
from packlayout.model.catalogue import PART

SCHEMAS: dict[str, TypeAdapter[Any]] = {
    "part": PART,
    "vehicle": VEHICLE,
    "brief": BRIEF,
    "kit": KIT,
    "layout": LAYOUT,
    "tubes": TUBES,
    "materials": MATERIALS,
    "fasteners": FASTENERS,
    "conventions": CONVENTIONS,
    "cables": CABLES,
    "fuses": FUSES,
    "electrical": ELECTRICAL,
    "cycles": CYCLES,
    "shafts": SHAFTS,
    "prices": PRICES,
    "stock": STOCK,
    "design-code": DESIGN_CODE,
}
"""Name of a schema -> what it describes."""


def schema_text(name: str) -> str:
    """One schema as it stands in its file."""
    schema = SCHEMAS[name].json_schema(schema_generator=RecordSchema)
    top = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": name.replace("-", " ")}
    return json.dumps({**top, **schema}, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def write_schemas(folder: Path) -> list[Path]:
    """Write every schema to `NAME.schema.json`, each file whole or not at all.

    Args:
        folder: Where to; made when it is not there.

    Returns:
        The files.
    """
    folder.mkdir(parents=True, exist_ok=True)
    written: list[Path] = []
    for name in SCHEMAS:
        target = folder / f"{name}.schema.json"
        unfinished = target.with_name(target.name + ".tmp")
        unfinished.write_text(schema_text(name), encoding="utf-8", newline="\n")
        unfinished.replace(target)
        written.append(target)
    return written


if __name__ == "__main__":
    for path in write_schemas(Path(sys.argv[1]) if len(sys.argv) > 1 else Path("shared/schemas")):
        print(path)

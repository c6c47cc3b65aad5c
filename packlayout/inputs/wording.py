"""The words of the records: their docstrings, as descriptions of what a file may hold.

The schema made here serves an editor and the messages on a faulty file alike.
"""

import re
from inspect import cleandoc
from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue

_FIELD = re.compile(r"^ {4}(\w+): (.+?)(?=^ {4}\w+: |\Z)", re.MULTILINE | re.DOTALL)


class RecordSchema(GenerateJsonSchema):
    """Schema 2020-12 whose descriptions come from the docstrings of the records."""

    def model_schema(self, schema: Any) -> JsonSchemaValue:
        """The schema of one record, its fields described by the docstring."""
        made = super().model_schema(schema)
        words, fields = told_in(schema["cls"].__doc__ or "")
        made["description"] = words
        for name, field in schema["cls"].model_fields.items():
            place = made.get("properties", {}).get(field.alias or name)
            if place is None:
                continue
            place.pop("title", None)
            if name in fields:
                given = place.get("description")
                place["description"] = (
                    f"{fields[name]} {given[:1].upper()}{given[1:]}" if given else fields[name]
                )
        return made


def told_in(docstring: str) -> tuple[str, dict[str, str]]:
    """The words of a docstring on the whole, and those on each field of its `Attributes`."""
    words, _, attributes = cleandoc(docstring).partition("\n\nAttributes:\n")
    fields = {name: " ".join(text.split()) for name, text in _FIELD.findall(attributes)}
    return " ".join(words.split()), fields

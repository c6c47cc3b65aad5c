"""What pydantic finds wrong -> `Fault`s in plain words, each at its line.

What a field may hold is told from the JSON Schema of its record: the same words that an editor shows.
"""

from collections.abc import Mapping
from difflib import SequenceMatcher
from itertools import takewhile
from typing import Any

from pydantic import TypeAdapter, ValidationError

from packlayout.errors import Fault
from packlayout.inputs.source import Source, Where
from packlayout.inputs.wording import RecordSchema
from packlayout.model.catalogue import KINDS
from packlayout.model.record import told

Schema = Mapping[str, Any]


def faults_of(error: ValidationError, source: Source, adapter: TypeAdapter[Any]) -> list[Fault]:
    """Every fault that pydantic found in one file.

    Args:
        error: As raised.
        source: The file's data and lines.
        adapter: What the data was held against.

    Returns:
        One fault for each thing that is wrong.
    """
    book = _Book(adapter.json_schema(schema_generator=RecordSchema), source)
    return [book.fault(detail) for detail in error.errors(include_url=False) if not book.is_echo(detail)]


def closest(word: str, known: list[str]) -> str:
    """Advice that names the known word nearest to a misspelt one; empty when none is near."""
    ranked = by_likeness(word, known)
    return f"did you mean {ranked[0]!r}?" if ranked and likeness(word, ranked[0]) >= 0.6 else ""


def by_likeness(word: str, known: list[str]) -> list[str]:
    """Known words, those most like a misspelt one first; of two alike the one with the same beginning."""

    def begins_alike(other: str) -> int:
        return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(word, other, strict=False)))

    return sorted(known, key=lambda other: (-likeness(word, other), -begins_alike(other), other))


def likeness(word: str, other: str) -> float:
    """0 nothing in common, 1 the same but for capitals."""
    return SequenceMatcher(None, word.lower(), other.lower()).ratio()


class _Book:
    """The schema of one kind of file beside the data of one file."""

    def __init__(self, schema: Schema, source: Source) -> None:
        self.top, self.source = schema, source

    def is_echo(self, detail: Any) -> bool:
        """True for a list called too short only because pydantic does not count its faulty rows."""
        rows = self.source.at(*self._where(detail["loc"]))
        least = detail.get("ctx", {}).get("min_length", 0)
        return detail["type"] == "too_short" and isinstance(rows, list) and len(rows) >= least

    def fault(self, detail: Any) -> Fault:
        where = self._where(detail["loc"])
        kind, context = detail["type"], detail.get("ctx", {})
        if kind == "missing" and where and isinstance(where[-1], str):
            return self.source.fault(where, "missing", self._words(where))
        if kind == "missing":
            found, allowed, advice = self._too_few(where[:-1])
            return self.source.fault(where[:-1], found, allowed, advice)
        if kind == "extra_forbidden":
            return self._unknown_field(where)
        if kind in ("union_tag_invalid", "union_tag_not_found"):
            return self._unknown_kind(where)
        if kind == "value_error":
            text = str(context.get("said") or context.get("error") or detail["msg"])
            found, _, rest = text.partition("; allowed: ")
            allowed, _, advice = rest.partition("; ")
            return self.source.fault(where, _no_none(found), allowed or self._words(where), advice)
        value = detail["input"]
        return self.source.fault(where, self._found(kind, value, context), self._words(where))

    def _where(self, loc: Where) -> Where:
        """Places in the file only: pydantic also names the member of a union it tried."""
        value: Any = self.source.data
        where: list[str | int] = []
        if "discriminator" in self.top and loc and loc[0] == self.source.at("kind"):
            loc = loc[1:]
        for index, step in enumerate(loc):
            last = index == len(loc) - 1
            if isinstance(value, dict) and isinstance(step, str) and (step in value or last):
                value = value.get(step)
            elif isinstance(value, list) and isinstance(step, int):
                value = value[step] if step < len(value) else None
            else:
                continue
            where.append(step)
        return tuple(where)

    def _found(self, kind: str, value: Any, context: Mapping[str, Any]) -> str:
        if value is None:
            return "nothing stands here"
        if kind in ("too_long", "too_short"):
            return f"a list of {context.get('actual_length', 'that many')}"
        if kind == "string_too_long":
            return f"text of {len(str(value))} characters"
        if kind == "string_too_short":
            return "an empty text"
        if kind == "string_type" and isinstance(value, int | float):
            return f"{told(value)} is not text; put it in quotes"
        return _said(value)

    def _too_few(self, where: Where) -> tuple[str, str, str]:
        rows = self.source.at(*where)
        count = len(rows) if isinstance(rows, list) else 0
        return f"a list of {count}", self._words(where), ""

    def _unknown_field(self, where: Where) -> Fault:
        group = self.source.at(*where[:-1])
        names = list(self._schema(where[:-1]).get("properties", {}))
        name = str(where[-1])
        given = group if isinstance(group, dict) else {}
        advice = closest(name, [known for known in names if known not in given])
        return self.source.fault(where, f"unknown field {told(name)}", ", ".join(names), advice)

    def _unknown_kind(self, where: Where) -> Fault:
        kinds: list[str] = list(KINDS)
        given = self.source.at(*where, "kind")
        found = f"unknown kind {told(given)}" if given is not None else "missing"
        advice = closest(given, kinds) if isinstance(given, str) else ""
        return self.source.fault((*where, "kind"), found, ", ".join(kinds), advice)

    # ---- words from the schema

    def _schema(self, where: Where) -> Schema:
        node = self._member(self.top, self.source.data)
        for depth, step in enumerate(where):
            if isinstance(step, str):
                node = node.get("properties", {}).get(step, node.get("additionalProperties") or {})
            else:
                fixed = node.get("prefixItems", [])
                node = fixed[step] if step < len(fixed) else node.get("items") or {}
            node = self._member(node, self.source.at(*where[: depth + 1]))
        return node

    def _member(self, node: Any, value: Any) -> Schema:
        """Follow references; of a union take the member that the value's kind points to."""
        while isinstance(node, Mapping):
            if "$ref" in node:
                node = self.top["$defs"][node["$ref"].rsplit("/", 1)[-1]]
            elif "discriminator" in node:
                kind = value.get("kind") if isinstance(value, dict) else None
                target = node["discriminator"]["mapping"].get(kind) if isinstance(kind, str) else None
                if target is None:
                    return node
                node = {"$ref": target}
            else:
                members = [m for m in node.get("anyOf", []) if m.get("type") != "null"]
                if len(members) != 1:
                    return node
                node = members[0]
        return {}

    def _words(self, where: Where) -> str:
        return self._describe(self._schema(where))

    def _describe(self, node: Schema) -> str:
        node = self._member(node, None)
        if "properties" in node:
            needed = node.get("required") or list(node["properties"])
            return f"a group of fields: {', '.join(needed)}"
        if "enum" in node or "const" in node:
            return ", ".join(str(value) for value in node.get("enum", [node.get("const")]))
        if node.get("type") == "array" and node.get("minItems", 0) != node.get("maxItems"):
            return self._describe_list(node)
        kind, said = node.get("type"), node.get("description")
        if kind == "integer" and "minimum" in node:
            # what it is does not tell how much of it may be
            range_ = f"a whole number, {node['minimum']} to {node.get('maximum', 'any')}"
            return f"{range_}: {said}" if said else range_
        if said:
            return str(said)
        if "anyOf" in node:
            return " or ".join(
                self._describe(member) for member in node["anyOf"] if member.get("type") != "null"
            )
        if kind == "array":
            return self._describe_list(node)
        if kind == "string":
            return (
                f"text of {node.get('minLength', 0)} to {node.get('maxLength', 'any number of')} characters"
            )
        if kind == "integer":
            return "a whole number"
        if kind == "object":
            return "fields with text"
        plain = {"boolean": "true or false", "number": "a number"}
        return plain.get(str(kind), "what the schema named in the first line says")

    def _describe_list(self, node: Schema) -> str:
        if "prefixItems" in node:
            members = [self._describe(member) for member in node["prefixItems"]]
            return f"a list of {len(members)}, each {members[0]}"
        least, most = node.get("minItems", 0), node.get("maxItems")
        count = f"{least} to {most}" if most else f"{least} or more" if least else "any number"
        words = str(node.get("description") or f"each {self._describe(node.get('items', {}))}")
        return f"a list of {count}: {words}"


def _said(value: Any) -> str:
    if isinstance(value, dict):
        return "a group of fields"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, bool):
        return "true" if value else "false"
    return told(value)


def _no_none(found: str) -> str:
    return "nothing stands here" if found.startswith("None is not a ") else found

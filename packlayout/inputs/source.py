"""YAML text -> plain data, and the line each piece of it stands on.

Only what a workshop file needs is read: maps, lists and scalars of YAML 1.2's core schema. What makes one
file mean two things to two readers (anchors, tags, merge keys, a key given twice) is refused, each at its line.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)  # fmt: skip
from ruamel.yaml.reader import ReaderError

from packlayout.errors import Fault, InputError

Where = tuple[str | int, ...]
"""Keys and list positions from the top of a file down to one of its values."""

LARGEST_FILE = 5_000_000
DEEPEST = 50
_LONGEST_NUMBER = 300
_LONGEST_NAME = 40

_NULL = {"", "~", "null", "Null", "NULL"}
_TRUE, _FALSE = {"true", "True", "TRUE"}, {"false", "False", "FALSE"}
_INTEGER = re.compile(r"[-+]?[0-9]+")
_BASED = re.compile(r"0o[0-7]+|0x[0-9a-fA-F]+")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_UNPRINTABLE = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff]")
_WIDE_ESCAPE, _LAST_CHARACTER = re.compile(r"\\U([0-9a-fA-F]{8})"), 0x10FFFF
_SPECIAL = re.compile(r"[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)")


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """One file's data and where each piece of it stands.

    Attributes:
        path: Where it is.
        file: The file as the user is told of it.
        data: Maps, lists, text, numbers, booleans and None.
        lines: Place in the data -> 1-based line.
        digest: sha256 of the bytes.
    """

    path: Path
    file: Path
    data: Any
    lines: Mapping[Where, int]
    digest: str

    def line(self, where: Where) -> int:
        """Line of a place, or of the nearest thing around it."""
        while where and where not in self.lines:
            where = where[:-1]
        return self.lines.get(where, 1)

    def at(self, *where: str | int) -> Any:
        """The value at a place; None when there is no such place."""
        value: Any = self.data
        for step in where:
            if isinstance(value, dict) and isinstance(step, str):
                value = value.get(step)
            elif isinstance(value, list) and isinstance(step, int) and 0 <= step < len(value):
                value = value[step]
            else:
                return None
        return value

    def field(self, where: Where) -> str:
        """A place in words: `zones.engine bay.stations[2].x`; list positions count from 1."""
        words = ""
        for depth, step in enumerate(where):
            if isinstance(step, int):
                name = self.at(*where[: depth + 1], "name")
                words += f".{name[:_LONGEST_NAME]}" if isinstance(name, str) and name else f"[{step + 1}]"
            else:
                words += f".{step[:_LONGEST_NAME]}" if words else step[:_LONGEST_NAME]
        return words

    def fault(self, where: Where, found: str, allowed: str, advice: str = "") -> Fault:
        """A fault at a place of this file."""
        return Fault(self.file, self.line(where), self.field(where), found, allowed, advice)


class DoubledError(InputError):
    """Text whose only faults are fields given twice: what it says can still be held against the records."""

    def __init__(self, source: Source, *faults: Fault) -> None:
        super().__init__(*faults)
        self.source = source


def read_bytes(path: Path, shown: Path, largest: int) -> bytes:
    """The bytes of a plain file.

    Args:
        path: Where it is.
        shown: What to call it in a fault.
        largest: Size beyond which it is refused, bytes.

    Raises:
        InputError: when it is not there, not a plain file, too large or not readable.
    """
    try:
        if not path.is_file():
            found = "is a folder" if path.is_dir() else "no such file"
            raise InputError(Fault(shown, 0, "", found, "a file"))
        size = path.stat().st_size
        if size > largest:
            found = f"the file has {size / 1e6:.1f} MB"
            raise InputError(Fault(shown, 0, "", found, f"at most {largest / 1e6:g} MB"))
        return path.read_bytes()
    except (OSError, ValueError) as error:  # ValueError: a path with a nought byte
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(Fault(shown, 0, "", f"cannot be read ({reason})", "a readable file")) from error


def read_source(path: Path, shown: Path | None = None) -> Source:
    """Read one YAML file.

    Args:
        path: Where it is.
        shown: What to call it in a fault; the path itself by default.

    Raises:
        InputError: with every fault of the text, each at its line.
    """
    shown = shown or path
    raw = read_bytes(path, shown, LARGEST_FILE)
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        found = f"byte 0x{raw[error.start]:02x} is not UTF-8"
        raise InputError(Fault(shown, line, "", found, "text saved as UTF-8")) from error
    return parse_source(text, path, shown, sha256(raw).hexdigest())


def parse_source(text: str, path: Path, shown: Path | None = None, digest: str = "") -> Source:
    """Text -> `Source`; raises `InputError` with every fault of the text."""
    shown = shown or path
    composer = _Composer(shown)
    try:
        data = composer.document(YAML(typ="safe", pure=True).parse(text))
    except _TooDeepError:
        pass
    except MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + 1 if mark else composer.last_line
        composer.refuse(line, *_plain_words(error))
    except ReaderError as error:
        line = text.count("\n", 0, error.position) + 1
        found = f"character U+{int(error.character):04X} cannot stand in a text file"
        composer.refuse(line, found, "printable text")
    except Exception as error:  # the parser lets others slip on odd escapes; none may reach the user
        odd = next(
            (found for found in _WIDE_ESCAPE.finditer(text) if int(found[1], 16) > _LAST_CHARACTER), None
        )
        line = text.count("\n", 0, odd.start()) + 1 if odd else composer.last_line
        composer.refuse(line, f"cannot be read as YAML ({type(error).__name__})", "plain text",
                        f"{odd[0]} is no character" if odd else "")  # fmt: skip
    else:
        if not composer.faults and not isinstance(data, dict):
            composer.refuse(1, "the file is empty" if data is None else "not a map", "`field: value` lines")
        source = Source(path, shown, data, composer.lines, digest)
        if not composer.faults:
            return source
        if isinstance(data, dict) and composer.doubles == len(composer.faults):
            raise DoubledError(source, *composer.faults)
    raise InputError(*composer.faults)


# what the parser says -> (found, allowed) in the words of one who types a file
_PARSER_WORDS = {
    "found character '\\t'": ("a tab before the text", "spaces"),
    "mapping values are not allowed": (
        "a colon where none can stand",
        "one `field: value` a line, the fields of a group indented alike; quote text that has a colon",
    ),
    "expected <block end>": ("the indentation does not fit the lines above", "all fields of a group indented alike"),
    "could not find expected ':'": ("a line without a colon", "`field: value`"),
    "found unexpected end of stream": ("a quote that is not closed", "quotes in pairs"),
}  # fmt: skip


def _plain_words(error: MarkedYAMLError) -> tuple[str, str]:
    problem = str(error.problem or error.context or "cannot be read").splitlines()[0].strip()
    for words, plain in _PARSER_WORDS.items():
        if words in problem:
            return plain
    return problem, "YAML; see the lines just above as well"


class _TooDeepError(Exception):
    pass


class _Composer:
    """Builds plain data from parser events, and notes lines and faults on the way."""

    def __init__(self, shown: Path) -> None:
        self.shown = shown
        self.lines: dict[Where, int] = {}
        self.faults: list[Fault] = []
        self.last_line = 1
        self.doubles = 0

    def refuse(self, line: int, found: str, allowed: str, advice: str = "") -> None:
        self.faults.append(Fault(self.shown, line, "", found, allowed, advice))

    def document(self, events: Iterator[Any]) -> Any:
        data: Any = None
        documents = 0
        for event in events:
            self.last_line = event.start_mark.line + 1
            if isinstance(event, DocumentStartEvent):
                documents += 1
                if documents > 1:
                    self.refuse(
                        event.start_mark.line + 1, "a second document begins here", "one document a file"
                    )
                    return data
                if event.version not in (None, (1, 2)) or event.tags:
                    self.refuse(1, "a YAML directive", "no directives; YAML 1.2 is what is read")
                data = self._value(next(events), events, ())
        return data

    def _value(self, event: Any, events: Iterator[Any], where: Where) -> Any:
        line = self.last_line = event.start_mark.line + 1
        self.lines.setdefault(where, line)
        if len(where) > DEEPEST:
            self.refuse(
                line, f"nested more than {DEEPEST} levels deep", "the levels of the file's own format"
            )
            raise _TooDeepError
        if isinstance(event, AliasEvent):
            self.refuse(line, f"an alias (*{event.anchor[:_LONGEST_NAME]})", "the value itself; write it out")
            return None
        if event.anchor is not None:
            self.refuse(line, f"an anchor (&{event.anchor[:_LONGEST_NAME]})", "plain values")
        if event.ctag is not None:
            self.refuse(
                line,
                f"a tag ({str(event.tag or '!')[:_LONGEST_NAME]})",
                "plain values; quote what begins with !",
            )
        if isinstance(event, MappingStartEvent):
            return self._map(events, where)
        if isinstance(event, SequenceStartEvent):
            return self._list(events, where)
        odd = _UNPRINTABLE.search(event.value)
        if odd:
            self.refuse(line, f"an escape for the character U+{ord(odd.group()):04X}", "printable text")
        return scalar(event.value) if event.style is None else event.value

    def _list(self, events: Iterator[Any], where: Where) -> list[Any]:
        items: list[Any] = []
        for event in events:
            if isinstance(event, SequenceEndEvent):
                break
            items.append(self._value(event, events, (*where, len(items))))
        return items

    def _map(self, events: Iterator[Any], where: Where) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for event in events:
            if isinstance(event, MappingEndEvent):
                break
            line = event.start_mark.line + 1
            key = event.value if isinstance(event, ScalarEvent) else ""
            if _UNPRINTABLE.search(key):
                self.refuse(
                    line, f"a field name that cannot be printed: {key[:_LONGEST_NAME]!a}", "plain text"
                )
                key = ascii(key)
            inner = (*where, key)
            if not isinstance(event, ScalarEvent):
                self.refuse(line, "a key that is not plain text", "`field: value`")
                self._value(event, events, (*where, f"key at line {line}"))
            elif event.anchor is not None or event.ctag is not None:
                self.refuse(line, f"an anchor or a tag before the key {key[:_LONGEST_NAME]!r}", "a plain key")
            elif key == "<<" and event.style is None:
                self.refuse(line, "a merge key (<<)", "the fields themselves; write them out")
            elif key in found:
                first = self.lines[inner]
                found_twice = f"{key[:_LONGEST_NAME]!r} is given twice, first at line {first}"
                self.refuse(line, found_twice, "each field once")
                self.doubles += 1
            self.lines.setdefault(inner, line)
            found[key] = self._value(next(events), events, inner)
        return found


def scalar(text: str) -> Any:
    """An unquoted scalar by the core schema of YAML 1.2: `yes` and dates stay text."""
    if text in _NULL:
        return None
    if text in _TRUE or text in _FALSE:
        return text in _TRUE
    if len(text) <= _LONGEST_NUMBER:
        if _INTEGER.fullmatch(text):
            return int(text)
        if _FLOAT.fullmatch(text):
            return float(text)
        if _BASED.fullmatch(text):
            return int(text, 0)
        if _SPECIAL.fullmatch(text):
            return float(text.replace(".", ""))
    return text

"""Names for files and CAD: plain ASCII, and never the same twice."""

import re
import unicodedata
from collections.abc import Sequence

# letters that do not come apart into a plain letter and a mark
_LETTERS = str.maketrans({
    "ß": "ss", "ẞ": "SS", "æ": "ae", "Æ": "AE", "œ": "oe", "Œ": "OE", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L",
    "đ": "d", "Đ": "D", "ð": "d", "Ð": "D", "þ": "th", "Þ": "Th", "ı": "i", "–": "-", "—": "-", "×": "x",
    "‘": "'", "’": "'", "“": '"', "”": '"', "°": "deg", "µ": "u", "Ω": "ohm", "±": "+/-",
    "⁄": "/",
})  # fmt: skip
_UMLAUTS = {"ä": "ae", "ö": "oe", "ü": "ue", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue"}


def ascii_name(text: str) -> str:
    """A name in letters, digits and a few signs that every CAD program reads the same.

    Latin letters lose their marks (umlauts become two letters); what has no Latin form becomes its code point, so
    that two different names stay different more often than not.

    Args:
        text: Any name.

    Returns:
        At most 80 characters, never empty.
    """
    pieces: list[str] = []
    for sign in unicodedata.normalize("NFC", text):
        plain = _UMLAUTS.get(sign) or sign.translate(_LETTERS)
        plain = "".join(c for c in unicodedata.normalize("NFKD", plain) if not unicodedata.combining(c))
        pieces += [c if c.isascii() else f"u{ord(c):x}" for c in plain.translate(_LETTERS)]
    # STEP quotes with ', and / and \ part paths and escapes
    safe = re.sub(r"[^A-Za-z0-9 ._+()=,-]+", "_", "".join(pieces))
    return " ".join(safe.split())[:80].strip() or "_"


def distinct(names: Sequence[str]) -> tuple[str, ...]:
    """The same names, where the second `motor` becomes `motor (2)`; upper and lower case count as equal."""
    taken: set[str] = set()
    made: list[str] = []
    for name in names:
        new, count = name, 1
        while new.lower() in taken:
            count += 1
            new = f"{name} ({count})"
        taken.add(new.lower())
        made.append(new)
    return tuple(made)

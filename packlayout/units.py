"""Unit words, conversions, standard gravity, and the measured value with its tolerance.

Inside the program every number is in the house units (mm, kg, N, MPa, V, A, kWh, kW, degrees ...).
A user may write any trade unit in quotes; it is converted once, here, on reading. The conversion
factors are pint's; the list of words is ours, so that a word that means different things in different
countries (`ton`) is refused instead of guessed, and a hundredweight is the imperial one of 112 lb.
"""

import math
import re
from dataclasses import dataclass
from functools import cache
from typing import Any, NoReturn

G0_M_S2 = 9.80665
"""Standard acceleration of free fall, m/s2 (ISO 80000-3; exact by convention)."""

MM_PER_M = 1000.0
"""The house units are not consistent for vibration: a rate in N/mm times this is in N/m, for kg and seconds."""

STEEL_KG_PER_MM3 = 7.85e-6
"""Density of structural steel, kg/mm3 (EN 1993-1-1 clause 3.2.6 refers to EN 1991-1-1: 7850 kg/m3)."""


@dataclass(frozen=True, slots=True)
class Measured:
    """A value with its tolerance.

    Attributes:
        value: In the house unit of the field that holds it.
        tolerance: 95 % half-width (coverage factor 2, ISO/IEC Guide 98-3), same unit, not negative.
    """

    value: float
    tolerance: float = 0.0

    def __str__(self) -> str:
        return f"{self.value:g} +/- {self.tolerance:g}" if self.tolerance else f"{self.value:g}"


# house unit key -> {word the user may write: the name pint knows it by}
_WORDS: dict[str, dict[str, str]] = {
    "mm": {
        "mm": "millimeter", "cm": "centimeter", "m": "meter", "in": "inch", "inch": "inch",
        "inches": "inch", '"': "inch", "ft": "foot", "feet": "foot", "'": "foot", "yd": "yard",
    },
    "kg": {
        "kg": "kilogram", "g": "gram", "t": "metric_ton", "tonne": "metric_ton", "lb": "pound",
        "lbs": "pound", "oz": "ounce", "st": "stone", "stone": "stone", "cwt": "long_hundredweight",
    },
    "n": {"N": "newton", "kN": "kilonewton", "lbf": "pound_force", "kgf": "kilogram_force"},
    "mpa": {"MPa": "megapascal", "N/mm2": "megapascal", "GPa": "gigapascal", "psi": "psi", "bar": "bar"},
    "v": {"V": "volt", "mV": "millivolt", "kV": "kilovolt"},
    "a": {"A": "ampere", "mA": "milliampere"},
    "ah": {"Ah": "ampere_hour", "mAh": "milliampere_hour"},
    "kwh": {"kWh": "kilowatt_hour", "Wh": "watt_hour", "MJ": "megajoule"},
    "kw": {"kW": "kilowatt", "W": "watt", "hp": "horsepower", "bhp": "horsepower", "PS": "metric_horsepower"},
    "nm": {"Nm": "newton * meter", "N m": "newton * meter", "lbf ft": "pound_force * foot",
           "lb ft": "pound_force * foot"},
    "rpm": {"rpm": "rpm"},
    "deg": {"deg": "degree", "°": "degree", "rad": "radian"},
    "l": {"l": "liter", "L": "liter", "gal": "imperial_gallon", "pt": "imperial_pint", "cc": "centimeter**3"},
    "kg_per_m3": {"kg/m3": "kilogram / meter**3", "g/cm3": "gram / centimeter**3", "kg/l": "kilogram / liter"},
    "n_per_mm": {"N/mm": "newton / millimeter", "kN/m": "kilonewton / meter", "lbf/in": "pound_force / inch",
                 "lb/in": "pound_force / inch"},
    "m_per_s2": {"m/s2": "meter / second**2"},
    "kg_m2": {"kg m2": "kilogram * meter**2"},
    "percent": {"%": "percent"},
    "s": {"s": "second", "min": "minute", "h": "hour"},
    "km": {"km": "kilometer", "m": "meter", "mi": "mile", "miles": "mile"},
    "km_per_h": {"km/h": "kilometer / hour", "mph": "mile / hour"},
    "m2": {"m2": "meter**2", "ft2": "foot**2"},
    "ohm": {"ohm": "ohm", "mohm": "milliohm", "kohm": "kiloohm"},
    "uf": {"uF": "microfarad", "mF": "millifarad"},
    "ohm_per_km": {"ohm/km": "ohm / kilometer", "mohm/m": "milliohm / meter"},
    "kg_per_m": {"kg/m": "kilogram / meter", "g/m": "gram / meter", "lb/ft": "pound / foot"},
    "degc": {"degC": "degree_Celsius"},
    "1": {},
}  # fmt: skip

LABEL: dict[str, str] = {
    "mm": "mm", "kg": "kg", "n": "N", "mpa": "MPa", "v": "V", "a": "A", "ah": "Ah", "kwh": "kWh", "kw": "kW",
    "nm": "Nm", "rpm": "rpm", "deg": "deg", "l": "l", "kg_per_m3": "kg/m3", "n_per_mm": "N/mm",
    "m_per_s2": "m/s2", "kg_m2": "kg m2", "percent": "%", "1": "", "s": "s", "km": "km", "km_per_h": "km/h",
    "m2": "m2", "ohm": "ohm", "uf": "uF", "ohm_per_km": "ohm/km", "kg_per_m": "kg/m", "degc": "degC",
}  # fmt: skip
"""House unit key, which is the suffix of a field name -> the symbol, for people and for bare numbers."""

_NUMBER = r"(?:\d+\s+\d+/\d+|\d+/\d+|\d+(?:\.\d*)?(?:[eE][-+]?\d{1,3})?|\.\d+(?:[eE][-+]?\d{1,3})?)"
_TOLERANCE = re.compile(r"\s*(?:±|\+/-)\s*")
_LONGEST_TEXT = 80


@cache
def factor(word: str, unit: str) -> float:
    """Factor that turns a value in a unit word into the house unit.

    Args:
        word: A word a user may write for this kind of quantity, such as `in`.
        unit: House unit key, such as `mm`.

    Returns:
        The factor, by pint's definitions.

    Raises:
        ValueError: for a word that is not in the list; the message gives the list.
    """
    words = _WORDS[unit]
    if word not in words:
        known = ", ".join(words) or "a bare number"
        hint = "; say tonne (1000 kg) or cwt (112 lb)" if word in ("ton", "tons") else ""
        raise ValueError(f"unknown unit {word!r}; allowed: {known}{hint}")
    if word == LABEL[unit]:
        return 1.0
    registry = _registry()
    return float(registry.Quantity(1.0, words[word]).to(words[LABEL[unit]]).magnitude)


@cache
def _registry() -> Any:
    import pint  # a quarter of a second: paid only by files that use trade units

    return pint.UnitRegistry()


@cache
def _term(unit: str) -> re.Pattern[str]:
    words = "|".join(re.escape(word) for word in sorted(_WORDS[unit], key=len, reverse=True))
    return re.compile(rf"\s*({_NUMBER})\s*({words or '(?!)'})?(?![A-Za-z/])\s*")


def _fraction(text: str) -> float:
    """`18`, `7/8` or `18 1/2` as a number."""
    total = 0.0
    for piece in text.split():
        top, _, bottom = piece.partition("/")
        if bottom and float(bottom) == 0:
            raise ValueError(f"cannot read {text!r}: it divides by nought")
        total += float(top) / float(bottom) if bottom else float(top)
    return total


def _amount(text: str, unit: str) -> float:
    """`18.5 in`, `2 ft 3 in`, `-4` -> house unit."""
    body = text.strip()
    sign = -1.0 if body.startswith("-") else 1.0
    body = body.removeprefix("-").removeprefix("+").strip()
    total, at, bare = 0.0, 0, False
    pattern = _term(unit)
    while at < len(body):
        match = pattern.match(body, at)
        if match is None or bare:
            _refuse(body[at:], text, unit)
        number, word = match.groups()
        bare = word is None
        if bare and at:
            _refuse(body[at:], text, unit)
        total += _fraction(number) * (1.0 if bare else factor(word, unit))
        at = match.end()
    if not body:
        _refuse(body, text, unit)
    return sign * total


def _refuse(rest: str, text: str, unit: str) -> NoReturn:
    word = re.sub(rf"^\s*{_NUMBER}\s*", "", rest).strip()
    if word and word != text.strip() and not re.search(r"\s\d", word):
        factor(word, unit)  # raises with the list of allowed words when the word is unknown
    label = LABEL[unit]
    words = ", ".join(_WORDS[unit])
    bare = f"a number{f' in {label}' if label else ''}"
    quoted = f", or in quotes a number with one of {words}" if words else ""
    raise ValueError(f"cannot read {text!r} as a quantity; allowed: {bare}{quoted}")


def parse(found: object, unit: str) -> Measured:
    """Read one quantity as a user writes it.

    Args:
        found: A number (in the house unit) or text: `18.5 in`, `2 ft 3 in`, `612 +/- 3`, `3 1/4 in ± 1/16 in`.
            A bare tolerance is in the unit word of the value when that has just one word.
        unit: House unit key.

    Returns:
        Value and tolerance in the house unit.

    Raises:
        ValueError: for anything that is not a finite quantity of this kind.
    """
    if isinstance(found, bool) or found is None:
        raise ValueError(f"{found!r} is not a quantity")
    if isinstance(found, Measured):
        return found
    if isinstance(found, int | float):
        if abs(found) > 1e15 or not math.isfinite(found):
            raise ValueError(f"{found!r} is not a finite quantity")
        return Measured(float(found))
    if not isinstance(found, str):
        raise ValueError(f"a {type(found).__name__} is not a quantity")
    if len(found) > _LONGEST_TEXT:
        raise ValueError(f"{found[:20]!r}... is too long for a quantity")
    parts = _TOLERANCE.split(found)
    if len(parts) > 2:
        raise ValueError(f"{found!r} has more than one tolerance")
    value = _amount(parts[0], unit)
    tolerance = 0.0
    if len(parts) == 2:
        text = parts[1]
        if re.fullmatch(_NUMBER, text.strip()):
            words = [word for _, word in re.findall(_term(unit), parts[0])]
            text = f"{text} {words[0]}" if len(words) == 1 and words[0] else text
        tolerance = _amount(text, unit)
    if not (math.isfinite(value) and math.isfinite(tolerance)) or max(abs(value), abs(tolerance)) > 1e15:
        raise ValueError(f"{found!r} is not a finite quantity")
    if tolerance < 0:
        raise ValueError(f"the tolerance in {found!r} is negative")
    return Measured(value, tolerance)


def frequency_hz(stiffness_to_mass: float) -> float:
    """Natural frequency.

    Args:
        stiffness_to_mass: Square of the angular frequency in house units, N/mm for each kg.

    Returns:
        Hz: the house units lack the factor of 1000 from mm to m.
    """
    return math.sqrt(stiffness_to_mass * MM_PER_M) / (2 * math.pi)

"""Colours: one for each kind, and apart for colour-blind eyes too."""

from itertools import combinations

import numpy as np
import pytest

from packlayout.export.palette import PART_COLOURS, PLATE, TUBE, channels, colour
from packlayout.model.catalogue import KINDS

# Machado, Oliveira and Fernandes (2009), severity 1.0, linear RGB; values from memory
_EYES = {
    "common": np.eye(3),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
}
# sRGB to XYZ, white point D65 (IEC 61966-2-1)
_XYZ = np.array([[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750],
                 [0.0193339, 0.1191920, 0.9503041]])  # fmt: skip
_NOTICEABLE = 16.0
"""CIE 1976 colour difference: a just noticeable one is about 2.3, so patches of colour stay well apart."""


def _lab(hex_colour: str, eye: str) -> np.ndarray:
    c = np.array(channels(hex_colour))
    linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
    seen = np.clip(_EYES[eye] @ linear, 0, 1)
    x, y, z = _XYZ @ seen / (0.95047, 1.0, 1.08883)
    f = [np.cbrt(v) if v > 0.008856 else 7.787 * v + 16 / 116 for v in (x, y, z)]
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def test_each_kind_has_a_colour() -> None:
    assert set(PART_COLOURS) == set(KINDS)
    assert colour("motor") == "#0072B2"
    assert channels("#FF8000") == (1.0, 128 / 255, 0.0)


@pytest.mark.parametrize("eye", list(_EYES))
def test_colours_stay_apart(eye: str) -> None:
    seen = {name: _lab(colour(name), eye) for name in (*PART_COLOURS, TUBE)}
    seen["white paper"] = _lab("#FFFFFF", eye)
    close = [
        (a, b) for a, b in combinations(seen, 2) if np.linalg.norm(seen[a] - seen[b]) < _NOTICEABLE
    ]  # fmt: skip
    assert close == []


def test_plates_and_tubes_are_both_dark_metal() -> None:
    assert max(channels(colour(PLATE))) < max(channels(colour(TUBE))) < 0.5


def test_an_unknown_kind_has_none() -> None:
    with pytest.raises(KeyError):
        colour("engine")

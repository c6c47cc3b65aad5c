"""What stands on what: every way of sharing out, among blocks, the parts that are to stand on one."""

from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np

from packlayout.model.brief import Case
from packlayout.placement.board import RISE_MM
from packlayout.placement.forms import Form
from packlayout.placement.sides import OnTop
from packlayout.placement.untangle import COVER

MOST_BEARERS = 60
"""Ways of sharing out that are looked at."""


def bearers(
    case: Case, forms: Sequence[Sequence[Form]], upper: Sequence[int], alike: Sequence[object]
) -> Iterator[tuple[OnTop, ...]]:
    """Every way of sharing out what is to stand on a block, among blocks that differ.

    Args:
        case: The case.
        forms: Of all things, the blocks first.
        upper: Numbers of the things that are to stand on a block.
        alike: A key for each block; blocks of one key may change places.
    """
    # blocks that are alike are so until one of them bears something
    blocks = [b for b in range(len(alike)) if len(upper) != 1 or alike.index(alike[b]) == b]
    rise = case.brief.clearances.parts_mm + RISE_MM
    for choice in product(blocks, repeat=len(upper)):
        yield tuple(
            OnTop(u, b, rise, least_over(forms[u], forms[b])) for u, b in zip(upper, choice, strict=True)
        )


def least_over(upper: Sequence[Form], lower: Sequence[Form]) -> tuple[float, float]:
    """By how much two footprints share x and y at the least where enough of the smaller lies over the larger."""
    a, b = (np.array([f.size[:2] for f in forms], dtype=np.float64) for forms in (upper, lower))
    if not len(a) or not len(b):
        return 0.0, 0.0
    least = COVER * np.minimum(a.prod(axis=1)[:, None], b.prod(axis=1)[None])
    x = least / np.minimum(a[:, None, 1], b[None, :, 1])
    y = least / np.minimum(a[:, None, 0], b[None, :, 0])
    return float(x.min()), float(y.min())

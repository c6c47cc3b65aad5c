"""How much the corners of a scanned surface scatter about the shape they lie on."""

import numpy as np

from packlayout.model.geometry import Floats

LEAST_POINTS = 2000
"""A surface of fewer corners was drawn, not scanned: what looks like scatter is its shape."""
_SAMPLE, _NEAR, _TERMS = 3000, 24, 6


def scatter_of(points: Floats) -> float:
    """95 % half-width of the scatter, mm; nought for too few points.

    Each of a sample of points gets a paraboloid through its neighbours, so that the bend of the surface does not
    count as scatter; what is left over, with the degrees of freedom that the fit takes, is the deviation there, and
    the middle one over the sample is told, so that sharp edges do not count either. Two deviations hold 95 %.

    Args:
        points: (n, 3), mm.
    """
    if len(points) < LEAST_POINTS:
        return 0.0
    from scipy.spatial import KDTree

    at = points[:: max(1, len(points) // _SAMPLE)]
    _, near = KDTree(points).query(at, k=_NEAR)
    spread = points[near] - points[near].mean(axis=1, keepdims=True)
    _, axes = np.linalg.eigh(np.einsum("nki,nkj->nij", spread, spread))
    own = np.einsum("nki,nij->nkj", spread, axes)  # along the normal first, then in the plane
    size = np.maximum(np.abs(own[:, :, 1:]).max(axis=(1, 2), keepdims=True), 1e-9)
    u, v, w = own[:, :, 2] / size[:, :, 0], own[:, :, 1] / size[:, :, 0], own[:, :, 0]
    terms = np.stack([np.ones_like(u), u, v, u * u, u * v, v * v], axis=2)
    fit = np.einsum("nkt,nt->nk", terms, np.einsum("ntk,nk->nt", np.linalg.pinv(terms), w))
    deviation = np.sqrt(((w - fit) ** 2).sum(axis=1) / (_NEAR - _TERMS))
    return 2.0 * float(np.median(deviation))

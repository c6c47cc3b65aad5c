"""Linear statics, vibration and elastic stability of a space frame, by the direct stiffness method. Arrays only.

Straight prismatic bars with six degrees of freedom at each end; shear deformation where a shear area is given
(Timoshenko), none where it is infinite (Euler-Bernoulli). Supports are rigid, free or springs, direction by
direction. A rigid link makes one node follow another as one body, exactly, without a stiff bar.

Units: mm, N, N mm, MPa, radians, kg. The order of the six at a node: ux, uy, uz, rx, ry, rz.

Source: J. S. Przemieniecki, Theory of Matrix Structural Analysis, 1968, chapters 5, 13 and 15 (value from memory).
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import eigh
from scipy.sparse import coo_matrix, csc_matrix, diags
from scipy.sparse.linalg import LinearOperator, eigsh, splu

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Sparse = Any  # scipy's sparse matrices have no types worth the name


@dataclass(frozen=True, slots=True, eq=False)
class Structure:
    """A frame as arrays; n nodes, m bars, k links.

    Attributes:
        nodes: (n, 3) mm.
        bars: (m, 2) node indices.
        up: (m, 3) a direction in the bar's local x-z plane, not along the bar.
        area: (m,) mm2.
        inertia_y: (m,) second moment about local y, mm4: bending in the x-z plane.
        inertia_z: (m,) about local z.
        torsion: (m,) torsion constant, mm4.
        shear_area: (m, 2) in local y and z, mm2; infinite: no shear deformation.
        modulus: (m,) Young's modulus, MPa.
        shear_modulus: (m,) MPa.
        fixed: (n, 6) true where a direction is held.
        springs: (n, 6) stiffness to the ground, N/mm and N mm/rad; nought where none.
        links: (k, 2) (leading node, following node); a node follows at most one other.
    """

    nodes: Floats
    bars: Ints
    up: Floats
    area: Floats
    inertia_y: Floats
    inertia_z: Floats
    torsion: Floats
    shear_area: Floats
    modulus: Floats
    shear_modulus: Floats
    fixed: NDArray[np.bool_]
    springs: Floats
    links: Ints


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """Answer for c load cases.

    Attributes:
        displacements: (c, n, 6) mm and radians.
        reactions: (c, n, 6) of rigid supports and springs, N and N mm; nought elsewhere.
        end_forces: (c, m, 12) on the bar at its start and end, local axes.
        line_loads: (c, m, 3) N/mm in local axes, as applied.
    """

    displacements: Floats
    reactions: Floats
    end_forces: Floats
    line_loads: Floats


def axes_of(s: Structure) -> tuple[Floats, Floats]:
    """Lengths (m,) and local axes by rows (m, 3, 3) of all bars."""
    d = s.nodes[s.bars[:, 1]] - s.nodes[s.bars[:, 0]]
    length = np.linalg.norm(d, axis=1)
    x = d / length[:, None]
    y = np.cross(s.up, x)
    y /= np.linalg.norm(y, axis=1)[:, None]
    return length, np.stack([x, y, np.cross(x, y)], axis=1)


def _local_stiffness(s: Structure, length: Floats) -> Floats:
    """(m, 12, 12) in local axes."""
    k = np.zeros((len(length), 12, 12))
    ea, gj = s.modulus * s.area / length, s.shear_modulus * s.torsion / length
    for dof, value in ((0, ea), (3, gj)):
        k[:, dof, dof] = k[:, dof + 6, dof + 6] = value
        k[:, dof, dof + 6] = k[:, dof + 6, dof] = -value
    # bending in x-y (about z) and in x-z (about y); the sign of the coupling differs between the planes
    for u, r, inertia, shear, sign in (
        (1, 5, s.inertia_z, s.shear_area[:, 0], 1.0),
        (2, 4, s.inertia_y, s.shear_area[:, 1], -1.0),
    ):
        ei = s.modulus * inertia
        phi = 12 * ei / (s.shear_modulus * shear * length**2)
        a = 12 * ei / (length**3 * (1 + phi))
        b = sign * 6 * ei / (length**2 * (1 + phi))
        c, d = (4 + phi) * ei / (length * (1 + phi)), (2 - phi) * ei / (length * (1 + phi))
        for i, j, value in (
            (u, u, a), (u, u + 6, -a), (u + 6, u + 6, a), (u, r, b), (u, r + 6, b), (r, u + 6, -b),
            (u + 6, r + 6, -b), (r, r, c), (r, r + 6, d), (r + 6, r + 6, c),
        ):  # fmt: skip
            k[:, i, j] = value
            k[:, j, i] = value
    return k


def _turn(axes: Floats) -> Floats:
    """(m, 12, 12) that turns global into local."""
    t = np.zeros((len(axes), 12, 12))
    for block in range(4):
        t[:, 3 * block : 3 * block + 3, 3 * block : 3 * block + 3] = axes
    return t


def _assemble(s: Structure, per_bar: Floats) -> Sparse:
    """Sum of (m, 12, 12) matrices in global axes."""
    n = 6 * len(s.nodes)
    dofs = (6 * s.bars[:, :, None] + np.arange(6)).reshape(len(s.bars), 12)
    rows, cols = np.repeat(dofs, 12, axis=1), np.tile(dofs, (1, 12))
    return coo_matrix((per_bar.ravel(), (rows.ravel(), cols.ravel())), shape=(n, n)).tocsc()


def roots_of(s: Structure) -> Ints:
    """(n,) the node that each node follows in the end; itself where it follows none."""
    root = np.arange(len(s.nodes))
    for lead, follow in s.links:
        root[follow] = lead
    while True:
        further = root[root]
        if np.array_equal(further, root):
            return root
        root = further


def _following(s: Structure) -> Sparse:
    """(6 n, 6 n) matrix that gives all displacements from those of the leading nodes."""
    root = roots_of(s)
    n = len(s.nodes)
    follows = np.flatnonzero(root != np.arange(n))
    arm = s.nodes[follows] - s.nodes[root[follows]]
    base = np.arange(6 * n)
    rows, cols = [6 * np.arange(n)[:, None] + np.arange(6)], [6 * root[:, None] + np.arange(6)]
    values = [np.ones((n, 6))]
    # u = u0 + r0 x arm
    for i, j, k, sign in (
        (0, 4, 2, 1),
        (0, 5, 1, -1),
        (1, 5, 0, 1),
        (1, 3, 2, -1),
        (2, 3, 1, 1),
        (2, 4, 0, -1),
    ):
        rows.append(6 * follows + i)
        cols.append(6 * root[follows] + j)
        values.append(sign * arm[:, k])
    flat = [np.concatenate([a.ravel() for a in group]) for group in (values, rows, cols)]
    return coo_matrix((flat[0], (flat[1], flat[2])), shape=(len(base), len(base))).tocsc()


@dataclass(frozen=True, slots=True, eq=False)
class _System:
    length: Floats
    axes: Floats
    local: Floats
    turn: Floats
    whole: Sparse
    follow: Sparse
    free: Ints
    reduced: Sparse


def _system(s: Structure) -> _System:
    length, axes = axes_of(s)
    local, turn = _local_stiffness(s, length), _turn(axes)
    whole = _assemble(s, turn.transpose(0, 2, 1) @ local @ turn)
    sprung = csc_matrix(whole + diags(s.springs.ravel()))
    follow = _following(s)
    leads = np.repeat(roots_of(s) == np.arange(len(s.nodes)), 6)
    used = np.zeros(len(leads), dtype=bool)
    used[(6 * s.bars.ravel()[:, None] + np.arange(6)).ravel()] = True
    used[(6 * roots_of(s)[s.bars.ravel()][:, None] + np.arange(6)).ravel()] = True
    free = np.flatnonzero(leads & ~s.fixed.ravel() & used)
    joined = csc_matrix(follow[:, free])
    return _System(length, axes, local, turn, whole, joined, free, csc_matrix(joined.T @ sprung @ joined))


def solve(s: Structure, loads: Floats, line_loads: Floats) -> Solved:
    """Displacements, reactions and bar forces.

    Args:
        s: The structure; the caller has made sure that it is held against every motion as a rigid body, and that
            no rigid support stands on a node that follows another.
        loads: (c, n, 6) at the nodes, N and N mm.
        line_loads: (c, m, 3) spread evenly over whole bars, N/mm, global axes.

    Returns:
        The answer. Exact within the theory: no mesh is involved.

    Source: Przemieniecki, chapters 5 and 8; shear deformation leaves the fixed-end forces of an even load as they are.
    """
    system = _system(s)
    q = np.einsum("mij,cmj->cmi", system.axes, line_loads)
    held = _fixed_end(q, system.length)
    at_nodes = loads.reshape(len(loads), -1).copy()
    dofs = (6 * s.bars[:, :, None] + np.arange(6)).reshape(len(s.bars), 12)
    push = np.einsum("mji,cmj->cmi", system.turn, held)
    for case, row in enumerate(push):
        np.subtract.at(at_nodes[case], dofs, row)
    moved = splu(system.reduced).solve(np.ascontiguousarray(system.follow.T @ at_nodes.T))
    u = (system.follow @ moved).T
    local = np.einsum("mij,cmj->cmi", system.turn, u[:, dofs])
    ends = np.einsum("mij,cmj->cmi", system.local, local) + held
    left = (system.whole @ u.T).T - at_nodes
    shape = (len(loads), len(s.nodes), 6)
    reactions = np.where(s.fixed, left.reshape(shape), 0.0) - s.springs * u.reshape(shape)
    # what stands on a node that leads others takes what these bring along
    if len(s.links):
        reactions = _with_followers(s, left.reshape(shape), reactions)
    return Solved(u.reshape(shape), reactions, ends, q)


def _with_followers(s: Structure, left: Floats, reactions: Floats) -> Floats:
    root = roots_of(s)
    out = reactions.copy()
    for node in np.flatnonzero((root != np.arange(len(root))) & s.fixed[root].any(axis=1)):
        lead = root[node]
        arm = s.nodes[node] - s.nodes[lead]
        force, moment = left[:, node, :3], left[:, node, 3:] + np.cross(arm, left[:, node, :3])
        out[:, lead] += np.where(s.fixed[lead], np.concatenate([force, moment], axis=1), 0.0)
    return out


def _fixed_end(q: Floats, length: Floats) -> Floats:
    """(c, m, 12) forces that the ends of bars held fast exert on the bars under even loads q (c, m, 3)."""
    f = np.zeros((*q.shape[:2], 12))
    half = q * (length / 2)[:, None]
    f[..., 0:3] = f[..., 6:9] = -half
    f[..., 5], f[..., 11] = -half[..., 1] * length / 6, half[..., 1] * length / 6
    f[..., 4], f[..., 10] = half[..., 2] * length / 6, -half[..., 2] * length / 6
    return f


def section_forces(solved: Solved, length: Floats, at: Floats) -> Floats:
    """Internal forces along the bars.

    Args:
        solved: From `solve`.
        length: (m,) of the bars, mm.
        at: (p,) places as shares of the length, or (m, p) of each its own.

    Returns:
        (c, m, p, 6): N (tension positive), Vy, Vz, T, My, Mz: what the far side does to the near side.
    """
    x = length[:, None] * at
    f, q = solved.end_forces[:, :, None, :6], solved.line_loads[:, :, None, :]
    out = np.empty((*solved.end_forces.shape[:2], at.shape[-1], 6))
    out[..., 0] = -f[..., 0] - q[..., 0] * x
    out[..., 1] = -f[..., 1] - q[..., 1] * x
    out[..., 2] = -f[..., 2] - q[..., 2] * x
    out[..., 3] = -f[..., 3]
    out[..., 4] = -f[..., 4] - f[..., 2] * x - q[..., 2] * x**2 / 2
    out[..., 5] = -f[..., 5] + f[..., 1] * x + q[..., 1] * x**2 / 2
    return out


def lowest_modes(s: Structure, masses: Floats, count: int = 1) -> Floats:
    """Lowest ratios of stiffness to mass, N/mm for each kg, ascending: squares of angular frequencies but for the unit.

    Args:
        s: The structure.
        masses: (n, 3) kg at the nodes; they may differ by direction.
        count: How many.

    Returns:
        (count,) eigenvalues of K v = w M v. `units.frequency_hz` turns one into a frequency.
    """
    system = _system(s)
    per_dof = np.zeros((len(s.nodes), 6))
    per_dof[:, :3] = masses
    mass = csc_matrix(system.follow.T @ diags(per_dof.ravel()) @ system.follow)
    # M may be singular (no rotary inertia), K is not: so the largest of M v = (1/w) K v are sought
    return _smallest(system.reduced, mass, count)


def _smallest(stiffness: Sparse, other: Sparse, count: int) -> Floats:
    """Smallest positive w of K v = w B v through B v = (1/w) K v, K positive definite."""
    size = stiffness.shape[0]
    if size < 40:
        values: Floats = np.asarray(eigh(other.toarray(), stiffness.toarray(), eigvals_only=True))
    else:
        operator: Any = LinearOperator
        inverse = operator((size, size), matvec=splu(stiffness).solve, dtype=np.float64)
        start = np.random.default_rng(0).standard_normal(size)  # a fixed start: same frame, same digits
        values = np.asarray(
            eigsh(other, k=count, M=stiffness, Minv=inverse, which="LA", v0=start, return_eigenvectors=False)
        )
    top = np.sort(values)[::-1][:count]
    return np.array([1 / v if v > 0 else np.inf for v in top])


def critical_factor(s: Structure, solved: Solved, case: int) -> float:
    """Factor on the loads of one case at which the frame buckles elastically; infinite where nothing is compressed.

    Args:
        s: The structure; each member should be several bars, so that a bar between its ends can bow.
        solved: From `solve`.
        case: Index of the load case.

    Source: geometric stiffness matrix, Przemieniecki, chapter 15.
    """
    system = _system(s)
    middle = section_forces(solved, system.length, np.array([0.5]))[case, :, 0, 0]
    length = system.length
    g = np.zeros((len(length), 12, 12))
    for u, r, sign in ((1, 5, 1.0), (2, 4, -1.0)):
        for i, j, value in (
            (u, u, 6 / (5 * length)), (u, u + 6, -6 / (5 * length)), (u + 6, u + 6, 6 / (5 * length)),
            (u, r, sign * 0.1 + 0 * length), (u, r + 6, sign * 0.1 + 0 * length),
            (r, u + 6, -sign * 0.1 + 0 * length), (u + 6, r + 6, -sign * 0.1 + 0 * length),
            (r, r, 2 * length / 15), (r, r + 6, -length / 30), (r + 6, r + 6, 2 * length / 15),
        ):  # fmt: skip
            g[:, i, j] = value
            g[:, j, i] = value
    g *= middle[:, None, None]
    whole = _assemble(s, system.turn.transpose(0, 2, 1) @ g @ system.turn)
    geometric = csc_matrix(system.follow.T @ whole @ system.follow)
    return float(_smallest(system.reduced, csc_matrix(-geometric), 1)[0])


def balance(s: Structure, solved: Solved, loads: Floats, line_loads: Floats) -> Floats:
    """What is left of forces (N) and moments about the origin (N mm) when reactions and loads are added: (c, 6)."""
    length, _ = axes_of(s)
    total = loads + solved.reactions
    force, moment = total[..., :3].sum(axis=1), total[..., 3:].sum(axis=1)
    moment = moment + np.cross(s.nodes[None], total[..., :3]).sum(axis=1)
    middle = s.nodes[s.bars].mean(axis=1)
    spread = line_loads * length[:, None]
    force = force + spread.sum(axis=1)
    moment = moment + np.cross(middle[None], spread).sum(axis=1)
    return np.concatenate([force, moment], axis=1)


def held_as_a_body(points: Floats, stiff: Floats) -> int:
    """In how many of the six ways a rigid body on these supports is held.

    Args:
        points: (p, 3) mm.
        stiff: (p, 6) positive where a direction is held.
    """
    rows = []
    for point, held in zip(points - points.mean(axis=0), stiff > 0, strict=True):
        x, y, z = point / 100.0  # so that turning and shifting weigh alike
        way = np.eye(6)
        way[0, 4], way[0, 5], way[1, 5], way[1, 3], way[2, 3], way[2, 4] = z, -y, x, -z, y, -x
        rows += list(way[held])
    return int(np.linalg.matrix_rank(np.array(rows), tol=1e-2)) if rows else 0

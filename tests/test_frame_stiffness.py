"""The frame solver: beam tables, a published space frame, frequency, buckling, and a second solver."""

from math import pi, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.frame import stiffness as solver
from packlayout.units import frequency_hz

E, A, J = 210_000.0, 420.8, 150_000.0
I = 93_240.0  # noqa: E741 - the symbol of every textbook
G = E / 2.6
L = 1000.0


def structure(nodes, bars, *, fixed=None, springs=None, links=(), up=None, shear=np.inf, **section):
    """Bars of one section; `fixed` and `springs` map a node to its six."""
    n, m = len(nodes), len(bars)
    held, soft = np.zeros((n, 6), dtype=bool), np.zeros((n, 6))
    for node, six in (fixed or {}).items():
        held[node] = [c == "1" for c in six]
    for node, six in (springs or {}).items():
        soft[node] = six
    value = {
        "area": A,
        "inertia_y": I,
        "inertia_z": I,
        "torsion": J,
        "modulus": E,
        "shear_modulus": G,
        **section,
    }
    return solver.Structure(
        nodes=np.array(nodes, float), bars=np.array(bars), up=np.tile(up or (0.0, 0.0, 1.0), (m, 1)),
        shear_area=np.full((m, 2), shear), fixed=held, springs=soft,
        links=np.array(links, dtype=int).reshape(-1, 2), **{k: np.full(m, v) for k, v in value.items()},
    )  # fmt: skip


def solved(s, at=(), even=None):
    """One case: (node, six) pairs and an even load on all bars."""
    loads, lines = np.zeros((1, len(s.nodes), 6)), np.zeros((1, len(s.bars), 3))
    for node, six in at:
        loads[0, node] += six
    if even is not None:
        lines[0] = even
    answer = solver.solve(s, loads, lines)
    rest = solver.balance(s, answer, loads, lines)
    assert np.abs(rest).max() <= 1e-6 * max(1.0, np.abs(loads).max(), np.abs(lines).max()) * L
    return answer


def beam(count, fixed, **more):
    """A beam of length L along x in `count` bars."""
    nodes = [(L * k / count, 0, 0) for k in range(count + 1)]
    return structure(nodes, [(k, k + 1) for k in range(count)], fixed=fixed, **more)


DOWN = (0, 0, -1000.0, 0, 0, 0)

# ---------------------------------------------------------------- by hand


def test_a_bar_in_tension_and_in_torsion():
    s = beam(1, {0: "111111"})
    answer = solved(s, [(1, (5000.0, 0, 0, 20_000.0, 0, 0))])
    assert answer.displacements[0, 1, 0] == pytest.approx(5000 * L / (E * A))
    assert answer.displacements[0, 1, 3] == pytest.approx(20_000 * L / (G * J))
    forces = solver.section_forces(answer, np.array([L]), np.array([0.3]))
    assert forces[0, 0, 0] == pytest.approx([5000, 0, 0, 20_000, 0, 0])


def test_shear_deformation_adds_its_share():
    s = beam(1, {0: "111111"}, shear=A / 2)
    tip = solved(s, [(1, DOWN)]).displacements[0, 1, 2]
    assert tip == pytest.approx(-(1000 * L**3 / (3 * E * I) + 1000 * L / (G * A / 2)))


def test_a_rigid_link_carries_force_and_moment_without_bending():
    """A weight 200 mm to the side of a cantilever's tip twists it."""
    s = structure([(0, 0, 0), (L, 0, 0), (L, 200, 0)], [(0, 1)], fixed={0: "111111"}, links=[(1, 2)])
    answer = solved(s, [(2, DOWN)])
    twist = -1000 * 200 * L / (G * J)
    assert answer.displacements[0, 1, 3] == pytest.approx(twist)
    assert answer.displacements[0, 2, 2] == pytest.approx(-1000 * L**3 / (3 * E * I) + twist * 200)
    assert answer.reactions[0, 0] == pytest.approx([0, 0, 1000, 200_000, -1000 * L, 0])


def test_a_rubber_mount_gives_by_its_stiffness():
    s = structure([(0, 0, 0), (L, 0, 0)], [(0, 1)], fixed={0: "111100"}, springs={1: (0, 0, 250.0, 0, 0, 0)})
    answer = solved(s, [(1, DOWN)])
    assert answer.displacements[0, 1, 2] == pytest.approx(-4.0)
    assert answer.reactions[0, 1, 2] == pytest.approx(1000)


def test_how_a_body_is_held():
    pins = np.array([1, 1, 1, 0, 0, 0])
    triangle = np.array([(0, 0, 0), (500, 0, 0), (0, 400, 0)], float)
    assert solver.held_as_a_body(triangle, np.tile(pins, (3, 1))) == 6
    assert solver.held_as_a_body(triangle[:2], np.tile(pins, (2, 1))) == 5
    row = np.array([(0, 0, 0), (200, 0, 0), (500, 0, 0)], float)
    assert solver.held_as_a_body(row, np.tile(pins, (3, 1))) == 5
    assert solver.held_as_a_body(triangle[:1], np.ones((1, 6))) == 6


# ---------------------------------------------------------------- reference


@pytest.mark.parametrize(
    ("fixed", "node", "deflection", "moment"),
    [
        ({0: "111100", 2: "011000"}, 1, 1.0640, 250_000),
        ({0: "111111", 2: "111111"}, 1, 0.2660, 125_000),
        ({0: "111111"}, 2, 17.024, 1_000_000),
    ],
    ids=["simply supported", "fixed at both ends", "cantilever"],
)
def test_beam_tables(fixed, node, deflection, moment):
    """P L3/48EI, P L3/192EI, P L3/3EI and PL/4, PL/8, PL: any book of beam tables (values from memory)."""
    s = beam(2, fixed)
    answer = solved(s, [(node, DOWN)])
    assert -answer.displacements[0, node, 2] == pytest.approx(deflection, rel=1e-4)
    forces = solver.section_forces(answer, np.array([L / 2] * 2), np.array([0.0, 1.0]))
    assert np.abs(forces[0, :, :, 4]).max() == pytest.approx(moment, rel=1e-9)


@pytest.mark.parametrize("direction", [1, 2])
@pytest.mark.parametrize(
    ("fixed", "deflection", "moment"),
    [({0: "111100", 2: "011000"}, 5 / 384, 1 / 8), ({0: "111111", 2: "111111"}, 1 / 384, 1 / 24)],
)
def test_beam_tables_under_an_even_load(direction, fixed, deflection, moment):
    """5 q L4/384EI with qL2/8 at mid-span, q L4/384EI with qL2/24: beam tables (values from memory)."""
    q = np.zeros(3)
    q[direction] = -2.0
    answer = solved(beam(2, fixed), even=q)
    assert -answer.displacements[0, 1, direction] == pytest.approx(deflection * 2 * L**4 / (E * I))
    forces = solver.section_forces(answer, np.array([L / 2] * 2), np.array([0.0, 0.5, 1.0]))
    bending = forces[0, 0, 2, 4 if direction == 2 else 5]
    assert abs(bending) == pytest.approx(moment * 2 * L**2)


def test_a_published_space_frame():
    """D. L. Logan, A First Course in the Finite Element Method, 4th edition, example 5.8 (kip, inch)."""
    s = structure(
        [(0, 0, 0), (-100, 0, 0), (0, 0, -100), (0, -100, 0)], [(1, 0), (2, 0), (3, 0)],
        fixed={1: "111111", 2: "111111", 3: "111111"}, up=(0.3, 0.5, 0.7), area=10, inertia_y=100, inertia_z=100,
        torsion=50, modulus=30_000, shear_modulus=10_000,
    )  # fmt: skip
    found = solved(s, [(0, (0, -50, 0, -1000, 0, 0))]).displacements[0, 0]
    printed = [7.098e-5, -0.01400, -2.352e-3, -3.996e-3, 1.780e-5, -1.0334e-4]
    assert found == pytest.approx(printed, rel=5e-4)  # the book prints four digits


def test_first_frequency_of_a_cantilever_with_a_mass_at_its_tip():
    """First frequency sqrt(3 E I / (M L3)) / 2 pi: any book of vibration (value from memory)."""
    masses = np.zeros((3, 3))
    masses[2] = 12.0
    (lowest,) = solver.lowest_modes(beam(2, {0: "111111"}), masses)
    by_hand = sqrt(3 * E * I / L**3 * 1000 / 12) / (2 * pi)
    assert frequency_hz(lowest) == pytest.approx(by_hand, rel=1e-9)


def test_first_frequency_of_a_beam_by_its_own_mass():
    """First frequency pi/2 sqrt(E I / (m L4)) of a simply supported beam (value from memory)."""
    count, per_mm = 20, A * 7.85e-6
    masses = np.full((count + 1, 3), per_mm * L / count)
    masses[[0, -1]] /= 2
    (lowest,) = solver.lowest_modes(beam(count, {0: "111100", count: "011000"}), masses)
    assert frequency_hz(lowest) == pytest.approx(pi / 2 * sqrt(E * I * 1000 / (per_mm * L**4)), rel=2e-4)


@pytest.mark.parametrize(
    ("fixed", "share"),
    [({0: "111100", 8: "011000"}, 1.0), ({0: "111111"}, 4.0), ({0: "111111", 8: "011111"}, 0.25)],
)
def test_euler_buckling(fixed, share):
    """pi2 E I / L2 with effective lengths L, 2 L and L/2 (Euler)."""
    s = beam(8, fixed)
    answer = solved(s, [(8, (-1000.0, 0, 0, 0, 0, 0))])
    assert solver.critical_factor(s, answer, 0) * 1000 == pytest.approx(
        pi**2 * E * I / L**2 / share, rel=1e-3
    )


def test_tension_does_not_buckle():
    s = beam(8, {0: "111100", 8: "011000"})
    answer = solved(s, [(8, (1000.0, 0, 0, 0, 0, 0))])
    assert solver.critical_factor(s, answer, 0) > 1e6


def random_frame(seed):
    """A tower of two storeys with eccentric loads on every bar."""
    rng = np.random.default_rng(seed)
    nodes = [(x, y, z) for z in (0, 300, 620) for x, y in ((0, 0), (700, 30), (650, 400), (-20, 380))]
    nodes = np.array(nodes, float) + rng.uniform(-20, 20, (12, 3))
    bars = [(4 * f + k, 4 * f + 4 + k) for f in (0, 1) for k in range(4)]
    bars += [(4 * f + k, 4 * f + (k + 1) % 4) for f in (1, 2) for k in range(4)]
    fixed = {0: "111000", 1: "111000", 2: "111000", 3: "111111"}
    s = structure(nodes, bars, fixed=fixed, up=(0.36, 0.48, 0.8), inertia_y=60_000.0)
    return s, rng.uniform(-2000, 2000, (12, 6)), rng.uniform(-3, 3, (len(bars), 3))


@pytest.mark.parametrize("seed", [1, 2])
def test_a_second_solver_agrees(seed):
    """PyNite (MIT licence), a solver of other authors, on the same frame."""
    from Pynite import FEModel3D

    s, loads, lines = random_frame(seed)
    answer = solver.solve(s, loads[None], lines[None])
    other = FEModel3D()
    other.add_material("steel", E, G, 0.3, 7.85e-6)
    other.add_section("tube", A, 60_000.0, I, J)
    for k, at in enumerate(s.nodes):
        other.add_node(f"n{k}", *at)
        if s.fixed[k].any():
            other.def_support(f"n{k}", *(bool(v) for v in s.fixed[k]))
        for word, value in zip(("FX", "FY", "FZ", "MX", "MY", "MZ"), loads[k], strict=True):
            other.add_node_load(f"n{k}", word, float(value))
    length, axes = solver.axes_of(s)
    for k, (a, b) in enumerate(s.bars):
        # its local axes at no rotation differ from ours, so the rotation is found from them
        other.add_member(f"m{k}", f"n{a}", f"n{b}", "steel", "tube")
        own = other.members[f"m{k}"].T()[:3, :3]
        angle = np.degrees(np.arctan2(axes[k, 1] @ own[2], axes[k, 1] @ own[1]))
        other.members[f"m{k}"].rotation = float(angle)
        for word, value in zip(("FX", "FY", "FZ"), lines[k], strict=True):
            other.add_member_dist_load(f"m{k}", word, float(value), float(value), 0, float(length[k]))
    other.analyze_linear()
    for k in range(12):
        node = other.nodes[f"n{k}"]
        theirs = [node.DX, node.DY, node.DZ, node.RX, node.RY, node.RZ]
        assert answer.displacements[0, k] == pytest.approx([v["Combo 1"] for v in theirs], rel=1e-5, abs=1e-9)
        if s.fixed[k].any():
            theirs = [node.RxnFX, node.RxnFY, node.RxnFZ]
            assert answer.reactions[0, k, :3] == pytest.approx(
                [v["Combo 1"] for v in theirs], rel=1e-5, abs=1e-3
            )


# ---------------------------------------------------------------- invariant


@settings(max_examples=25, deadline=None)
@given(st.integers(3, 10_000), st.floats(0.1, 10))
def test_loads_and_reactions_balance_and_the_answer_is_linear(seed, factor):
    s, loads, lines = random_frame(seed)
    one = solver.solve(s, np.stack([loads, factor * loads]), np.stack([lines, factor * lines]))
    rest = solver.balance(s, one, np.stack([loads, factor * loads]), np.stack([lines, factor * lines]))
    assert np.abs(rest[:, :3]).max() < 1e-6 * np.abs(loads[:, :3]).sum() * max(1, factor)
    assert np.abs(rest[:, 3:]).max() < 1e-6 * np.abs(loads[:, :3]).sum() * L * max(1, factor)
    assert one.displacements[1] == pytest.approx(factor * one.displacements[0], rel=1e-6, abs=1e-12)


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10_000))
def test_forces_meet_at_the_end_of_a_bar(seed):
    s, loads, lines = random_frame(seed)
    answer = solver.solve(s, loads[None], lines[None])
    length, _ = solver.axes_of(s)
    ends = solver.section_forces(answer, length, np.array([1.0]))[0, :, 0]
    assert ends == pytest.approx(answer.end_forces[0, :, 6:], rel=1e-6, abs=1e-3)

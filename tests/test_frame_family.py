"""One core frame for several vehicles."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packlayout.frame.family import adapter_of, core_of, core_pieces, family
from packlayout.frame.generate import generate
from packlayout.frame.one_core import Job, one_core
from packlayout.model.layout import Layout
from packlayout.model.vehicle import MountPoint
from tests.frames import block, small, small_job

LAYOUT = Layout(block())


def mounts(dx, dy, dz):
    """The mounting points of another vehicle."""
    return tuple(
        MountPoint.model_validate(
            {"name": name, "face": "+z", "thread": "M12", "holes": [[x - 30, y, z], [x + 30, y, z]]}
        )
        for name, x, y, z in (
            ("left", dx, -300 - dy, 330 + dz), ("right", dx, 300 + dy, 330 + dz),
            ("rear left", 480 + dx, -290, 330), ("rear right", 480 + dx, 290, 330),
        )
    )  # fmt: skip


# ---------------------------------------------------------------- by hand


def test_core_and_adapter_are_the_whole_frame():
    _, _, made = small()
    core, adapter = core_of(made), adapter_of(made)
    assert core.mass_kg + adapter.mass_kg == pytest.approx(made.frame.mass_kg)
    assert {m.group for m in adapter.members} == {f"leg {leg.mount}" for leg in made.legs}
    assert {m.group for m in core.members} == {"cradle 1"}


def test_three_vehicles_share_a_core_and_differ_in_their_legs():
    jobs = {
        name: small_job(mounts=mounts(*shift))
        for name, shift in (("a", (0, 0, 0)), ("b", (40, 15, 0)), ("c", (-20, 0, -20)))
    }
    frames = {name: generate(case, LAYOUT) for name, case in jobs.items()}
    found = family(frames)
    assert found.shared
    assert found.differences == {}
    assert set(found.adapters) == {"a", "b", "c"}
    assert len({tuple(m.start for m in a.members) for a in found.adapters.values()}) == 3
    for name, made in frames.items():
        assert found.core.mass_kg + found.adapters[name].mass_kg == pytest.approx(made.frame.mass_kg)


# ---------------------------------------------------------------- invariant


@settings(max_examples=10, deadline=None)
@given(st.integers(-60, 60), st.integers(-20, 20), st.integers(0, 60))
def test_the_core_is_the_same_wherever_it_stands(dx, dy, dz):
    here, there = (
        generate(small_job(mounts=()), LAYOUT),
        generate(small_job(mounts=()), Layout(block((dx, -175.0 + dy, 420.0 + dz)))),
    )
    assert set(core_pieces(here)) == set(core_pieces(there))


# ---------------------------------------------------------------- refusal


def test_another_block_is_told_piece_by_piece():
    one = generate(small_job(), LAYOUT)
    other = generate(small_job(), Layout(block(counts=(1, 2, 1))))
    found = family({"a": one, "b": other})
    assert not found.shared
    assert any(text.startswith("lacks cradle 1 post") for text in found.differences["b"])


def test_another_wall_is_another_core():
    _, _, made = small()
    thick = tuple(
        replace(m, section=m.section.model_copy(update={"name": "SHS 30x3"})) for m in made.frame.members
    )
    other = replace(made, frame=replace(made.frame, members=thick))
    assert not family({"a": made, "b": other}).shared


def test_no_frames():
    with pytest.raises(ValueError, match="no frames"):
        family({})


# ---------------------------------------------------------------- one core


def test_one_core_for_two_vehicles_with_an_adapter_each():
    jobs = {
        "near": Job(small_job(mounts=mounts(0, 0, 0)), LAYOUT),
        "far": Job(small_job(mounts=mounts(40, 15, -20)), LAYOUT),
    }
    found = one_core(jobs)
    assert found.family.shared
    assert [c.verdict for c in found.checks] == ["pass", "pass"]
    assert set(found.family.adapters) == set(found.designs) == {"near", "far"}
    for name, d in found.designs.items():
        frame = d.case.brief.frame
        assert (frame.cradle_tube, frame.bar_tube or frame.cradle_tube) == found.core_sections
        assert core_pieces(d.made).keys() == core_pieces(found.designs["near"].made).keys()
        assert found.core.mass_kg + found.family.adapters[name].mass_kg == pytest.approx(d.made.frame.mass_kg)
        assert found.core.mass_kg + found.family.adapters[name].mass_kg >= found.alone_kg[name] - 1e-6


def test_another_arrangement_is_no_shared_core():
    jobs = {
        "a": Job(small_job(mounts=mounts(0, 0, 0), choose_sections=False), LAYOUT),
        "b": Job(small_job(mounts=mounts(0, 0, 0), choose_sections=False), Layout(block(counts=(1, 2, 1)))),
    }
    found = one_core(jobs)
    assert found.checks[0].verdict == "fail"
    assert "b: " in found.checks[0].note
    assert "turned the same way" in found.checks[0].note


def test_no_vehicles_no_core():
    with pytest.raises(ValueError, match="one or more with modules"):
        one_core({})

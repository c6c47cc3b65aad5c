"""What a mesh file announces in its head, before it is loaded."""

import struct

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from packlayout.inputs.counts import announced
from packlayout.inputs.scans import read_triangles
from packlayout.space.envelope import EnvelopeError

BOX = trimesh.creation.box()


# ---- by hand


@pytest.mark.parametrize("kind", ["stl", "ply", "obj", "glb"])
def test_a_box_announces_its_twelve_triangles(kind):
    data = BOX.export(file_type=kind)
    assert announced(data.encode() if isinstance(data, str) else data, kind)[0] == 12


def test_text_stl_and_a_cloud():
    text = BOX.export(file_type="stl_ascii").encode()
    assert announced(text, "stl")[0] == 12
    cloud = trimesh.PointCloud(np.zeros((7, 3))).export(file_type="ply")
    assert announced(cloud, "ply") == (0, 7)


# ---- invariant


@given(st.binary(max_size=300), st.sampled_from(["stl", "ply", "obj", "glb"]))
def test_any_bytes_announce_something_countable(data, kind):
    triangles, points = announced(data, kind)
    assert triangles >= 0
    assert points >= 0


# ---- refusal


def test_ten_million_triangles_are_refused_unread():
    data = b"\0" * 80 + struct.pack("<I", 10_000_000) + b"\0" * (50 * 10_000_000)
    with pytest.raises(EnvelopeError, match="10000000 triangles; allowed: at most 2500000"):
        read_triangles(data, ".stl")


def test_twenty_million_points_are_refused_unread():
    head = b"ply\nformat binary_little_endian 1.0\nelement vertex 30000000\nproperty float x\nend_header\n"
    with pytest.raises(EnvelopeError, match="30000000 points; allowed: at most 20000000"):
        read_triangles(head, ".ply")

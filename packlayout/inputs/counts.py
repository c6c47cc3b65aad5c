"""How many triangles a mesh file announces, from its head alone: too large a file is refused before it is loaded."""

import json
import re
import struct
from typing import Any

_ELEMENT = re.compile(rb"element\s+(\w+)\s+(\d+)")
_HEAD = 65_536


def announced(data: bytes, kind: str) -> tuple[int, int]:
    """Triangles and points that a file says it holds, at the least; nought where it does not say.

    Args:
        data: The file.
        kind: `stl`, `ply`, `obj` or `glb`.
    """
    if kind == "stl":
        return _of_stl(data)
    if kind == "ply":
        found = {name: int(count) for name, count in _ELEMENT.findall(data[:_HEAD].split(b"end_header")[0])}
        return found.get(b"face", 0), found.get(b"vertex", 0)
    if kind == "obj":
        return data.count(b"\nf ") + data.startswith(b"f "), data.count(b"\nv ") + data.startswith(b"v ")
    return _of_glb(data)


def _of_stl(data: bytes) -> tuple[int, int]:
    if len(data) >= 84:
        (count,) = struct.unpack_from("<I", data, 80)
        if len(data) == 84 + 50 * count:
            return count, 3 * count
    count = data.count(b"endfacet")
    return count, 3 * count


def _of_glb(data: bytes) -> tuple[int, int]:
    try:
        (length,) = struct.unpack_from("<I", data, 12)
        scene: Any = json.loads(data[20 : 20 + length])
        counts = [row["count"] for row in scene["accessors"]]
        pieces = [piece for mesh in scene["meshes"] for piece in mesh["primitives"]]
        points = sum(counts[piece["attributes"]["POSITION"]] for piece in pieces)
        corners = sum(counts[piece["indices"]] if "indices" in piece else 0 for piece in pieces)
        return int(corners) // 3, int(points)
    except (struct.error, ValueError, KeyError, IndexError, TypeError):
        return 0, 0  # not a whole GLB: the reader says so

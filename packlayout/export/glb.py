"""`layout.glb`: one named, coloured mesh for each thing, nested as assembled, in metres with Y up as glTF has it.

This is the only place where the program leaves mm and the vehicle axes: (x, y, z) mm -> (x, z, -y) / 1000.
"""

from pathlib import Path

import numpy as np

from packlayout.errors import ExportError
from packlayout.export.meshes import clear_surfaces, surface
from packlayout.export.names import distinct
from packlayout.export.pack import Made
from packlayout.export.palette import SEE_THROUGH, channels, colour
from packlayout.export.tree import Group, Leaf, assembly_tree
from packlayout.model.geometry import Floats, TriMesh
from packlayout.study import Study

GLB = "layout.glb"


def write_glb(study: Study, folder: Path, notes: tuple[str, ...]) -> Made:
    """Write the 3D model of parts, frame, zones and keep-outs.

    Args:
        study: What was computed.
        folder: Where to.
        notes: What the exporters before had to say; not needed here.

    Returns:
        The file.

    Raises:
        ExportError: when trimesh is missing.
    """
    (folder / GLB).write_bytes(glb(study))
    return Made((folder / GLB,))


def glb(study: Study) -> bytes:
    """The binary glTF of a study: solids under their groups, then `zones` and `keep-outs`, see-through."""
    try:
        import trimesh
        from trimesh.exchange.gltf import export_glb
        from trimesh.visual import TextureVisuals
        from trimesh.visual.material import PBRMaterial
    except ImportError as error:
        raise ExportError(f"{GLB} needs trimesh, which cannot be imported here ({error})") from error
    case = study.case
    rows = _rows(study)
    names = distinct([case.key, *(name for name, *_ in rows)])
    scene = trimesh.Scene(base_frame=names[0])
    number: dict[tuple[int, ...], str] = {(): names[0]}
    for name, (_, path, mesh, look) in zip(names[1:], rows, strict=True):
        parent = number[path[:-1]]
        number[path] = name
        if mesh is None:
            scene.graph.update(frame_from=parent, frame_to=name, matrix=np.eye(4))
            continue
        rgb, opacity = look
        visual = TextureVisuals(
            material=PBRMaterial(
                name=name, baseColorFactor=[round(255 * c) for c in (*_linear(rgb), opacity)],
                metallicFactor=0.0, roughnessFactor=0.8, doubleSided=opacity < 1,
                alphaMode="BLEND" if opacity < 1 else "OPAQUE",
            )
        )  # fmt: skip
        body = trimesh.Trimesh(_y_up(mesh.vertices), mesh.faces, process=False, visual=visual)
        scene.add_geometry(body, node_name=name, geom_name=name, parent_node_name=parent)
    return export_glb(scene)


Row = tuple[str, tuple[int, ...], TriMesh | None, tuple[str, float]]


def _rows(study: Study) -> list[Row]:
    """(name, path of child numbers, surface, (colour, opacity)), parents before children."""
    case, rows = study.case, list[Row]()

    def add(node: Group | Leaf, path: tuple[int, ...]) -> None:
        if isinstance(node, Leaf):
            rows.append((node.name, path, surface(node, case), (colour(node.kind), 1.0)))
            return
        rows.append((node.name, path, None, ("", 1.0)))
        for k, child in enumerate(node.children):
            add(child, (*path, k))

    root = assembly_tree(study)
    first = root.children if root is not None else ()
    for k, child in enumerate(first):
        add(child, (k,))
    clear = clear_surfaces(case)
    seen = {
        "zones": [thing for thing in clear if thing.kind == "zone"],
        "keep-outs": [thing for thing in clear if thing.kind != "zone"],
    }
    for k, (group, things) in enumerate(seen.items(), start=len(first)):
        if things:
            rows.append((group, (k,), None, ("", 1.0)))
            rows += [(c.name, (k, n), c.mesh, SEE_THROUGH[c.kind]) for n, c in enumerate(things)]
    return rows


def _linear(hex_colour: str) -> tuple[float, float, float]:
    """A colour in sRGB -> linear light, which is what a glTF colour factor is in (IEC 61966-2-1)."""
    red, green, blue = (
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels(hex_colour)
    )
    return red, green, blue


def _y_up(points: Floats) -> Floats:
    return np.column_stack([points[:, 0], points[:, 2], -points[:, 1]]) / 1000

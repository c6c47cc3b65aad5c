"""Draws a scene off screen, in a process of its own: `python -m packlayout.export.render FOLDER < scene`.

Where there is no OpenGL, VTK does not raise: it ends the process. So this file is run as a child, which may die
without harm; whoever started it looks at its exit status and at the pictures that are there.
"""

import pickle
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from packlayout.export.annotate import Frame, annotated, framed
from packlayout.export.palette import channels
from packlayout.export.panel_sheet import panel_frame, panel_sheet
from packlayout.export.scene import Line, Panel, Panels, Scene, Surface, View
from packlayout.model.geometry import TriMesh

# drawn larger and made smaller afterwards, which smooths the edges on any driver
_OVERSAMPLING = 2


def main(folder: Path) -> None:
    """Draw every view of the scene that comes in on stdin.

    Raises:
        SystemExit: when a picture is one colour all over, which some drivers give instead of an error.
    """
    scene: Scene
    panels: Panels | None
    scene, panels = pickle.load(sys.stdin.buffer)  # from the parent process only
    plotter = _stage(scene)
    for view in scene.views:
        frame = framed(scene, view)
        image = _shot(plotter, view, frame)
        if image.min() == image.max():
            raise SystemExit("the picture came out blank")
        (folder / view.file).write_bytes(annotated(scene, view, frame, image))
    plotter.close()
    if panels is not None:
        frame = panel_frame(panels)
        (folder / panels.file).write_bytes(panel_sheet(panels, frame, _panel_shots(panels, frame)))


def _panel_shots(panels: Panels, frame: Frame) -> list[Any]:
    """Each panel without words: the same things from the same side in other colours."""
    plotter: Any = _empty()
    mesh = _poly(_joined(panels.surfaces))
    counts = [len(one.faces) for one in panels.surfaces]
    mesh.cell_data["tint"] = _tints(panels.panels[0], counts)
    plotter.add_mesh(mesh, scalars="tint", rgb=True, ambient=0.3, diffuse=0.75, specular=0.0)
    edges = _edges(mesh)
    if edges.n_cells:
        plotter.add_mesh(edges, color="#1A1A1A", line_width=1.0 * _OVERSAMPLING, lighting=False)
    shots: list[Any] = []
    for panel in panels.panels:
        mesh.cell_data["tint"] = _tints(panel, counts)
        shots.append(_shot(plotter, panels, frame))
    plotter.close()
    return shots


def _tints(panel: Panel, counts: Sequence[int]) -> Any:
    """Red, green, blue of each triangle."""
    rows = [
        np.tile(np.round(np.array(channels(t)) * 255), (n, 1))
        for t, n in zip(panel.tints, counts, strict=True)
    ]
    return np.concatenate(rows).astype(np.uint8)


def _joined(meshes: Sequence[TriMesh]) -> TriMesh:
    """Several surfaces as one."""
    starts = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)])
    faces = [mesh.faces + start for mesh, start in zip(meshes, starts, strict=False)]
    return TriMesh(np.concatenate([mesh.vertices for mesh in meshes]), np.concatenate(faces))


def _empty() -> Any:
    """A white stage."""
    import pyvista

    plotter: Any = pyvista.Plotter(off_screen=True, lighting="none")
    plotter.disable_anti_aliasing()
    plotter.render_window.SetMultiSamples(0)
    plotter.set_background("white")
    return plotter


def _stage(scene: Scene) -> Any:
    """All surfaces and lines of a scene, ready to be looked at."""
    plotter = _empty()
    groups: dict[tuple[str, str | None], list[TriMesh]] = {}
    for surface in scene.surfaces:
        if surface.opacity == 1:  # what is not seen through may be drawn together
            groups.setdefault((surface.colour, surface.edge), []).append(surface.mesh)
    for (colour, edge), meshes in groups.items():
        _add_surface(plotter, Surface(_joined(meshes), colour, 1.0, edge))
    for surface in scene.surfaces:
        if surface.opacity < 1:
            _add_surface(plotter, surface)
    for line in scene.lines:
        _add_line(plotter, line)
    return plotter


def _shot(plotter: Any, view: View | Panels, frame: Frame) -> Any:
    """The scene from one side without words: (height, width, 3) uint8."""
    toward = np.cross(view.right, view.up)  # from the scene to the eye
    centre = np.array(frame.centre)
    size = [_OVERSAMPLING * frame.width_px, _OVERSAMPLING * frame.height_px]
    if list(plotter.window_size) != size:
        plotter.window_size = size
    _light(plotter, view)
    camera = plotter.camera
    camera.parallel_projection = True
    camera.focal_point = centre
    camera.position = centre + 20_000 * toward
    camera.up = view.up
    camera.parallel_scale = frame.height_px / 2 / frame.px_per_mm
    camera.clipping_range = (1_000, 60_000)
    plotter.render()
    image = np.asarray(plotter.screenshot(return_img=True))[:, :, :3]
    made = np.zeros((frame.height_px, frame.width_px, 3), dtype=np.uint16)
    for row in range(_OVERSAMPLING):
        for column in range(_OVERSAMPLING):
            made += image[row::_OVERSAMPLING, column::_OVERSAMPLING]
    return (made // _OVERSAMPLING**2).astype(np.uint8)


def _add_surface(plotter: Any, surface: Surface) -> None:
    mesh = _poly(surface.mesh)
    solid = surface.opacity == 1
    plotter.add_mesh(
        mesh, color=surface.colour, opacity=surface.opacity, ambient=0.3, diffuse=0.75, specular=0.0,
        lighting=solid, culling=None if solid else "back",
    )  # fmt: skip
    if surface.edge is not None:
        edges = _edges(mesh)
        if edges.n_cells:
            width = 1.0 * _OVERSAMPLING
            plotter.add_mesh(edges, color=surface.edge, line_width=width, lighting=False,
                             opacity=min(1.0, 0.3 + surface.opacity))  # fmt: skip


def _poly(mesh: TriMesh) -> Any:
    import pyvista

    faces = np.column_stack([np.full(len(mesh.faces), 3), mesh.faces]).ravel()
    return pyvista.PolyData(np.array(mesh.vertices, dtype=np.float64), faces)


def _edges(mesh: Any) -> Any:
    """Its sharp edges."""
    return mesh.extract_feature_edges(
        feature_angle=40, boundary_edges=False, non_manifold_edges=False, manifold_edges=False
    )


def _add_line(plotter: Any, line: Line) -> None:
    import pyvista

    made = pyvista.lines_from_points(np.array(line.points))
    plotter.add_mesh(made, color=line.colour, line_width=line.width_px * _OVERSAMPLING, lighting=False)


def _light(plotter: Any, view: View | Panels) -> None:
    import pyvista

    plotter.remove_all_lights()
    right, up = np.array(view.right), np.array(view.up)
    toward = np.cross(right, up)
    for aside, above, strength in ((-0.15, 0.25, 0.62), (0.1, 2.0, 0.5), (-1.5, 0.4, 0.15)):
        light = pyvista.Light(light_type="scene light", intensity=strength)
        light.position = tuple(10_000 * (toward + aside * right + above * up))
        light.focal_point = (0.0, 0.0, 0.0)
        light.positional = False
        plotter.add_light(light)


if __name__ == "__main__":
    main(Path(sys.argv[1]))

"""The same things as surfaces of triangles, for GLB and pictures: vehicle axes, mm.

They are built without the CAD library, so that a picture does not wait for it.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from packlayout.electrical.cables import Run
from packlayout.electrical.sleeves import Sleeve
from packlayout.export.profiles import outline
from packlayout.export.tree import Leaf, tube_pose
from packlayout.frame.tubes import Member, Plate
from packlayout.model.brief import Case
from packlayout.model.geometry import Floats, Ints, Pose, TriMesh, Vec

_HOLE_STEPS = 32
_RUN_STEPS, _RUN_STEP_MM = 10, 12.0
# zones and keep-outs are thinned out for the eye: a scan has hundreds of thousands of triangles, and noise
_CLEAR_WITHIN_MM, _CLEAR_TRIANGLES = 4.0, 2000
_BOX_FACES = np.array([
    [0, 2, 1], [1, 2, 3], [4, 5, 6], [5, 7, 6], [0, 1, 4], [1, 5, 4],
    [2, 6, 3], [3, 6, 7], [0, 4, 2], [2, 4, 6], [1, 3, 5], [3, 7, 5],
])  # fmt: skip


def surface(leaf: Leaf, case: Case) -> TriMesh:
    """The closed surface of one thing where it stands, vehicle axes, mm.

    Rounded corners of tubes and holes of plates are faceted; a part is its box unless it has a body.
    """
    piece = leaf.piece
    if isinstance(piece, Member):
        return tube(piece)
    if isinstance(piece, Plate):
        return placed(plate(piece), piece.pose)
    if isinstance(piece, Run):
        assert piece.line is not None, "only runs that were laid stand in the tree"
        return pipe(piece.line.points(_RUN_STEP_MM), piece.diameter_mm / 2)
    if isinstance(piece, Sleeve):
        return pipe(
            piece.line.points(_RUN_STEP_MM), piece.conduit.outside_mm / 2, piece.conduit.inside_mm / 2
        )
    body = case.bodies.get(piece.part)
    return placed(box(piece.size) if body is None else body.mesh, piece.pose)


def placed(mesh: TriMesh, pose: Pose) -> TriMesh:
    """A surface in own axes -> vehicle axes."""
    return TriMesh(mesh.vertices @ np.array(pose.rotation).T + np.array(pose.origin), mesh.faces.copy())


def box(size: Vec) -> TriMesh:
    """A box from the own origin."""
    corners = [(x, y, z) for z in (0.0, size[2]) for y in (0.0, size[1]) for x in (0.0, size[0])]
    return TriMesh(np.array(corners), _BOX_FACES.copy())


def tube(member: Member) -> TriMesh:
    """A hollow tube, each edge along it as long as the two cut planes leave it."""
    section, pose = member.section, tube_pose(member)
    frame = np.array(pose.rotation)
    outer, inner = outline(section), outline(section, section.wall_mm)
    rings: list[Floats] = []
    for z, cut in ((0.0, member.start_cut), (member.length_mm, member.end_cut)):
        a, b, c = frame.T @ np.array(cut)
        for ring in (outer, inner):
            height = z - (a * ring[:, 0] + b * ring[:, 1]) / c
            rings.append(np.column_stack([ring, height]))
    n = len(outer)
    # rings stand one after the other: outer start, inner start, outer end, inner end
    order = ((0, 2), (2, 3), (3, 1), (1, 0))
    faces = np.concatenate([_strip(n, a, b) for a, b in order])
    return placed(_welded(np.concatenate(rings), faces), pose)


def pipe(line: Floats, radius: float, inside: float = 0.0) -> TriMesh:
    """A round bar along a line, or a tube, closed at both ends; its rings do not twist.

    Args:
        line: (n, 3) points along its middle, mm.
        radius: Of its outside, over the corners of the rings, mm.
        inside: Of what is hollow, mm; nought for a bar.
    """
    keep = np.append(True, np.linalg.norm(np.diff(line, axis=0), axis=1) > 1e-6)
    points = line[keep]
    way = np.diff(points, axis=0)
    way /= np.linalg.norm(way, axis=1)[:, None]
    along = np.vstack([way[:1], way[1:] + way[:-1], way[-1:]])
    along /= np.linalg.norm(along, axis=1)[:, None]
    aside = np.cross(along[0], np.eye(3)[int(np.argmin(np.abs(along[0])))])
    turns = np.linspace(0.0, 2 * np.pi, _RUN_STEPS, endpoint=False)
    rings: list[Floats] = []
    inner: list[Floats] = []
    for at, direction in zip(points, along, strict=True):
        aside = aside - direction * (aside @ direction)
        aside /= np.linalg.norm(aside)
        other = np.cross(direction, aside)
        ring = np.outer(np.cos(turns), aside) + np.outer(np.sin(turns), other)
        rings.append(at + radius * ring)
        inner.append(at + inside * ring)
    n, last = _RUN_STEPS, len(points) - 1
    faces = [_strip(n, k, k + 1) for k in range(last)]
    if inside > 0:
        hollow = last + 1  # number of the first ring of the inner wall, which looks inward
        faces += [_strip(n, hollow + k + 1, hollow + k) for k in range(last)]
        faces += [_strip(n, hollow, 0), _strip(n, last, hollow + last)]
        return TriMesh(np.vstack([*rings, *inner]), np.concatenate(faces).astype(np.int64))
    near, far = n * (last + 1), n * (last + 1) + 1
    here = np.arange(n)
    after = (here + 1) % n
    faces += [np.column_stack([np.full(n, near), after, here]),
              np.column_stack([np.full(n, far), last * n + here, last * n + after])]  # fmt: skip
    return TriMesh(np.vstack([*rings, points[:1], points[-1:]]), np.concatenate(faces).astype(np.int64))


def tube_outline(member: Member) -> Floats:
    """Points round the outside of a tube's section, own axes, anticlockwise."""
    return outline(member.section)


def _strip(n: int, first: int, second: int) -> Ints:
    """Triangles between two rings of n points that look to the outside of the first."""
    here = np.arange(n)
    after = (here + 1) % n
    a, b, c, d = first * n + here, first * n + after, second * n + here, second * n + after
    return np.concatenate([np.column_stack([a, b, d]), np.column_stack([a, d, c])])


def _welded(vertices: Floats, faces: Ints) -> TriMesh:
    """Equal points made one; triangles without area go."""
    points, back = np.unique(vertices.round(6), axis=0, return_inverse=True)
    faces = back.reshape(-1)[faces]
    a, b, c = faces.T
    return TriMesh(points, faces[(a != b) & (b != c) & (c != a)].astype(np.int64))


def plate(piece: Plate) -> TriMesh:
    """A plate with its holes, own axes."""
    from manifold3d import CrossSection, FillRule

    x, y, t = piece.size
    turns = np.linspace(0.0, -2 * np.pi, _HOLE_STEPS, endpoint=False)
    outlines: list[Any] = [np.array([[0, 0], [x, 0], [x, y], [0, y]], dtype=np.float64)]
    outlines += [np.column_stack([px + d / 2 * np.cos(turns), py + d / 2 * np.sin(turns)])
                 for px, py, d in piece.holes]  # fmt: skip
    made = CrossSection(outlines, FillRule.EvenOdd).extrude(t).to_mesh64()
    vertices = np.asarray(made.vert_properties, dtype=np.float64)[:, :3]
    return TriMesh(np.array(vertices), np.asarray(made.tri_verts).astype(np.int64))


def thinned(mesh: TriMesh, within_mm: float, most: int) -> TriMesh:
    """A surface with equal points made one and, when it has very many triangles, fewer of them.

    Args:
        mesh: The surface.
        within_mm: How far the new surface may lie from the old one.
        most: Up to so many triangles it stays as it is.

    Returns:
        A closed surface stays closed. One that is not closed is never thinned out.
    """
    made = _welded(mesh.vertices, mesh.faces)
    if len(made.faces) <= most:
        return made
    from manifold3d import Error, Manifold, Mesh64

    points = np.array(made.vertices, dtype=np.float64)
    body = Manifold(Mesh64(points, np.array(made.faces, dtype=np.uint64)))
    if body.status() != Error.NoError or body.is_empty():
        return made
    thin = body.simplify(within_mm).to_mesh64()
    vertices = np.array(thin.vert_properties, dtype=np.float64)[:, :3]
    return TriMesh(vertices, np.asarray(thin.tri_verts).astype(np.int64))


@dataclass(frozen=True, slots=True, eq=False)
class Clear:
    """Something that is looked through: the free space of a zone, or a keep-out.

    Attributes:
        name: Of the zone or keep-out.
        kind: Key of `palette.SEE_THROUGH`.
        mesh: Its surface, for the eye only.
        rough: True for a scan: its edges are noise.
    """

    name: str
    kind: str
    mesh: TriMesh
    rough: bool


def clear_surfaces(case: Case) -> tuple[Clear, ...]:
    """The zones, then the keep-outs."""
    kinds = {keep_out.name: f"keep-out {keep_out.kind}" for keep_out in case.vehicle.keep_outs}
    found = [(name, "zone", mesh) for name, mesh in case.zones.items()]
    found += [(name, kinds[name], mesh) for name, mesh in case.keep_outs.items()]
    return tuple(
        Clear(
            name, kind, thinned(mesh, _CLEAR_WITHIN_MM, _CLEAR_TRIANGLES), len(mesh.faces) > _CLEAR_TRIANGLES
        )
        for name, kind, mesh in found
    )

"""Exact solids in own axes, mm: a part's box or body, a tube cut by its two planes, a drilled plate, a cable.

cadquery is imported inside the functions: it takes two seconds, which only those who export solids pay.
"""

# OCP is compiled and ships no list of its names:
# pyright: reportAttributeAccessIssue=false

import tempfile
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from packlayout.electrical.cables import Run
from packlayout.electrical.sleeves import Sleeve
from packlayout.errors import GeometryError
from packlayout.export.meshes import thinned
from packlayout.export.profiles import wire
from packlayout.export.tree import Leaf, tube_pose
from packlayout.frame.bolting import bore_mm
from packlayout.frame.tubes import Member, Plate
from packlayout.model.brief import Case, PartBody
from packlayout.model.geometry import TriMesh, Vec
from packlayout.model.layout import Placement
from packlayout.space.bends import Line

# a scan-like body is thinned out before it becomes faces: 12 MB of STEP for 5,000 triangles otherwise
_MANY_TRIANGLES = 1500
_THINNING_MM = 0.05


def solid(leaf: Leaf, case: Case) -> Any:
    """The shape of one thing in its own axes.

    Args:
        leaf: A placement, a tube, a plate, a run of cable or a piece of conduit.
        case: Holds the bodies of the parts.

    Returns:
        An OCP shape (`TopoDS_Shape`), mm; placed by `leaf.pose`.

    Raises:
        GeometryError: for a body that the CAD kernel cannot make a solid of; the message names the part.
    """
    piece = leaf.piece
    if isinstance(piece, Member):
        holes = tuple((b.at, b.into, bore_mm(b.clearance_mm, case.threads)) for b in leaf.bores)
        return _drilled(piece, holes) if holes else _tube(piece)
    if isinstance(piece, Plate):
        return _plate(piece)
    if isinstance(piece, Run):
        assert piece.line is not None, "only runs that were laid stand in the tree"
        return _pipe(piece.line, piece.diameter_mm / 2)
    if isinstance(piece, Sleeve):
        return _pipe(piece.line, piece.conduit.outside_mm / 2, piece.conduit.inside_mm / 2)
    return _part(piece, case.bodies.get(piece.part))


def _part(placement: Placement, body: PartBody | None) -> Any:
    if body is None:
        return _box(placement.size)
    made = _exact(body.step) if body.step is not None else faceted(body.mesh)
    if made is None:
        raise GeometryError(
            f"{placement.name}: the body of {placement.part} makes no solid; "
            "check that its surface is closed, or leave `body` out and give `size`"
        )
    return made


def _box(size: Vec) -> Any:
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox

    return BRepPrimAPI_MakeBox(*size).Solid()


def _exact(text: str) -> Any:
    """The solids of a STEP text as one shape; None when there are none."""
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.STEPControl import STEPControl_Reader

    keep_quiet()
    with tempfile.TemporaryDirectory(prefix="packlayout-") as folder:
        path = Path(folder) / "body.step"
        path.write_text(text, encoding="utf-8")
        reader = STEPControl_Reader()
        if reader.ReadFile(str(path)) != IFSelect_ReturnStatus.IFSelect_RetDone or not reader.TransferRoots():
            return None
        shape = reader.OneShape()
    return shape if not shape.IsNull() and volume(shape) > 0 else None


def faceted(mesh: TriMesh) -> Any:
    """A solid with one plane face a triangle; None when the surface is not closed.

    A surface of very many triangles is thinned out first, by at most 0.05 mm.
    """
    from OCP.BRep import BRep_Builder
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeShapeOnMesh
    from OCP.gp import gp_Pnt
    from OCP.Poly import Poly_Triangle, Poly_Triangulation
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS_Shell, TopoDS_Solid

    thin = thinned(mesh, _THINNING_MM, _MANY_TRIANGLES)
    vertices, faces = thin.vertices, thin.faces
    edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    if not len(faces) or (np.unique(edges, axis=0, return_counts=True)[1] != 2).any():
        return None
    triangles = Poly_Triangulation(len(vertices), len(faces), False)
    for k, (x, y, z) in enumerate(vertices.tolist(), start=1):
        triangles.SetNode(k, gp_Pnt(x, y, z))
    for k, (a, b, c) in enumerate((faces + 1).tolist(), start=1):
        triangles.SetTriangle(k, Poly_Triangle(a, b, c))
    maker = BRepBuilderAPI_MakeShapeOnMesh(triangles)
    maker.Build()
    builder, shell, made = BRep_Builder(), TopoDS_Shell(), TopoDS_Solid()
    builder.MakeShell(shell)
    explorer = TopExp_Explorer(maker.Shape(), TopAbs_ShapeEnum.TopAbs_FACE)
    while explorer.More():
        builder.Add(shell, explorer.Current())
        explorer.Next()
    shell.Closed(True)
    builder.MakeSolid(made)
    builder.Add(made, shell)
    found = volume(made)
    if found < 0:
        made.Reverse()
    return made if found else None


@lru_cache(maxsize=512)  # the same tube goes into assembly, frame, its own file and the drawings
def _tube(member: Member) -> Any:
    """A hollow prism, over-long, cut off by the plane of either end."""
    from cadquery import Solid, Vector
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeHalfSpace
    from OCP.gp import gp_Dir, gp_Pln, gp_Pnt

    section, length = member.section, member.length_mm
    cuts = [(0.0, _own(member, member.start_cut)), (length, _own(member, member.end_cut))]
    reach = [0.0 if abs(n[0]) + abs(n[1]) < 1e-9 else 2 * section.side_mm / abs(n[2]) for _, n in cuts]
    outer, inner = wire(section, 0.0, -reach[0]), wire(section, section.wall_mm, -reach[0])
    shape = Solid.extrudeLinear(outer, [inner], Vector(0, 0, length + sum(reach))).wrapped
    for (z, n), over in zip(cuts, reach, strict=True):
        if over:  # a square cut is where the prism ends already
            plane = BRepBuilderAPI_MakeFace(gp_Pln(gp_Pnt(0, 0, z), gp_Dir(*n))).Face()
            waste = BRepPrimAPI_MakeHalfSpace(plane, gp_Pnt(n[0], n[1], z + n[2])).Solid()
            shape = BRepAlgoAPI_Cut(shape, waste).Shape()
    return shape


@lru_cache(maxsize=512)
def _drilled(member: Member, holes: tuple[tuple[Vec, Vec, float], ...]) -> Any:
    """A tube with holes through one wall each: (middle on the outside, way into the tube, diameter), vehicle axes."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    shape = _tube(member)
    frame, origin = np.array(tube_pose(member).rotation), np.array(member.start)
    for at, into, diameter in holes:
        way = frame.T @ np.array(into)
        start = frame.T @ (np.array(at) - origin) - way
        axis = gp_Ax2(gp_Pnt(*start), gp_Dir(*way))
        drill = BRepPrimAPI_MakeCylinder(axis, diameter / 2, 1 + 1.5 * member.section.wall_mm).Solid()
        shape = BRepAlgoAPI_Cut(shape, drill).Shape()
    return shape


def _own(member: Member, direction: Vec) -> Vec:
    """A direction of the vehicle in the own axes of a tube."""
    (a, b, c), (d, e, f), (g, h, k) = tube_pose(member).rotation
    x, y, z = direction
    return a * x + d * y + g * z, b * x + e * y + h * z, c * x + f * y + k * z


@lru_cache(maxsize=512)
def _plate(plate: Plate) -> Any:
    from cadquery import Solid, Vector, Wire

    x, y, t = plate.size
    outline = Wire.makePolygon([Vector(0, 0), Vector(x, 0), Vector(x, y), Vector(0, y)], close=True)
    up = Vector(0, 0, 1)
    holes = [Wire.makeCircle(d / 2, Vector(px, py), up) for px, py, d in plate.holes]
    return Solid.extrudeLinear(outline, holes, Vector(0, 0, t)).wrapped


def _pipe(line: Line, outside_mm: float, inside_mm: float = 0.0) -> Any:
    """A ring, or a disc where nothing is hollow, swept along a middle line of straights and arcs; vehicle axes.

    Args:
        line: The middle line.
        outside_mm: Radius of its outside.
        inside_mm: Radius of what is hollow.
    """
    from cadquery import Edge, Vector, Wire
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
    from OCP.BRepOffsetAPI import BRepOffsetAPI_MakePipe
    from OCP.TopoDS import TopoDS

    edges: list[Any] = []
    here = Vector(*line.corners[0])
    for arc in line.arcs:
        start, end = Vector(*arc.start), Vector(*arc.end)
        if (start - here).Length > 1e-6:
            edges.append(Edge.makeLine(here, start))
        edges.append(Edge.makeThreePointArc(start, Vector(*arc.middle), end))
        here = end
    if (Vector(*line.corners[-1]) - here).Length > 1e-6:
        edges.append(Edge.makeLine(here, Vector(*line.corners[-1])))
    spine = Wire.assembleEdges(edges)
    rings = [
        Wire.makeCircle(radius, Vector(*line.corners[0]), edges[0].tangentAt(0))
        for radius in (outside_mm, inside_mm) if radius > 0
    ]  # fmt: skip
    face = BRepBuilderAPI_MakeFace(rings[0].wrapped)
    for hole in rings[1:]:
        face.Add(TopoDS.Wire_s(hole.wrapped.Reversed()))
    return BRepOffsetAPI_MakePipe(spine.wrapped, face.Face()).Shape()


def keep_quiet() -> None:
    """Keep the CAD kernel from writing to standard output, which belongs to the caller's results."""
    from OCP.Message import Message, Message_PrinterOStream

    Message.DefaultMessenger_s().RemovePrinters(Message_PrinterOStream.get_type_descriptor_s())


def volume(shape: Any) -> float:
    """Volume of an OCP shape, mm3; negative when it is inside out."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, found)
    return found.Mass()

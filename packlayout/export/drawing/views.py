"""What is seen of solids from one side: exact hidden-line removal, as plain lines in mm."""

# OCP is compiled and ships no list of its names:
# pyright: reportAttributeAccessIssue=false

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from packlayout.export.meshes import surface
from packlayout.export.solids import solid
from packlayout.export.step import located
from packlayout.export.tree import Leaf
from packlayout.model.brief import Case
from packlayout.model.geometry import TriMesh, Vec
from packlayout.model.layout import Placement

Path2 = tuple[tuple[float, float], ...]
_GRAIN_MM = 0.02
_COVER_MM = 0.15
_BOW_MM = 0.05
_SIMPLER_MM = 0.5


@dataclass(frozen=True, slots=True)
class Look:
    """A direction to look from.

    Attributes:
        name: For the caption of the view.
        toward: From the thing to the eye.
        right: What lies to the right on paper.
    """

    name: str
    toward: Vec
    right: Vec

    @property
    def up(self) -> Vec:
        """What lies upward on paper."""
        n, r = (
            np.array(self.toward) / np.linalg.norm(self.toward),
            np.array(self.right) / np.linalg.norm(self.right),
        )
        x, y, z = (float(v) for v in np.cross(n, r))
        return x, y, z

    def seen(self, at: Vec) -> tuple[float, float]:
        """Where a point lies in the view, mm."""
        right = np.array(self.right) / np.linalg.norm(self.right)
        return float(right @ at), float(np.dot(self.up, at))


SIDE = Look("from the left", (0.0, -1.0, 0.0), (1.0, 0.0, 0.0))
FRONT = Look("from the front", (-1.0, 0.0, 0.0), (0.0, -1.0, 0.0))
TOP = Look("from above", (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))
ROUND = Look("isometric", (-1.0, -1.0, 1.0), (1.0, -1.0, 0.0))


@dataclass(frozen=True, slots=True)
class View:
    """Lines that are seen and lines that are hidden.

    Attributes:
        look: From where.
        visible: Outlines and edges.
        hidden: Those behind something, less what lies under a visible one.
        box: Least and greatest x, y of all of them.
    """

    look: Look
    visible: tuple[Path2, ...]
    hidden: tuple[Path2, ...]
    box: tuple[float, float, float, float]


def shapes_of(things: Iterable[Leaf], case: Case) -> dict[int, Any]:
    """The exact solid of each thing where it stands, by the identity of what it is."""
    return {id(leaf.piece): solid(leaf, case).Moved(located(leaf.pose)) for leaf in things}


def compound(things: Iterable[Leaf], case: Case, shapes: Mapping[int, Any], look: Look) -> Any:
    """Solids as one shape to look at; a body of facets is the prism of its outline, or its facets were all drawn."""
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Compound

    builder, whole = BRep_Builder(), TopoDS_Compound()
    builder.MakeCompound(whole)
    for leaf in things:
        body = case.bodies.get(leaf.piece.part) if isinstance(leaf.piece, Placement) else None
        faceted = body is not None and body.step is None
        builder.Add(whole, _prism(surface(leaf, case), look) if faceted else shapes[id(leaf.piece)])
    return whole


def _prism(mesh: TriMesh, look: Look) -> Any:
    """What a surface of triangles covers in a view, as deep as it is."""
    from cadquery import Solid, Vector, Wire
    from shapely import Polygon, set_precision
    from shapely.ops import unary_union

    right, up, toward = (np.array(v) / np.linalg.norm(v) for v in (look.right, look.up, look.toward))
    corners = mesh.triangles @ np.stack([right, up, toward], axis=1)
    (ax, ay), (bx, by) = ((corners[:, k, :2] - corners[:, 0, :2]).T for k in (1, 2))
    flat = [Polygon(t[:, :2]) for t in corners[np.abs(ax * by - ay * bx) > 1e-6]]
    cover = set_precision(unary_union(flat), _GRAIN_MM).simplify(_SIMPLER_MM)
    deep, near = float(corners[..., 2].min()), float(corners[..., 2].max())
    outline = max(getattr(cover, "geoms", [cover]), key=lambda g: g.area).exterior
    points = [Vector(*(right * x + up * y + toward * deep)) for x, y in list(outline.coords)[:-1]]
    return Solid.extrudeLinear(
        Wire.makePolygon(points, close=True), [], Vector(*(toward * (near - deep)))
    ).wrapped


def view(shape: Any, look: Look, *, hidden: bool = False) -> View:
    """Look at a shape.

    Args:
        shape: OCP shape, vehicle axes.
        look: From where.
        hidden: Whether hidden lines are wanted too.

    Returns:
        Each line once: the kernel gives edges of neighbouring faces twice, and hidden ones under visible ones.
    """
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
    from OCP.HLRAlgo import HLRAlgo_Projector
    from OCP.HLRBRep import HLRBRep_Algo, HLRBRep_HLRToShape
    from shapely import set_precision
    from shapely.ops import unary_union

    algorithm = HLRBRep_Algo()
    algorithm.Add(shape)
    algorithm.Projector(HLRAlgo_Projector(gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(*look.toward), gp_Dir(*look.right))))
    algorithm.Update()
    algorithm.Hide()
    found = HLRBRep_HLRToShape(algorithm)
    # smooth seams, as along the rounded corners of a tube, are no edges: Rg1LineVCompound is left out
    seen = _lines(found.VCompound(), found.OutLineVCompound())
    clear = unary_union(set_precision(seen, _GRAIN_MM))
    visible, behind = _paths(clear), ()
    if hidden:
        covered = unary_union(set_precision(_lines(found.HCompound(), found.OutLineHCompound()), _GRAIN_MM))
        behind = _paths(covered.difference(clear.buffer(_COVER_MM)))
    points = np.array([p for path in (*visible, *behind) for p in path] or [(0.0, 0.0)])
    lo, hi = points.min(axis=0), points.max(axis=0)
    return View(look, visible, behind, (float(lo[0]), float(lo[1]), float(hi[0]), float(hi[1])))


def _lines(*compounds: Any) -> Any:
    """Edges of the kernel's drawing as lines; what bows is broken up to within a twentieth of a millimetre."""
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.BRepLib import BRepLib
    from OCP.GCPnts import GCPnts_QuasiUniformDeflection
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS
    from shapely import MultiLineString

    lines: list[list[tuple[float, float]]] = []
    for whole in compounds:
        if whole is None or whole.IsNull():
            continue
        BRepLib.BuildCurves3d_s(whole)
        edges = TopExp_Explorer(whole, TopAbs_ShapeEnum.TopAbs_EDGE)
        while edges.More():
            curve = BRepAdaptor_Curve(TopoDS.Edge_s(edges.Current()))
            if curve.GetType().name == "GeomAbs_Line":
                ends = [curve.Value(curve.FirstParameter()), curve.Value(curve.LastParameter())]
            else:
                steps = GCPnts_QuasiUniformDeflection(curve, _BOW_MM)
                ends = [steps.Value(k) for k in range(1, steps.NbPoints() + 1)]
            line = [(p.X(), p.Y()) for p in ends]
            if len(line) > 1 and max(abs(line[0][k] - p[k]) for p in line for k in (0, 1)) > _GRAIN_MM:
                lines.append(line)
            edges.Next()
    return MultiLineString(lines)


def _paths(found: Any) -> tuple[Path2, ...]:
    from shapely import MultiLineString
    from shapely.ops import linemerge

    lines = [
        g
        for g in getattr(found, "geoms", [found])
        if g.geom_type == "LineString" and g.length > 4 * _GRAIN_MM
    ]
    if not lines:
        return ()
    merged = linemerge(MultiLineString(lines))
    paths = [
        tuple((round(x, 3), round(y, 3)) for x, y in g.coords) for g in getattr(merged, "geoms", [merged])
    ]
    return tuple(sorted(max(path, path[::-1]) for path in paths))

"""`plates/*.dxf`: each plate in true shape for the cutter, and all of one thickness laid on stock sheets.

Lines are where the metal ends: no allowance for the width of the cut, which is the cutter's business.
"""

# OCP is compiled and ships no list of its names:
# pyright: reportAttributeAccessIssue=false

from collections.abc import Generator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from math import atan2, pi, tan
from pathlib import Path
from typing import Any

import numpy as np

from packlayout.errors import ExportError, GeometryError
from packlayout.export.cutting import Nested, nested_plates
from packlayout.export.names import ascii_name
from packlayout.export.pack import Made
from packlayout.export.piece_marks import PlateMark, plate_marks
from packlayout.export.profiles import outline
from packlayout.export.solids import solid
from packlayout.export.tree import Leaf, tube_pose
from packlayout.export.welds import welds
from packlayout.frame.tubes import Member, Plate, TubeFrame
from packlayout.model.brief import Case
from packlayout.model.geometry import Pose
from packlayout.study import Study

FOLDER = "plates"
CUT, BEND, ETCH, LABEL, SHEET = "CUT", "BEND", "ETCH", "LABEL", "SHEET"
_LAYERS = {CUT: 1, BEND: 3, ETCH: 5, LABEL: 7, SHEET: 8}
"""Layer -> AutoCAD colour index."""
_LETTERS_MM = 5.0


@dataclass(frozen=True, slots=True)
class Outline:
    """A closed line of straight and round pieces: (x, y, bulge) of each corner, the bulge of the piece after it."""

    corners: tuple[tuple[float, float, float], ...]


@dataclass(frozen=True, slots=True)
class Flat:
    """A plate as it lies on the cutter's table.

    Attributes:
        outlines: The outside first, then cut-outs that are not round.
        circles: (x, y, diameter) of round holes.
    """

    outlines: tuple[Outline, ...]
    circles: tuple[tuple[float, float, float], ...]


def write_flats(study: Study, folder: Path, notes: tuple[str, ...]) -> Made:
    """Write one DXF a plate and one a stock sheet.

    Args:
        study: What was computed.
        folder: Where to; the files go into its `plates/`.
        notes: What the exporters before had to say; not needed here.

    Returns:
        The files, or a note why there are none.

    Raises:
        ExportError: when ezdxf or cadquery is missing.
    """
    frame = study.framed.frame if study.framed is not None else None
    if frame is None or not frame.plates:
        return Made((), (f"{FOLDER}/ left out: there are no plates",))
    try:
        import cadquery  # noqa: F401  # pyright: ignore[reportUnusedImport]
        import ezdxf  # noqa: F401  # pyright: ignore[reportUnusedImport]
    except ImportError as error:
        raise ExportError(
            f"DXF files need ezdxf and cadquery, one of which cannot be imported ({error})"
        ) from error
    (folder / FOLDER).mkdir(exist_ok=True)
    marks = plate_marks(frame)
    flats = {mark.mark: flat(mark.plates[0], study.case) for mark in marks}
    made = [_single(mark, flats[mark.mark], frame, study.case, folder / FOLDER) for mark in marks]
    stock = study.case.tables.stock
    nested: set[str] = set()
    for thick in sorted({mark.size[2] for mark in marks}):
        same = [mark for mark in marks if mark.size[2] == thick]
        for n, sheet in enumerate(nested_plates(same, stock), start=1):
            nested |= {piece.mark for piece in sheet}
            path = folder / FOLDER / f"sheet-{thick:g}mm-{n}.dxf"
            words = f"{thick:g} mm {ascii_name(frame.material.name)}"
            made.append(_sheet(sheet, same, flats, words, stock.sheet, path))
    large = [mark.mark for mark in marks if mark.mark not in nested]
    size = f"{stock.sheet[0]:g} x {stock.sheet[1]:g} mm"
    said = (f"on no stock sheet, since larger than {size}: {', '.join(large)}",) if large else ()
    return Made(tuple(made), said)


def flat(plate: Plate, case: Case) -> Flat:
    """The outline of a plate, taken from the face of its exact solid that lies at its own z = 0."""
    from OCP.BRepTools import BRepTools
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    face = _base(solid(Leaf(plate.name, "", plate), case), plate.name)
    outer = BRepTools.OuterWire_s(face)
    outlines: list[Outline] = []
    circles: list[tuple[float, float, float]] = []
    wires = TopExp_Explorer(face, TopAbs_ShapeEnum.TopAbs_WIRE)
    while wires.More():
        wire = TopoDS.Wire_s(wires.Current())
        found = _traced(wire, face)
        if isinstance(found, Outline):
            outlines.insert(0 if wire.IsSame(outer) else len(outlines), found)
        else:
            circles.append(found)
        wires.Next()
    return Flat(tuple(outlines), tuple(sorted(circles)))


def _base(shape: Any, name: str) -> Any:
    """The level face of a plate at its own z = 0."""
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    faces = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_FACE)
    while faces.More():
        face = TopoDS.Face_s(faces.Current())
        surface = BRepAdaptor_Surface(face)
        if surface.GetType().name == "GeomAbs_Plane":
            at, way = surface.Plane().Location(), surface.Plane().Axis().Direction()
            if abs(at.Z()) < 1e-6 and abs(way.Z()) > 1 - 1e-9:
                return face
        faces.Next()
    raise GeometryError(f"{name}: no level face was found, so it cannot be cut from plate")


def _traced(wire: Any, face: Any) -> Outline | tuple[float, float, float]:
    """A wire as corners with bulges, or a full circle."""
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.BRepTools import BRepTools_WireExplorer
    from OCP.TopAbs import TopAbs_Orientation

    corners: list[tuple[float, float, float]] = []
    edges = BRepTools_WireExplorer(wire, face)
    while edges.More():
        curve = BRepAdaptor_Curve(edges.Current())
        first, last = curve.FirstParameter(), curve.LastParameter()
        if edges.Orientation() == TopAbs_Orientation.TopAbs_REVERSED:
            first, last = last, first
        point = curve.Value(first)
        bulge = 0.0
        if curve.GetType().name == "GeomAbs_Circle":
            circle = curve.Circle()
            if abs(abs(last - first) - 2 * pi) < 1e-9:
                return circle.Location().X(), circle.Location().Y(), 2 * circle.Radius()
            turn = (last - first) * (1 if circle.Axis().Direction().Z() > 0 else -1)
            bulge = tan(turn / 4)
        corners.append((point.X(), point.Y(), bulge))
        edges.Next()
    return Outline(tuple(corners))


@contextmanager
def _steady() -> Generator[None]:
    """Let ezdxf write without clock and running ids, so that bytes repeat."""
    from ezdxf._options import options

    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def _document() -> Any:
    from ezdxf import units
    from ezdxf.filemanagement import new

    document = new("R2010")
    document.units = units.MM
    document.header["$MEASUREMENT"] = 1
    for name, tint in _LAYERS.items():
        document.layers.add(name, color=tint)
    return document


def _save(document: Any, path: Path) -> Path:
    # the library would register the classes in the order of a set, which changes from run to run
    for name in sorted(document.entitydb.dxf_types_in_use()):
        document.classes.add_class(name)
    document.saveas(path)
    return path


def _single(mark: PlateMark, found: Flat, frame: TubeFrame, case: Case, folder: Path) -> Path:
    with _steady():
        document = _document()
        space = document.modelspace()
        _draw(space, found, 0.0, 0.0, turned=False)
        for ring in landings(mark, frame, case):
            space.add_lwpolyline(ring, close=True, dxfattribs={"layer": ETCH})
        lines = (
            f"{mark.mark}   quantity {len(mark.plates)}",
            f"{mark.size[2]:g} mm   {ascii_name(frame.material.name)}",
            "etched: where the tube stands" if landings(mark, frame, case) else "nothing etched",
            "true size, no allowance for the width of the cut",
        )
        for k, line in enumerate(lines):
            space.add_text(line, height=_LETTERS_MM, dxfattribs={"layer": LABEL}).set_placement(
                (0.0, -2.0 * _LETTERS_MM * (k + 1))
            )
        return _save(document, folder / f"{mark.mark}.dxf")


def _sheet(
    sheet: Sequence[Nested], marks: Sequence[PlateMark], flats: dict[str, Flat], stock: str,
    sides: tuple[float, float], path: Path,
) -> Path:  # fmt: skip
    long, wide = sides
    size = {mark.mark: mark.size for mark in marks}
    with _steady():
        document = _document()
        space = document.modelspace()
        border = [(0, 0), (long, 0), (long, wide), (0, wide)]
        space.add_lwpolyline(border, close=True, dxfattribs={"layer": SHEET})
        for piece in sheet:
            # turned a quarter anticlockwise its width lies along the sheet
            shift = size[piece.mark][1] if piece.turned else 0.0
            _draw(space, flats[piece.mark], piece.x + shift, piece.y, turned=piece.turned)
            space.add_text(piece.mark, height=_LETTERS_MM, dxfattribs={"layer": LABEL}).set_placement(
                (piece.x + 2, piece.y + 2)
            )
        words = f"{stock}, sheet {long:g} x {wide:g} mm: a suggestion"
        space.add_text(words, height=3 * _LETTERS_MM, dxfattribs={"layer": LABEL}).set_placement(
            (0, -6 * _LETTERS_MM)
        )
        return _save(document, path)


def _draw(space: Any, found: Flat, x: float, y: float, *, turned: bool) -> None:
    def at(px: float, py: float) -> tuple[float, float]:
        a, b = (x - py, y + px) if turned else (x + px, y + py)
        return round(a, 6), round(b, 6)

    for line in found.outlines:
        points = [(*at(px, py), round(bulge, 9)) for px, py, bulge in line.corners]
        space.add_lwpolyline(points, format="xyb", close=True, dxfattribs={"layer": CUT})
    for px, py, diameter in found.circles:
        space.add_circle(at(px, py), diameter / 2, dxfattribs={"layer": CUT})


def landings(mark: PlateMark, frame: TubeFrame, case: Case) -> tuple[tuple[tuple[float, float], ...], ...]:
    """Where tubes stand on a plate, to be etched; none unless it is the same on all plates of that mark."""
    tubes = {member.name: member for member in frame.members}
    onto: dict[str, list[Member]] = {}
    for weld in welds(frame, case):
        if weld.kind in ("foot plate", "end plate"):
            onto.setdefault(weld.onto, []).append(tubes[weld.piece])
    found = [
        tuple(sorted(_footprint(plate, tube) for tube in onto.get(plate.name, ()))) for plate in mark.plates
    ]
    return found[0] if all(one == found[0] for one in found) else ()


def _footprint(plate: Plate, tube: Member) -> tuple[tuple[float, float], ...]:
    """The outline of a tube as it meets a plate, anticlockwise."""
    pose: Pose = plate.pose
    own = np.array(pose.rotation).T
    rotation = own @ np.array(tube_pose(tube).rotation)
    ends = [own @ (np.array(end) - np.array(pose.origin)) for end in (tube.start, tube.end)]
    foot = min(ends, key=lambda e: min(abs(e[2]), abs(e[2] - plate.size[2])))
    axis, section = rotation[:, 2], tube.section
    # the sharp corners of a square tube, so that the etched lines run on to meet
    around = outline(section) if section.kind == "round" else np.array(
        [(a * section.side_mm / 2, b * section.narrow_mm / 2) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    )  # fmt: skip
    corners: list[tuple[float, float]] = []
    for u, v in around:
        offset = u * rotation[:, 0] + v * rotation[:, 1]
        point = foot + offset - axis * offset[2] / axis[2]
        corners.append((round(float(point[0]), 3) + 0.0, round(float(point[1]), 3) + 0.0))
    middle = np.mean(corners, axis=0)
    ordered = sorted(corners, key=lambda c: atan2(c[1] - middle[1], c[0] - middle[0]))
    return tuple(ordered)

"""A part's own shape: STEP or mesh file -> closed surface in the part's own axes, and its box.

The only place of the readers that needs the CAD kernel: imported by the one function that reads STEP.
"""

# OCP is compiled and ships no list of its names:
# pyright: reportAttributeAccessIssue=false

import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from packlayout.inputs.scans import FORMATS, MM, read_triangles
from packlayout.inputs.surfaces import clean, refuse_holes
from packlayout.model.brief import PartBody
from packlayout.model.geometry import Floats, Ints, TriMesh, Vec
from packlayout.space.envelope import EnvelopeError

STEP_SUFFIXES = (".step", ".stp")
LARGEST_FILE = 50_000_000
MOST_TRIANGLES = 200_000
LEAST_SIDE_MM, MOST_SIDE_MM = 0.1, 10_000.0
_DEFLECTION_MM, _ANGLE_RAD = 0.1, 0.35


def body_of(data: bytes, suffix: str, unit: str) -> tuple[PartBody, Vec, tuple[str, ...]]:
    """The shape in a file, moved so that the lowest corner of its box is the origin of the part's own axes.

    Args:
        data: The file.
        suffix: Its kind: `.step`, `.stp` or a mesh format.
        unit: Unit word of a mesh file. A STEP file states its own, GLB has its second axis up.

    Returns:
        The shape, the sides of its box, mm, and what was done to it, in words.

    Raises:
        EnvelopeError: for a file that holds no closed shape; `where` is a field of `body`.
    """
    kind = suffix.lower()
    if kind in STEP_SUFFIXES:
        if unit != "mm":
            raise EnvelopeError(
                ("unit",), f"unit {unit!r} for a STEP file", "no unit: a STEP file states its own"
            )
        return _from_step(data)
    if kind not in FORMATS:
        raise EnvelopeError(("file",), f"{suffix or 'no'} file type", ", ".join((*STEP_SUFFIXES, *FORMATS)))
    vertices, faces = read_triangles(data, kind)
    if kind == ".glb":
        vertices = vertices[:, [0, 2, 1]] * np.array([1.0, -1.0, 1.0])
    vertices = vertices * MM[unit]
    _check_size(vertices, len(faces))
    cleaned = clean(vertices, faces, 0.0)
    refuse_holes(cleaned, 0.0, "the file's axes")
    mesh = cleaned.mesh
    if mesh.volume <= 0:
        raise EnvelopeError(("file",), "the surface is inside out or flat", "a closed surface with faces outward",
                            "turn the faces (flip the normals) in the program it is from")  # fmt: skip
    lowest = mesh.vertices.min(axis=0)
    own = TriMesh(mesh.vertices - lowest, mesh.faces)
    return PartBody(own), own.bounds.size, cleaned.notes


def _check_size(vertices: Floats, count: int) -> None:
    finite = vertices[np.isfinite(vertices).all(axis=1)]
    sides = np.ptp(finite, axis=0) if len(finite) else np.zeros(3)
    if sides.min() < LEAST_SIDE_MM or sides.max() > MOST_SIDE_MM:
        said = " x ".join(f"{side:.3g}" for side in sides)
        raise EnvelopeError(("unit",), f"the body is {said} mm",
                            f"sides of {LEAST_SIDE_MM:g} to {MOST_SIDE_MM:g} mm", "is the unit right?")  # fmt: skip
    if count > MOST_TRIANGLES:
        raise EnvelopeError(("file",), f"{count} triangles", f"at most {MOST_TRIANGLES} for a part",
                            "reduce it in the program it is from")  # fmt: skip


def _from_step(data: bytes) -> tuple[PartBody, Vec, tuple[str, ...]]:
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise EnvelopeError(
            ("file",), "is not text, so not a STEP file", "a STEP file (ISO 10303-21)"
        ) from error
    try:
        shape = _read_step(text)
        low, high = ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0)) if shape is None else _exact_box(shape)
    except Exception as error:  # the kernel raises a class of its own for each of its faults
        raise EnvelopeError(("file",), f"cannot be read as STEP ({type(error).__name__})",
                            "a STEP file with a solid", "save it again from the CAD program") from error  # fmt: skip
    if shape is None:
        raise EnvelopeError(("file",), "cannot be read as STEP, or holds no solid", "a STEP file with a solid",
                            "save it as solids, not as surfaces, from the CAD program")  # fmt: skip
    _check_size(np.array([low, high]), 0)
    notes: list[str] = []
    if max(abs(value) for value in low) > 1e-6:
        shape = _moved(shape, low)
        text = _step_text(shape)
        notes.append(
            f"moved by ({', '.join(f'{-value:.1f}' for value in low)}) mm to the origin of its own axes"
        )
    vertices, faces = _tessellated(shape)
    cleaned = clean(vertices, faces, 0.0)
    refuse_holes(cleaned, 0.0, "own axes")
    size = (high[0] - low[0], high[1] - low[1], high[2] - low[2])
    return PartBody(cleaned.mesh, text), size, (*notes, *cleaned.notes)


def _quiet() -> None:
    """Keep the kernel from writing to standard output, where results go."""
    from OCP.Message import Message, Message_PrinterOStream

    Message.DefaultMessenger_s().RemovePrinters(Message_PrinterOStream.get_type_descriptor_s())


def _read_step(text: str) -> Any:
    """The shape in a STEP text; None when it holds no solid."""
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.STEPControl import STEPControl_Reader
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer

    _quiet()
    with tempfile.TemporaryDirectory(prefix="packlayout-") as folder:
        path = Path(folder) / "body.step"
        path.write_text(text, encoding="utf-8")
        reader = STEPControl_Reader()
        if reader.ReadFile(str(path)) != IFSelect_ReturnStatus.IFSelect_RetDone or not reader.TransferRoots():
            return None
        shape = reader.OneShape()
    if shape.IsNull() or not TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_SOLID).More():
        return None
    return shape


def _exact_box(shape: Any) -> tuple[Vec, Vec]:
    from OCP.Bnd import Bnd_Box
    from OCP.BRepBndLib import BRepBndLib

    box = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape, box, False, False)
    low, high = box.CornerMin(), box.CornerMax()
    return (low.X(), low.Y(), low.Z()), (high.X(), high.Y(), high.Z())


def _moved(shape: Any, low: Vec) -> Any:
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
    from OCP.gp import gp_Trsf, gp_Vec

    shift = gp_Trsf()
    shift.SetTranslation(gp_Vec(-low[0], -low[1], -low[2]))
    return BRepBuilderAPI_Transform(shape, shift, True).Shape()


def _step_text(shape: Any) -> str:
    from OCP.STEPControl import STEPControl_StepModelType, STEPControl_Writer

    with tempfile.TemporaryDirectory(prefix="packlayout-") as folder:
        path = Path(folder) / "body.step"
        writer = STEPControl_Writer()
        writer.Transfer(shape, STEPControl_StepModelType.STEPControl_AsIs)
        writer.Write(str(path))
        return path.read_text(encoding="utf-8")


def _tessellated(shape: Any) -> tuple[Floats, Ints]:
    """Triangles of every face, outward, each face with vertices of its own."""
    from OCP.BRep import BRep_Tool
    from OCP.BRepMesh import BRepMesh_IncrementalMesh
    from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopLoc import TopLoc_Location
    from OCP.TopoDS import TopoDS

    BRepMesh_IncrementalMesh(shape, _DEFLECTION_MM, False, _ANGLE_RAD)
    points: list[tuple[float, float, float]] = []
    faces: list[tuple[int, int, int]] = []
    explorer = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_FACE)
    while explorer.More():
        face = TopoDS.Face_s(explorer.Current())
        place = TopLoc_Location()
        triangles = BRep_Tool.Triangulation_s(face, place)
        explorer.Next()
        if triangles is None:
            continue
        start, move = len(points) - 1, place.Transformation()
        reverse = face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED
        for index in range(1, triangles.NbNodes() + 1):
            point = triangles.Node(index).Transformed(move)
            points.append((point.X(), point.Y(), point.Z()))
        for index in range(1, triangles.NbTriangles() + 1):
            a, b, c = triangles.Triangle(index).Get()
            faces.append((start + a, start + c, start + b) if reverse else (start + a, start + b, start + c))
        if len(faces) > MOST_TRIANGLES:
            raise EnvelopeError(("file",), f"more than {MOST_TRIANGLES} triangles", "a simpler body",
                                "leave out threads, fins and lettering")  # fmt: skip
    return np.array(points, dtype=np.float64).reshape(-1, 3), np.array(faces, dtype=np.int64).reshape(-1, 3)

"""`assembly.step` and `frame.step`: named, coloured, nested solids in mm and vehicle axes."""

# OCP is compiled and ships no list of its names:
# pyright: reportAttributeAccessIssue=false

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from packlayout import __version__
from packlayout.errors import ExportError
from packlayout.export.names import ascii_name, distinct
from packlayout.export.pack import Made, stamp
from packlayout.export.palette import PLATE, TUBE, channels, colour
from packlayout.export.piece_marks import plate_marks, tube_marks
from packlayout.export.solids import keep_quiet, solid
from packlayout.export.tree import Group, Leaf, assembly_tree, bores_by_tube, leaves, nodes
from packlayout.model.geometry import Pose
from packlayout.study import Study

ASSEMBLY, FRAME, PARTS = "assembly.step", "frame.step", "parts"
# AP242 where the kernel knows it; AP214 is read by everything
_SCHEMAS = ("AP242DIS", "AP214IS")


def write_step(study: Study, folder: Path, notes: tuple[str, ...]) -> Made:
    """Write both STEP files, or say why there is none.

    Args:
        study: What was computed.
        folder: Where to.
        notes: What the exporters before had to say; not needed here.

    Returns:
        The files, and a note for each that was left out.

    Raises:
        ExportError: when the CAD library is missing or a file could not be written.
        GeometryError: for a part's body that makes no solid.
    """
    root = assembly_tree(study)
    if root is None:
        return Made((), (f"{ASSEMBLY} and {FRAME} left out: nothing was placed",))
    try:
        import cadquery  # noqa: F401  # pyright: ignore[reportUnusedImport]
    except ImportError as error:
        raise ExportError(f"STEP files need cadquery, which cannot be imported here ({error})") from error
    # each shape is made once, though the frame goes into both files
    shapes = {id(leaf): solid(leaf, study.case) for leaf in leaves(root)}
    _write(root, shapes, folder / ASSEMBLY)
    frame = next((node for node in root.children if isinstance(node, Group) and node.name == "frame"), None)
    if frame is None:
        return Made((folder / ASSEMBLY,), (f"{FRAME} left out: there is no frame",))
    _write(frame, shapes, folder / FRAME)
    return Made((folder / ASSEMBLY, folder / FRAME))


def write_parts(study: Study, folder: Path, notes: tuple[str, ...]) -> Made:
    """Write one STEP file for each different thing, in its own axes: tubes and plates by mark, parts by their key.

    Args:
        study: What was computed.
        folder: Where to; the files go into its `parts/`.
        notes: What the exporters before had to say; not needed here.

    Returns:
        The files, or a note why there are none.

    Raises:
        ExportError: when the CAD library is missing or a file could not be written.
        GeometryError: for a part's body that makes no solid.
    """
    leaves_of = _different(study)
    if not leaves_of:
        return Made((), (f"{PARTS}/ left out: nothing was placed",))
    (folder / PARTS).mkdir(exist_ok=True)
    made: list[Path] = []
    for name, leaf in leaves_of.items():
        path = folder / PARTS / f"{ascii_name(name)}.step"
        _write(Group(name, (leaf,)), {id(leaf): solid(leaf, study.case)}, path, own=True)
        made.append(path)
    return Made(tuple(made))


def _different(study: Study) -> dict[str, Leaf]:
    """Name of the file -> the first of the things that are alike."""
    found: dict[str, Leaf] = {}
    frame = study.framed.frame if study.framed is not None else None
    if frame is not None:
        drilled = bores_by_tube(frame)
        found |= {
            m.mark: Leaf(
                f"{m.mark} {m.members[0].name}", TUBE, m.members[0], drilled.get(m.members[0].name, ())
            )
            for m in tube_marks(frame)
        }
        found |= {
            m.mark: Leaf(f"{m.mark} {m.plates[0].name}", PLATE, m.plates[0]) for m in plate_marks(frame)
        }
    marks = frozenset(found)
    for placement in study.layout.placements if study.layout is not None else ():
        part = study.case.parts[placement.part]
        name = placement.part if placement.part not in marks else f"{placement.part} part"
        found.setdefault(name, Leaf(part.name, part.kind, placement))
    return found


def _write(root: Group, shapes: dict[int, Any], path: Path, *, own: bool = False) -> None:
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.Interface import Interface_Static
    from OCP.STEPCAFControl import STEPCAFControl_Writer
    from OCP.STEPControl import STEPControl_StepModelType

    keep_quiet()
    document = _document(root, shapes, own=own)
    writer = STEPCAFControl_Writer()  # before it exists, the settings below are not known and refused
    writer.SetNameMode(True)
    writer.SetColorMode(False)  # the kernel would write the colours in an order that changes: see _paint
    if not any(Interface_Static.SetCVal_s("write.step.schema", schema) for schema in _SCHEMAS):
        raise ExportError(f"{path.name}: the CAD kernel writes neither of {', '.join(_SCHEMAS)}")
    Interface_Static.SetCVal_s("xstep.cascade.unit", "MM")
    Interface_Static.SetCVal_s("write.step.unit", "MM")
    Interface_Static.SetIVal_s("write.surfacecurve.mode", 0)  # curves on surfaces double the size for nothing
    done = writer.Transfer(document, STEPControl_StepModelType.STEPControl_AsIs)
    if done:
        _paint(writer.ChangeWriter().WS(), root, shapes)
        _settle(writer.ChangeWriter().Model(), path.name)
        done = writer.Write(str(path)) == IFSelect_ReturnStatus.IFSelect_RetDone
    text = path.read_bytes() if done and path.exists() else b""
    if not text.rstrip().endswith(
        b"END-ISO-10303-21;"
    ):  # the kernel does not always tell that the disk was full
        raise ExportError(f"{path.name} could not be written; is the disk full?")


def _document(root: Group, shapes: dict[int, Any], *, own: bool) -> Any:
    """A document of the CAD kernel: one product a solid or group, placed by its pose (or in own axes) and named."""
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDocStd import TDocStd_Document
    from OCP.TopLoc import TopLoc_Location
    from OCP.XCAFApp import XCAFApp_Application
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    document = TDocStd_Document(TCollection_ExtendedString("XmlXCAF"))
    XCAFApp_Application.GetApplication_s().InitDocument(document)
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    tool.SetAutoNaming_s(False)
    everything = list(nodes(root))
    names = distinct([ascii_name(node.name) for node in everything])
    name = {id(node): new for node, new in zip(everything, names, strict=True)}

    def say(label: Any, node: Group | Leaf) -> None:
        TDataStd_Name.Set_s(label, TCollection_ExtendedString(name[id(node)]))

    def product(node: Group | Leaf) -> Any:
        label = tool.NewShape()
        say(label, node)
        if isinstance(node, Leaf):
            tool.SetShape(label, shapes[id(node)])
            return label
        for child in node.children:
            at = located(child.pose) if isinstance(child, Leaf) and not own else TopLoc_Location()
            say(tool.AddComponent(label, product(child), at), child)
        return label

    product(root)
    tool.UpdateAssemblies()
    return document


def located(pose: Pose) -> Any:
    """A pose as a location of the CAD kernel."""
    from OCP.gp import gp_Trsf
    from OCP.TopLoc import TopLoc_Location

    move = gp_Trsf()
    (a, b, c), (d, e, f), (g, h, k) = pose.rotation
    x, y, z = pose.origin
    move.SetValues(a, b, c, x, d, e, f, y, g, h, k, z)
    return TopLoc_Location(move)


def _paint(session: Any, root: Group, shapes: dict[int, Any]) -> None:
    """Give each solid the colour of its kind, in the order of the tree."""
    from OCP.Quantity import Quantity_Color, Quantity_TypeOfColor
    from OCP.STEPConstruct import STEPConstruct_Styles
    from OCP.StepRepr import StepRepr_HArray1OfRepresentationItem
    from OCP.StepVisual import StepVisual_MechanicalDesignGeometricPresentationRepresentation
    from OCP.TCollection import TCollection_HAsciiString

    for leaf in leaves(root):
        shape = shapes[id(leaf)]
        styles = STEPConstruct_Styles(session)
        rgb = Quantity_Color(*channels(colour(leaf.kind)), Quantity_TypeOfColor.Quantity_TOC_sRGB)
        look = styles.MakeColorPSA(None, STEPConstruct_Styles.EncodeColor_s(rgb), None, None, 0.0, False)
        painted = [styles.AddStyle(part, look, None) for part in _solids(shape)]
        items = StepRepr_HArray1OfRepresentationItem(1, len(painted))
        for k, item in enumerate(painted, start=1):
            items.SetValue(k, item)
        sheet = StepVisual_MechanicalDesignGeometricPresentationRepresentation()
        sheet.Init(TCollection_HAsciiString(""), items, styles.FindContext(shape))
        session.Model().AddWithRefs(sheet)


def _solids(shape: Any) -> Iterator[Any]:
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer

    explorer = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_SOLID)
    while explorer.More():
        yield explorer.Current()
        explorer.Next()


def _settle(model: Any, name: str) -> None:
    """What makes two exports differ: the clock in the header, a running count, the sign of nought."""
    from OCP.APIHeaderSection import APIHeaderSection_MakeHeader
    from OCP.StepGeom import StepGeom_CartesianPoint
    from OCP.StepRepr import StepRepr_NextAssemblyUsageOccurrence
    from OCP.TCollection import TCollection_HAsciiString as Text

    uses = 0
    for k in range(1, model.NbEntities() + 1):
        entity = model.Entity(k)
        if isinstance(entity, StepGeom_CartesianPoint) and entity.NbCoordinates() == 3:
            point = (entity.CoordinatesValue(1), entity.CoordinatesValue(2), entity.CoordinatesValue(3))
            entity.Init3D(entity.Name(), *(round(value, 9) + 0.0 for value in point))
        elif isinstance(entity, StepRepr_NextAssemblyUsageOccurrence):
            uses += 1  # the kernel counts on through all files it writes in one run
            entity.SetId(Text(str(uses)))
    head = APIHeaderSection_MakeHeader(model)
    head.SetName(Text(name))
    head.SetTimeStamp(Text(stamp().strftime("%Y-%m-%dT%H:%M:%S")))
    head.SetAuthorValue(1, Text(""))
    head.SetOrganizationValue(1, Text(""))
    head.SetOriginatingSystem(Text(f"packlayout {__version__}"))
    head.SetPreprocessorVersion(Text("Open CASCADE"))
    head.SetAuthorisation(Text(""))

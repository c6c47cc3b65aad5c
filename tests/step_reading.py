"""Reads a STEP file back the way another program would: tree, names, colours, placed solids."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from OCP.Bnd import Bnd_Box
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from OCP.IFSelect import IFSelect_ReturnStatus
from OCP.Quantity import Quantity_Color, Quantity_TypeOfColor
from OCP.STEPCAFControl import STEPCAFControl_Reader
from OCP.TCollection import TCollection_ExtendedString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_Label, TDF_LabelSequence
from OCP.TDocStd import TDocStd_Document
from OCP.TopLoc import TopLoc_Location
from OCP.XCAFApp import XCAFApp_Application
from OCP.XCAFDoc import XCAFDoc_ColorType, XCAFDoc_DocumentTool


@dataclass
class Found:
    """One node of the file: its name as used, its product's name, and its solid when it is one."""

    name: str
    product: str
    path: tuple[str, ...]
    colour: str | None = None
    volume: float = 0.0
    lo: tuple[float, float, float] = (0.0, 0.0, 0.0)
    hi: tuple[float, float, float] = (0.0, 0.0, 0.0)
    cg: tuple[float, float, float] = (0.0, 0.0, 0.0)
    valid: bool = True
    children: list[str] = field(default_factory=list)


def read_step(path: Path) -> list[Found]:
    """Every node of a STEP file, parents first; solids measured where they stand."""
    document = TDocStd_Document(TCollection_ExtendedString("XmlXCAF"))
    XCAFApp_Application.GetApplication_s().InitDocument(document)
    reader = STEPCAFControl_Reader()
    reader.SetNameMode(True)
    reader.SetColorMode(True)
    assert reader.ReadFile(str(path)) == IFSelect_ReturnStatus.IFSelect_RetDone
    assert reader.Transfer(document)
    shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    colours = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
    found: list[Found] = []

    def walk(label: Any, path: tuple[str, ...], place: Any) -> None:
        product = TDF_Label()
        if not shapes.GetReferredShape_s(label, product):
            product = label
        here = place.Multiplied(shapes.GetLocation_s(label))
        node = Found(_name(label), _name(product), path)
        found.append(node)
        parts = TDF_LabelSequence()
        shapes.GetComponents_s(product, parts)
        for k in range(1, parts.Length() + 1):
            node.children.append(_name(parts.Value(k)))
            walk(parts.Value(k), (*path, node.name), here)
        if not parts.Length():
            _measure(node, shapes.GetShape_s(product).Moved(here))
            node.colour = _colour(colours, shapes.GetShape_s(product))

    roots = TDF_LabelSequence()
    shapes.GetFreeShapes(roots)
    for k in range(1, roots.Length() + 1):
        walk(roots.Value(k), (), TopLoc_Location())
    return found


def _name(label: Any) -> str:
    name = TDataStd_Name()
    return name.Get().ToExtString() if label.FindAttribute(TDataStd_Name.GetID_s(), name) else ""


def _measure(node: Found, shape: Any) -> None:
    properties, box = GProp_GProps(), Bnd_Box()
    BRepGProp.VolumeProperties_s(shape, properties)
    BRepBndLib.AddOptimal_s(shape, box, False, False)
    node.volume = properties.Mass()
    centre, low, high = properties.CentreOfMass(), box.CornerMin(), box.CornerMax()
    node.cg = (centre.X(), centre.Y(), centre.Z())
    node.lo, node.hi = (low.X(), low.Y(), low.Z()), (high.X(), high.Y(), high.Z())
    node.valid = BRepCheck_Analyzer(shape).IsValid()


def _colour(colours: Any, shape: Any) -> str | None:
    """`#RRGGBB` of the shape or of the first solid in it."""
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer

    rgb = Quantity_Color()
    candidates = [shape]
    explorer = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_SOLID)
    while explorer.More():
        candidates.append(explorer.Current())
        explorer.Next()
    for candidate in candidates:
        for kind in (XCAFDoc_ColorType.XCAFDoc_ColorSurf, XCAFDoc_ColorType.XCAFDoc_ColorGen):
            if colours.GetColor(candidate, kind, rgb):
                values = rgb.Values(Quantity_TypeOfColor.Quantity_TOC_sRGB)
                return "#" + "".join(f"{round(255 * value):02X}" for value in values)
    return None

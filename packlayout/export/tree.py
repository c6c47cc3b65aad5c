"""How the finished thing is put together: the nesting and the names that STEP and GLB share."""

from collections.abc import Iterator
from dataclasses import dataclass

from packlayout.export.palette import PLATE, TUBE
from packlayout.frame.tubes import Member, Plate, TubeFrame
from packlayout.model.geometry import Pose
from packlayout.model.layout import Placement
from packlayout.study import Study


@dataclass(frozen=True, slots=True, eq=False)
class Leaf:
    """One solid thing.

    Attributes:
        name: For people.
        kind: Key of the palette.
        piece: What it is.
    """

    name: str
    kind: str
    piece: Placement | Member | Plate

    @property
    def pose(self) -> Pose:
        """Where its own axes stand in the vehicle."""
        return tube_pose(self.piece) if isinstance(self.piece, Member) else self.piece.pose


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """Things that are assembled together."""

    name: str
    children: "tuple[Group | Leaf, ...]"


def tube_pose(member: Member) -> Pose:
    """Own axes of a tube: origin at its start, x along `side`, z along the centre line."""
    p, a = member.side, member.axis
    q = (a[1] * p[2] - a[2] * p[1], a[2] * p[0] - a[0] * p[2], a[0] * p[1] - a[1] * p[0])
    return Pose(member.start, ((p[0], q[0], a[0]), (p[1], q[1], a[1]), (p[2], q[2], a[2])))


def frame_tree(frame: TubeFrame) -> Group:
    """The frame: cradles and legs, and of each its tubes and plates, in the order of the frame."""
    groups: dict[str, list[Leaf]] = {}
    for member in frame.members:
        groups.setdefault(member.group, []).append(Leaf(member.name, TUBE, member))
    for plate in frame.plates:
        groups.setdefault(plate.group, []).append(Leaf(plate.name, PLATE, plate))
    return Group("frame", tuple(Group(name, tuple(leaves)) for name, leaves in groups.items()))


def assembly_tree(study: Study) -> Group | None:
    """Pack, parts and frame under the name of the case; None when there is not one solid."""
    children: list[Group | Leaf] = []
    if study.layout is not None:
        kind = {name: part.kind for name, part in study.case.parts.items()}
        leaves = {p.name: Leaf(p.name, kind[p.part], p) for p in study.layout.placements}
        blocks = tuple(
            Group(f"block {block.number}", tuple(leaves[module.name] for module in block.modules))
            for block in study.layout.blocks
        )
        parts = tuple(leaves[p.name] for p in study.layout.placements if p.block is None)
        children += [Group("pack", blocks)] if blocks else []
        children += [Group("parts", parts)] if parts else []
    if study.framed is not None and study.framed.frame is not None:
        frame = frame_tree(study.framed.frame)
        children += [frame] if frame.children else []
    return Group(study.case.key, tuple(children)) if children else None


def nodes(root: Group) -> Iterator[Group | Leaf]:
    """The root and everything in it, parents first."""
    yield root
    for child in root.children:
        if isinstance(child, Group):
            yield from nodes(child)
        else:
            yield child


def leaves(root: Group) -> Iterator[Leaf]:
    """Every solid thing."""
    return (node for node in nodes(root) if isinstance(node, Leaf))

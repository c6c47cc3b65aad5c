"""How the finished thing is put together: the nesting and the names that STEP and GLB share."""

from collections.abc import Iterator
from dataclasses import dataclass

from packlayout.electrical.cables import Run
from packlayout.electrical.sleeves import Sleeve
from packlayout.export.palette import PLATE, TUBE
from packlayout.frame.bolting import Bore, bores
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
        bores: Holes in it for what is bolted there, of a tube.
    """

    name: str
    kind: str
    piece: Placement | Member | Plate | Run | Sleeve
    bores: tuple[Bore, ...] = ()

    @property
    def pose(self) -> Pose:
        """Where its own axes stand in the vehicle; a run of cable and its conduit are told in vehicle axes."""
        if isinstance(self.piece, Run | Sleeve):
            return Pose((0.0, 0.0, 0.0))
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


def bores_by_tube(frame: TubeFrame) -> dict[str, tuple[Bore, ...]]:
    """Name of each tube that is drilled -> its holes."""
    made: dict[str, tuple[Bore, ...]] = {}
    for bore in bores(frame):
        made[bore.member] = (*made.get(bore.member, ()), bore)
    return made


def frame_tree(frame: TubeFrame) -> Group:
    """The frame: cradles and legs, and of each its tubes and plates, in the order of the frame."""
    groups: dict[str, list[Leaf]] = {}
    drilled = bores_by_tube(frame)
    for member in frame.members:
        leaf = Leaf(member.name, TUBE, member, drilled.get(member.name, ()))
        groups.setdefault(member.group, []).append(leaf)
    for plate in frame.plates:
        groups.setdefault(plate.group, []).append(Leaf(plate.name, PLATE, plate))
    return Group("frame", tuple(Group(name, tuple(leaves)) for name, leaves in groups.items()))


HARNESS = "harness"
RUN_KINDS = {"HV": "HV cable", "12 V": "12 V cable", "mains": "mains cable", "coolant": "coolant hose",
             "signal": "signal cable"}  # fmt: skip
"""Kind of a run -> what it is called, and its key of the palette."""


def laid_runs(study: Study) -> tuple[Run, ...]:
    """Cables and hoses that found a way."""
    return tuple(r for r in study.wiring.runs if r.line is not None) if study.wiring is not None else ()


CONDUITS = "conduits"


def harness_tree(study: Study) -> Group:
    """Cables and hoses, by what they carry; then the conduit, each piece a tube of its own."""
    groups: dict[str, list[Leaf]] = {}
    for run in laid_runs(study):
        groups.setdefault(RUN_KINDS[run.kind], []).append(Leaf(run.name, RUN_KINDS[run.kind], run))
    made = [Group(f"{kind}s", tuple(runs)) for kind, runs in groups.items()]
    tubes = tuple(
        Leaf(sleeve.name, "conduit" if sleeve.conduit.metal == "no" else "metal conduit", sleeve)
        for run in laid_runs(study)
        for sleeve in run.sleeves
    )
    return Group(HARNESS, (*made, Group(CONDUITS, tubes)) if tubes else tuple(made))


def assembly_tree(study: Study, *, harness: bool = True) -> Group | None:
    """Pack, parts, frame and harness under the name of the case; None when there is not one solid.

    Args:
        study: What was computed.
        harness: False leaves the cables and hoses out.
    """
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
    cables = harness_tree(study)
    children += [cables] if harness and cables.children else []
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

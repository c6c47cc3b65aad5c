"""`picture-use.png`: the frame in every load case, each tube in the colour of its utilisation, with the figure."""

from packlayout.export.chart_looks import LOOKS
from packlayout.export.figures import number
from packlayout.export.meshes import surface
from packlayout.export.palette import PLATE, colour
from packlayout.export.scene import Key, Panel, Panels
from packlayout.export.structure_charts import BANDS, look_of
from packlayout.export.tree import frame_tree, leaves
from packlayout.export.views_of import looking_from
from packlayout.frame.tubes import Member, Plate
from packlayout.model.geometry import Vec
from packlayout.study import Study

USE = "picture-use.png"
LABELLED = 6
"""Tubes that bear their figure in one panel, at most."""


def use_panels(study: Study) -> Panels | None:
    """One panel for the worst of all load cases, then one for each; None when the frame was not solved."""
    designed = study.framed.designed if study.framed is not None else None
    frame = study.framed.frame if study.framed is not None else None
    if designed is None or frame is None or designed.model is None or not designed.members:
        return None
    # brackets are judged by themselves, and may stand far from the frame
    things = [
        leaf for leaf in leaves(frame_tree(frame))
        if isinstance(leaf.piece, Member | Plate) and not leaf.piece.group.startswith("bracket")
    ]  # fmt: skip
    uses = {use.name: use for use in designed.members}
    tubes = {leaf.piece.name: leaf.piece for leaf in things if isinstance(leaf.piece, Member)}

    def panel(title: str, words: str, found: dict[str, float]) -> Panel:
        tints = tuple(tint_of(found[t.name]) if t.name in found else colour(PLATE) for t in things)
        worst = sorted(found, key=lambda name: -found[name])[: 3 * LABELLED]
        return Panel(title, words, tints, tuple((number(found[n], 2), _middle(tubes[n])) for n in worst))

    whole = {name: use.utilisation for name, use in uses.items() if name in tubes}
    first = max(whole, key=lambda name: whole[name])
    panels = [panel(f"All load cases: {number(whole[first], 2)}", f"{first}, {uses[first].load_case}", whole)]
    for n, case in enumerate(designed.cases):
        found = {name: use.by_case[n] for name, use in uses.items() if name in tubes}
        most = max(found, key=lambda name: found[name])
        panels.append(panel(f"{case}: {number(found[most], 2)}", most, found))
    right, up = looking_from(-0.75, -1.0, 0.62)
    caption = "Utilisation of each tube: 1 is the limit. The title names the largest; the tubes used most bear their figure."
    keys = tuple(Key(words, LOOKS[look][0] or "") for _, look, words in BANDS)
    return Panels(
        USE, "How far the tubes are used, from the front left, above", caption,
        tuple(surface(t, study.case) for t in things), tuple(panels), keys, right, up,
    )  # fmt: skip


def tint_of(use: float) -> str:
    """Colour of a tube that is used so far."""
    return LOOKS[look_of(use)][0] or ""


def _middle(member: Member) -> Vec:
    x, y, z = ((a + b) / 2 for a, b in zip(member.start, member.end, strict=True))
    return x, y, z

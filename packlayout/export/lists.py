"""The lists as CSV: what is sawn, from which stock, what is welded in which order, what is bought."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from packlayout.export.bill import bill
from packlayout.export.bolts import BOLT_HEAD, BOLT_LIST, bolt_rows
from packlayout.export.csv_file import write_csv
from packlayout.export.cutting import stock_bars
from packlayout.export.figures import together
from packlayout.export.pack import Made
from packlayout.export.piece_marks import TubeMark, mark_of, plate_marks, side_of, tube_marks
from packlayout.export.tube_holes import TubeHole
from packlayout.export.welds import welds
from packlayout.frame.bolting import bore_mm
from packlayout.frame.tubes import TubeFrame
from packlayout.model.stock import CuttingStock, Thread
from packlayout.study import Study
from packlayout.units import Measured

CUT_LIST, STOCK_LIST, WELD_LIST, BILL = (
    "cut-list.csv",
    "stock-list.csv",
    "weld-list.csv",
    "bill-of-materials.csv",
)

CUT_HEAD = (
    "mark", "quantity", "section", "material", "length_mm", "centre_length_mm", "cut_1_deg", "cut_1_long_side",
    "cut_2_deg", "cut_2_long_side", "mass_each_kg", "pieces", "holes",
)  # fmt: skip


def write_lists(study: Study, folder: Path, notes: tuple[str, ...]) -> Made:
    """Write cut list, stock list, weld list, bolt list and bill of materials.

    Args:
        study: What was computed.
        folder: Where to.
        notes: What the exporters before had to say; not needed here.

    Returns:
        The files; a note when there is no frame, and what the bill leaves out.
    """
    frame = study.framed.frame if study.framed is not None else None
    made: list[Path] = []
    said: list[str] = []
    if frame is None:
        said.append(f"{CUT_LIST}, {STOCK_LIST}, {WELD_LIST} and {BOLT_LIST} left out: there is no frame")
    else:
        made.append(write_csv(folder / CUT_LIST, CUT_HEAD, cut_rows(frame, study.case.threads)))
        made.append(write_csv(folder / STOCK_LIST, *_stock(tube_marks(frame), study.case.tables.stock)))
        made.append(write_csv(folder / WELD_LIST, *_welds(frame, study)))
        made.append(write_csv(folder / BOLT_LIST, BOLT_HEAD, bolt_rows(study)))
    said += [f"{BILL}: {remark}" for remark in bill(study).remarks]
    made.append(write_csv(folder / BILL, *_bill(study)))
    return Made(tuple(made), tuple(said))


def cut_rows(frame: TubeFrame, threads: Mapping[str, Thread]) -> list[tuple[str, ...]]:
    """The cut list: lengths to the longest point, angles off square, and which side each longest point is on.

    Sides are A to D, going round clockwise as seen along the tube from cut 1; cut 1 is the more oblique one, and its
    longest point is on side A.
    """
    return [
        (m.mark, str(len(m.members)), m.section.name, frame.material.name, f"{m.longest_mm:.1f}", f"{m.centre_mm:.1f}",
         *(text for cut in m.cuts for text in (f"{cut.off_square_deg:.1f}", cut.long_side)),
         f"{m.members[0].mass_item(frame.material).mass.value:.3f}", together(p.name for p in m.members),
         "; ".join(hole_words(hole, threads) for hole in m.holes))
        for m in tube_marks(frame)
    ]  # fmt: skip


def hole_words(hole: TubeHole, threads: Mapping[str, Thread]) -> str:
    """A hole of a tube as a driller reads it."""
    aside = (
        f", {abs(hole.aside_mm):.1f} {'on' if hole.aside_mm > 0 else 'back'} from its middle"
        if hole.aside_mm
        else ""
    )
    nut = next((name for name, t in threads.items() if t.clearance_hole_mm == hole.clearance_mm), "")
    bore = f"{bore_mm(hole.clearance_mm, threads):g}" + (f" for blind nut {nut}" if nut else "")
    return f"{hole.from_cut_1_mm:.1f} from cut 1 on side {side_of(hole.side_deg)}{aside}: {bore}"


def _stock(marks: Sequence[TubeMark], stock: CuttingStock) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    head = ("section", "bar", "stock_mm", "cuts", "used_mm", "left_over_mm", "kerf_mm", "trim_mm", "remark")
    rows: list[tuple[str, ...]] = []
    bars = stock_bars(marks, stock)
    for n, bar in enumerate(bars, start=1):
        cuts = " + ".join(f"{count} x {mark} {length:.1f}" for mark, count, length in bar.cuts)
        used = sum(count * length for _, count, length in bar.cuts)
        long = "longer than the stock: order to length" if bar.stock_mm == bar.cuts[0][2] else ""
        rows.append((bar.section, str(n), f"{bar.stock_mm:.0f}", cuts, f"{used:.1f}", f"{bar.waste_mm:.1f}",
                     f"{stock.saw_kerf_mm:g}", f"{stock.trim_mm:g}", long))  # fmt: skip
    for section in dict.fromkeys(bar.section for bar in bars):
        same = [bar for bar in bars if bar.section == section]
        used = sum(count * length for bar in same for _, count, length in bar.cuts)
        bought = sum(bar.stock_mm for bar in same)
        left = sum(bar.waste_mm for bar in same)
        share = f"{100 * (1 - used / bought):.1f} % of what is bought is not used"
        rows.append(
            (
                section,
                "all",
                f"{bought:.0f}",
                f"{len(same)} bars",
                f"{used:.1f}",
                f"{left:.1f}",
                "",
                "",
                share,
            )
        )
    return head, rows


def _welds(frame: TubeFrame, study: Study) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    marks = mark_of((*tube_marks(frame), *plate_marks(frame)))
    head = ("order", "stage", "piece", "mark", "onto", "onto_mark", "joint", "throat_mm", "leg_length_mm", "seam_mm",
            "x_mm", "y_mm", "z_mm")  # fmt: skip
    rows = [
        (str(w.order), w.stage, w.piece, marks[w.piece], w.onto, marks.get(w.onto, ""), w.kind, f"{w.throat_mm:.1f}",
         f"{w.throat_mm * 2**0.5:.1f}", f"{w.length_mm:.0f}", *(f"{v:.0f}" for v in w.at))
        for w in welds(frame, study.case)
    ]  # fmt: skip
    return head, rows


def _bill(study: Study) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    found = bill(study)
    money = found.currency or "money"
    head = ("sort", "what", "source", "quantity", "unit", "mass_kg", "mass_tolerance_kg", f"price_{money}",
            f"price_tolerance_{money}")  # fmt: skip
    rows = [
        (r.sort, r.what, r.source, f"{r.quantity:g}", r.unit, *_pair(r.mass, 3), *_pair(r.price, 2))
        for r in found.rows
    ]
    mass = [r.mass for r in found.rows if r.mass is not None]
    whole = Measured(sum(m.value for m in mass), sum(m.tolerance for m in mass))
    remark = "; ".join(found.remarks)
    rows.append(("total", "of the lines that have a figure" + (f"; {remark}" if remark else ""), "", "", "",
                 *_pair(whole, 3), *_pair(found.total, 2)))  # fmt: skip
    return head, rows


def _pair(found: Measured | None, places: int) -> tuple[str, str]:
    return ("", "") if found is None else (f"{found.value:.{places}f}", f"{found.tolerance:.{places}f}")

"""Full layouts in generated bays: 8 or 12 modules, motor on its line, controller, charger, junction box on top.

    python -m benchmarks.full_layout [--bays 30] [--modules 8] [--seeds 1] [--wider 60] [--first-only]

Prints how many bays hold them, how soon the first valid layout stands, how far the axles are off, and how much
the weighed sum differs between seeds. A bay counts as impossible only where that is proven.
"""

import argparse
from dataclasses import replace

from benchmarks.report import clock, line, spread
from packlayout.mass.ledger import base_items
from packlayout.model.brief import Aims, Case
from packlayout.model.geometry import MassItem
from packlayout.placement.aims import targets
from packlayout.placement.how_many import how_many
from packlayout.placement.place import place
from packlayout.placement.result import Scored
from packlayout.placement.solve import Deadline, setting
from tests.generated import job_in, lofted_bay

BALANCE = Aims(
    front_axle=1, rear_axle=0, side_balance=1, cg_height=0, compactness=0, cable_length=0, splitting=0
)


def warm() -> None:
    """Have all kernels compiled."""
    case = job_in(lofted_bay(900), 2, hardware=True)
    place(case, base_items(case))


def first_layout(case: Case, burden: tuple[MassItem, ...]) -> tuple[Scored | None, str]:
    """The first layout of the count wanted that holds, as `place` looks for it; else the proof of there being none.

    Returns:
        The layout; and, where there is none, what the proof rests on, empty where there is no proof.
    """
    count = case.modules_wanted
    fit = how_many(setting(case, burden, 0), burden, count, count, Deadline(None), lambda _: None)
    return fit.first, fit.proven.basis if fit.proven and not fit.first else ""


def balanced(case: Case, burden: tuple[MassItem, ...]) -> Case:
    """The job with a front axle load to aim at that the masses allow: that of the first valid layout, less 3 kg."""
    found, _ = first_layout(case, burden)
    assert found is not None
    goal = targets(case, burden).front_kg + found.objectives["front_axle_change_kg"] - 3.0
    brief = case.brief.model_copy(update={"aims": BALANCE.model_copy(update={"front_target_kg": goal})})
    return replace(case, brief=brief)


def main() -> None:
    """Measure and print."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--bays", type=int, default=30)
    words.add_argument("--modules", type=int, default=8)
    words.add_argument("--seeds", type=int, default=1)
    words.add_argument("--wider", type=float, default=60.0, help="mm added to the bays")
    words.add_argument("--first-only", action="store_true", help="leave whole placements out")
    args = words.parse_args()
    warm()
    first, whole, front, side, spreads, kinds = [], [], [], [], [], []
    found = possible = 0
    for number in range(args.bays):
        case = job_in(lofted_bay(number, wider_mm=args.wider), args.modules, hardware=True)
        burden = base_items(case)
        start = clock()
        one, proof = first_layout(case, burden)
        taken = clock() - start
        possible += not proof
        found += one is not None
        word = "found" if one else "proven impossible" if proof else "not found"
        print(f"  bay {number}: {word} {proof} {taken:.2f} s")
        if one is None:
            continue
        first.append(taken)
        if args.first_only:
            continue
        aimed = balanced(job_in(lofted_bay(number, wider_mm=args.wider), args.modules, hardware=True), burden)
        start = clock()
        placed = place(aimed, burden, 0)
        whole.append(clock() - start)
        front.append(abs(placed.layouts[0].objectives["front_axle_change_kg"]))
        side.append(abs(placed.layouts[0].objectives["side_difference_kg"]))
        usual = [place(case, burden, seed) for seed in range(args.seeds)]
        kinds.append(float(len(usual[0].layouts)))
        best = [p.layouts[0].score for p in usual]
        spreads.append(100 * (max(best) - min(best)) / min(best))
        print(f"    {kinds[-1]:.0f} layouts, sum {min(best):.3f} to {max(best):.3f}", flush=True)
    line(
        f"{args.modules} modules and hardware, bays not proven impossible",
        f"{found} of {possible} found",
        "all",
    )
    line("first valid layout, cells and checks included", spread(first, "s"), "median 0.2, most 5 s")
    if args.first_only:
        return
    line("whole placement for axle and side", spread(whole, "s"), "10 s")
    line("front axle off its aim", spread(front, "kg"), "under 0.5 kg")
    line("side to side", spread(side, "kg"), "under 0.5 kg")
    line("layouts offered, different and none beaten", spread(kinds, "layouts"), "at least 6")
    if args.seeds > 1:
        line(f"spread of the sum over {args.seeds} seeds", spread(spreads, "%"), "at most 3 %")


if __name__ == "__main__":
    main()

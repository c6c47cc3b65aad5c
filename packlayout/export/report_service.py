"""The report's section on assembly and service: what goes in when, and what comes off before each thing."""

from packlayout.export.blocks import Block, Bullets, Head, Table, Text
from packlayout.placement.paths import service_of
from packlayout.study import Study


def service(study: Study) -> tuple[Block, ...]:
    """The order of assembly, and how each thing is got out again."""
    if study.layout is None:
        return (Text("Not done: nothing was placed."),)
    found = service_of(study.case, study.layout)
    rows = tuple(
        (r.name, "yes" if r.serviced else "", r.way or f"no straight way: {r.shut_by}",
         ", then ".join(r.first) or "nothing")
        for r in found.removals
    )  # fmt: skip
    words = (
        "Straight ways through the open sides of the zones; those that the brief wants serviced first. Cables and "
        "hoses are taken off before anything is moved."
    )
    table = Table(("thing", "serviced", "comes out", "what comes off before it, in this order"), rows, caption=words,
                  shares=(0.28, 0.09, 0.2, 0.43))  # fmt: skip
    order = Bullets(tuple(f"{n}. {name}" for n, name in enumerate(found.put_in, start=1)))
    return (
        Head("Order of assembly", "assembly"),
        order,
        Head("What comes off for service", "removals"),
        table,
    )

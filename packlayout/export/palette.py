"""One colour for each kind of thing, the same in STEP, GLB, pictures and report.

Chosen so that any two of them stay apart for people with deuteranopia and protanopia as well: the first seven are
the colours of Okabe and Ito, "Color Universal Design" (values from memory), the others were searched for distance
under the simulation of Machado, Oliveira and Fernandes (2009). Colour is never the only sign: names stand beside.
"""

TUBE = "frame tube"
PLATE = "frame plate"

PART_COLOURS: dict[str, str] = {
    "battery module": "#009E73",
    "junction box": "#E69F00",
    "controller": "#56B4E9",
    "motor": "#0072B2",
    "reduction gear": "#332288",
    "charger": "#F0E442",
    "heater": "#D55E00",
    "DC-DC converter": "#9281A0",
    "12 V battery": "#D32F43",
    "pump": "#C3BCC2",
    "bracket": "#583D00",
    "other": "#B9C885",
}
"""Kind of part -> colour; one for each of `packlayout.model.catalogue.KINDS`."""

FRAME_COLOURS: dict[str, str] = {TUBE: "#474C5E", PLATE: "#2B2F3A"}

RUN_COLOURS: dict[str, str] = {
    "HV cable": "#FF8C42",  # orange, as UN Regulation No. 100 wants its covering
    "12 V cable": "#2A00FF",
    "mains cable": "#330505",
    "coolant hose": "#1979FF",
    "signal cable": "#7A9A01",
    "conduit": "#B34700",  # round high voltage and mains: a darker orange than what it holds
    "metal conduit": "#8C8C94",
}
"""Kind of run or conduit in the harness -> colour."""

SEE_THROUGH: dict[str, tuple[str, float]] = {
    "zone": ("#56B4E9", 0.18),
    "keep-out solid": ("#6E7681", 0.30),
    "keep-out moving": ("#CC79A7", 0.35),
    "keep-out hot": ("#D55E00", 0.30),
}
"""What one looks through -> colour and opacity."""

MOUNT = "#000000"
CG_BEFORE = "#000000"
CG_AFTER = "#B3003C"


def colour(kind: str) -> str:
    """Colour of a part kind, a tube, a plate or a run, as `#RRGGBB`; `KeyError` for any other word."""
    return next((t[kind] for t in (PART_COLOURS, RUN_COLOURS) if kind in t), None) or FRAME_COLOURS[kind]


def channels(hex_colour: str) -> tuple[float, float, float]:
    """`#RRGGBB` -> red, green, blue from 0 to 1, sRGB."""
    red, green, blue = (int(hex_colour[k : k + 2], 16) / 255 for k in (1, 3, 5))
    return red, green, blue

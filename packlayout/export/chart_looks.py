"""What the marks of a chart look like on paper: the light colours of the page."""

INK, FAINT, RULE, TINT = "#1b1f24", "#59626d", "#c5ccd3", "#f3f5f7"
LOOKS: dict[str, tuple[str | None, float, str | None]] = {
    "ground": (RULE, 1.2, None), "rule": (RULE, 1.2, None), "body": (FAINT, 1.5, TINT),
    "wheel": (FAINT, 3.0, "#ffffff"), "before": (None, 0, "#9aa3ad"), "after": (None, 0, "#0072b2"),
    "laden": (None, 0, "#56b4e9"), "spread": (INK, 2.5, None), "limit": ("#a80036", 1.5, None),
    "room": (None, 0, "#cfe8f7"), "curve": ("#0072b2", 3.5, None), "mark": (None, 0, INK),
    "faint": (FAINT, 1.0, None), "use-1": ("#b4bec9", 2.5, None), "use-2": ("#6baed6", 4.0, None),
    "use-3": ("#2171b5", 5.5, None), "use-4": ("#08306b", 7.0, None), "use-5": ("#d55e00", 9.0, None),
}  # fmt: skip
"""Look of a mark -> stroke, width, fill."""

WORD_LOOKS = {"faint": FAINT, "limit": "#a80036", "out": "#ffffff", "in": "#10151a"}
"""Look of words -> colour; the others are ink."""

"""What a picture shows, in plain values that can be handed to another process: vehicle axes, mm."""

from dataclasses import dataclass

from packlayout.model.geometry import Floats, TriMesh, Vec


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """Triangles of one colour.

    Attributes:
        mesh: Where it is.
        colour: `#RRGGBB`.
        opacity: 1 for solid things.
        edge: Colour of its sharp edges; None draws none.
    """

    mesh: TriMesh
    colour: str
    opacity: float = 1.0
    edge: str | None = "#1A1A1A"


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A line through points: (n, 3), mm."""

    points: Floats
    colour: str
    width_px: float


@dataclass(frozen=True, slots=True)
class Callout:
    """Words that point at a place."""

    text: str
    at: Vec


@dataclass(frozen=True, slots=True)
class Mark:
    """A centre of gravity: a ring before, a filled diamond after."""

    text: str
    at: Vec
    after: bool


@dataclass(frozen=True, slots=True)
class Caption:
    """Words under a place on the ground, one line each."""

    lines: tuple[str, ...]
    at: Vec


@dataclass(frozen=True, slots=True)
class Key:
    """One entry of the legend; the sign is `square`, `line`, `ring`, `diamond` or `cross`."""

    text: str
    colour: str
    opacity: float = 1.0
    sign: str = "square"


@dataclass(frozen=True, slots=True)
class View:
    """One picture of the scene, in parallel projection.

    Attributes:
        file: Name of the picture.
        title: What one looks at from where.
        right: Unit vector that points to the right of the picture.
        up: Unit vector that points up in the picture.
        flat: True when lengths can be read off: draws a scale bar and the captions.
    """

    file: str
    title: str
    right: Vec
    up: Vec
    flat: bool


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """Everything that the pictures show."""

    title: str
    surfaces: tuple[Surface, ...]
    lines: tuple[Line, ...]
    callouts: tuple[Callout, ...]
    marks: tuple[Mark, ...]
    crosses: tuple[Vec, ...]
    captions: tuple[Caption, ...]
    keys: tuple[Key, ...]
    views: tuple[View, ...]
    frame: Floats
    """(n, 3) points that must be in the picture."""


@dataclass(frozen=True, slots=True)
class Panel:
    """One small picture among others of the same things, each in colours of its own.

    Attributes:
        title: Above it.
        words: Under the title.
        tints: `#RRGGBB` of each surface.
        figures: Words and where they belong, the most important first; what would cover others is left out.
    """

    title: str
    words: str
    tints: tuple[str, ...]
    figures: tuple[tuple[str, Vec], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Panels:
    """Pictures side by side.

    Attributes:
        file: Name of the picture.
        title: Of all of it.
        caption: How to read it.
        surfaces: What each panel shows; its colour is that of the panel.
        panels: In rows of two.
        keys: Legend.
        right: Unit vector that points to the right of each panel.
        up: Unit vector that points up.
    """

    file: str
    title: str
    caption: str
    surfaces: tuple[TriMesh, ...]
    panels: tuple[Panel, ...]
    keys: tuple[Key, ...]
    right: Vec
    up: Vec

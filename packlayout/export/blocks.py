"""What a report is made of: headings, paragraphs, lists, tables, charts, pictures. HTML and PDF set the same blocks."""

from dataclasses import dataclass
from typing import Literal

from packlayout.export.charts import Chart
from packlayout.model.check import Verdict


@dataclass(frozen=True, slots=True)
class Table:
    """A table of text; columns that are figures are set to the right.

    A line break in a cell begins a remark in small letters.

    Attributes:
        head: One word or two for each column.
        rows: As wide as the head.
        figures: Numbers of the columns that hold figures.
        caption: What the table shows; may be empty.
        verdicts: Number of the column that holds a verdict, if any.
        colours: `#RRGGBB` of each row, shown beside its second cell; empty for none.
        close: True for a wide table, set in smaller letters.
        shares: Relative widths of the columns on paper; even by content when empty.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    figures: frozenset[int] = frozenset()
    caption: str = ""
    verdicts: int | None = None
    colours: tuple[str, ...] = ()
    close: bool = False
    shares: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph; `faint` for what is said in passing."""

    text: str
    faint: bool = False


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list."""

    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Head:
    """A heading within a section, with an anchor that can be linked to."""

    text: str
    anchor: str = ""


@dataclass(frozen=True, slots=True)
class Answer:
    """One thing a reader wants to know at once.

    Attributes:
        question: In words.
        verdict: How it came out.
        sentence: The answer.
        details: More of it, one sentence each.
    """

    question: str
    verdict: Verdict
    sentence: str
    details: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Danger:
    """What a person may be killed by: before everything else."""

    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Fact:
    """One figure that a customer asks for.

    Attributes:
        name: What it is.
        figure: With its unit; `not done` when it was not computed.
        words: What belongs to it.
    """

    name: str
    figure: str
    words: str = ""


@dataclass(frozen=True, slots=True)
class Facts:
    """Figures side by side, three in a row."""

    facts: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture of the file that bears this name in the pack."""

    words: str
    png: bytes

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels, from the head of the PNG (its chunk IHDR)."""
        return int.from_bytes(self.png[16:20]), int.from_bytes(self.png[20:24])


@dataclass(frozen=True, slots=True)
class Turning:
    """A model that can be turned on the screen; left out on paper.

    Attributes:
        points: Positions in the box, three 16-bit figures each, base64.
        tints: Red, green, blue of each point, base64.
        faces: Triangles as 32-bit numbers of points, base64.
        size: Sides of the box, mm.
    """

    points: str
    tints: str
    faces: str
    size: str


@dataclass(frozen=True, slots=True)
class Digests:
    """Files and their hashes."""

    rows: tuple[tuple[str, str], ...]


Block = Table | Text | Bullets | Head | Answer | Danger | Facts | Picture | Chart | Digests | Turning


@dataclass(frozen=True, slots=True)
class Section:
    """A chapter of the report.

    Attributes:
        anchor: To link to.
        title: Heading.
        part: Who it is for.
        blocks: What stands in it.
    """

    anchor: str
    title: str
    part: Literal["customer", "engineer", "cautions"]
    blocks: tuple[Block, ...]

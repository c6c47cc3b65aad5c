"""The stock a frame is made of: one tube section, one metal, one thread, and what the shop buys and cuts it from.

The tables of the first three are in `catalogue`.
"""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from packlayout.model.record import Record, Within

Name = Annotated[str, Field(min_length=1, max_length=120)]
Text = Annotated[str, Field(max_length=2000)]


class TubeSection(Record):
    """A hollow section from the stock table: square, rectangular or round.

    Attributes:
        kind: Its shape.
        side_mm: Outer side; the longer one of a rectangular tube, the diameter of a round one.
        width_mm: The shorter side of a rectangular tube; left out for the others.
        outer_radius_mm: Of the corners; half the diameter of a round tube.
        inertia_mm4: Second moment when the longer side stands in the plane of bending.
        modulus_mm3: Elastic modulus, likewise.
        minor_inertia_mm4: Second moment of a rectangular tube bent the other way; left out for the others.
        minor_modulus_mm3: Elastic modulus, likewise.
    """

    name: Name
    kind: Literal["square", "rectangular", "round"] = "square"
    side_mm: Annotated[float, Within("mm", 5, 300)]
    width_mm: Annotated[float, Within("mm", 5, 300)] | None = None
    wall_mm: Annotated[float, Within("mm", 0.5, 20)]
    outer_radius_mm: Annotated[float, Within("mm", 0, 150)]
    area_mm2: Annotated[float, Within("1", 1, 1e6)]
    inertia_mm4: Annotated[float, Within("1", 1, 1e12)]
    modulus_mm3: Annotated[float, Within("1", 1, 1e9)]
    minor_inertia_mm4: Annotated[float, Within("1", 1, 1e12)] | None = None
    minor_modulus_mm3: Annotated[float, Within("1", 1, 1e9)] | None = None

    @model_validator(mode="after")
    def _of_its_kind(self) -> "TubeSection":
        minor = (self.width_mm, self.minor_inertia_mm4, self.minor_modulus_mm3)
        if self.kind == "rectangular":
            if None in minor:
                raise ValueError(
                    "a rectangular tube lacks figures; allowed: width, minor_inertia_mm4 and minor_modulus_mm3 besides"
                )
            if not self.narrow_mm < self.side_mm:
                raise ValueError("side is not the longer one; allowed: side larger than width")
        elif minor != (None, None, None):
            raise ValueError(
                f"a {self.kind} tube has no other side; allowed: width, minor_inertia_mm4 and minor_modulus_mm3 "
                "with kind rectangular alone"
            )
        if self.kind == "round" and abs(self.outer_radius_mm - self.side_mm / 2) > 0.01:
            raise ValueError(
                f"outer_radius {self.outer_radius_mm:g} is not that of a round tube; allowed: half the diameter, "
                f"{self.side_mm / 2:g}"
            )
        if 2 * self.wall_mm >= self.narrow_mm:
            raise ValueError("nothing is left inside; allowed: a wall of less than half the side")
        return self

    @property
    def narrow_mm(self) -> float:
        """The shorter side; of a square tube its side, of a round one its diameter."""
        return self.width_mm if self.width_mm is not None else self.side_mm

    @property
    def inner_radius_mm(self) -> float:
        """Inner corner radius, mm."""
        return max(0.0, self.outer_radius_mm - self.wall_mm)


class Material(Record):
    """A metal that frames are made of.

    Attributes:
        yield_mpa: Yield strength, or 0.2 % proof strength of aluminium.
        family: Which Eurocode judges it: EN 1993-1-1 or EN 1999-1-1.
        weld_factor: Correlation factor of fillet welds in steel, EN 1993-1-8 table 4.1.
        filler_mpa: Strength of the weld metal in aluminium, EN 1999-1-1 table 8.8.
        weld_yield_mpa: Proof strength in the heat-affected zone beside a weld.
        weld_ultimate_mpa: Ultimate strength there.
        imperfection: Imperfection factor of flexural buckling.
        plateau: Slenderness below which it does not buckle.
    """

    name: Name
    density_kg_per_m3: Annotated[float, Within("kg_per_m3", 500, 20_000)]
    yield_mpa: Annotated[float, Within("mpa", 10, 3000)]
    ultimate_mpa: Annotated[float, Within("mpa", 10, 3000)]
    modulus_mpa: Annotated[float, Within("mpa", 1000, 500_000)]
    family: Literal["steel", "aluminium"] = "steel"
    weld_factor: Annotated[float, Within("1", 0.5, 1.5)] | None = None
    filler_mpa: Annotated[float, Within("mpa", 10, 1000)] | None = None
    weld_yield_mpa: Annotated[float, Within("mpa", 10, 3000)] | None = None
    weld_ultimate_mpa: Annotated[float, Within("mpa", 10, 3000)] | None = None
    imperfection: Annotated[float, Within("1", 0.05, 1)] = 0.49
    plateau: Annotated[float, Within("1", 0, 0.5)] = 0.2
    source: Text


class Thread(Record):
    """What a bolt of one thread needs around it, and what its size says of its strength.

    Attributes:
        diameter_mm: Of the thread.
        stress_area_mm2: Tensile stress area.
        head_flats_mm: Across the flats of head and nut.
        head_height_mm: Of a hexagon head.
        nut_height_mm: Of a hexagon nut.
        washer_thickness_mm: Of a plain washer.
        blind_nut_bore_mm: Hole for a blind nut of this thread.
    """

    thread: Name
    clearance_hole_mm: Annotated[float, Within("mm", 1, 100)]
    washer_diameter_mm: Annotated[float, Within("mm", 2, 200)]
    diameter_mm: Annotated[float, Within("mm", 1, 100)] | None = None
    stress_area_mm2: Annotated[float, Within("1", 1, 10_000)] | None = None
    head_flats_mm: Annotated[float, Within("mm", 2, 200)] | None = None
    head_height_mm: Annotated[float, Within("mm", 0.5, 100)] | None = None
    nut_height_mm: Annotated[float, Within("mm", 0.5, 100)] | None = None
    washer_thickness_mm: Annotated[float, Within("mm", 0.1, 20)] | None = None
    blind_nut_bore_mm: Annotated[float, Within("mm", 2, 100)] | None = None


Side = Annotated[float, Within("mm", 100, 20_000)]


class CuttingStock(Record):
    """`shared/stock.yaml`: lengths and sheets as the shop buys them, and what its saw and cutter take off.

    Where the file is not there, these figures stand; they are common practice, no source.

    Attributes:
        bar_mm: Length of a tube as bought.
        bars: Section -> length, for those that come in another one.
        saw_kerf_mm: Width of the saw cut.
        trim_mm: Cut off square at the first end of a bar.
        sheet: [length, width] of a sheet of plate as bought.
        sheet_gap_mm: Between plates on a sheet, and to its edge.
    """

    source: Annotated[str, Field(min_length=1, max_length=2000)] = "common practice, no source"
    bar_mm: Side = 6000.0
    bars: dict[str, Side] = Field(default_factory=dict)
    saw_kerf_mm: Annotated[float, Within("mm", 0, 20)] = 3.0
    trim_mm: Annotated[float, Within("mm", 0, 500)] = 10.0
    sheet: tuple[Side, Side] = (2000.0, 1000.0)
    sheet_gap_mm: Annotated[float, Within("mm", 0, 200)] = 10.0

    def bar_of(self, section: str) -> float:
        """Length in which a section is bought, mm."""
        return self.bars.get(section, self.bar_mm)

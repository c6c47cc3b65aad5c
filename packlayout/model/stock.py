"""The stock a frame is made of: one tube section, one metal, one thread. Their tables are in `catalogue`."""

from typing import Annotated, Literal

from pydantic import Field

from packlayout.model.record import Record, Within

Name = Annotated[str, Field(min_length=1, max_length=120)]
Text = Annotated[str, Field(max_length=2000)]


class TubeSection(Record):
    """A square hollow section from the stock table."""

    name: Name
    side_mm: Annotated[float, Within("mm", 5, 300)]
    wall_mm: Annotated[float, Within("mm", 0.5, 20)]
    outer_radius_mm: Annotated[float, Within("mm", 0, 40)]
    area_mm2: Annotated[float, Within("1", 1, 1e6)]
    inertia_mm4: Annotated[float, Within("1", 1, 1e12)]
    modulus_mm3: Annotated[float, Within("1", 1, 1e9)]

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
    """

    thread: Name
    clearance_hole_mm: Annotated[float, Within("mm", 1, 100)]
    washer_diameter_mm: Annotated[float, Within("mm", 2, 200)]
    diameter_mm: Annotated[float, Within("mm", 1, 100)] | None = None
    stress_area_mm2: Annotated[float, Within("1", 1, 10_000)] | None = None
    head_flats_mm: Annotated[float, Within("mm", 2, 200)] | None = None

"""Copper cable: resistance when warm, current it may carry, short circuit it bears, voltage it drops.

Valid for: single-core copper cable of the table, bundled no closer than the table's method of laying.
"""

from math import log, sqrt

from packlayout.model.electrics import CableSize, CableTable

BETA_COPPER_DEGC = 234.5
"""Reciprocal of the temperature coefficient of copper at 0 C (IEC 60228 annex, IEC 60724)."""
K_COPPER = 226.0
"""A s^0.5 / mm2, from volumetric heat and resistivity of copper (IEC 60364-5-54 annex A)."""


def resistance_at(ohm_per_km_20: float, temperature_degc: float) -> float:
    """Resistance of copper at a temperature, ohm/km.

    Args:
        ohm_per_km_20: At 20 degrees C.
        temperature_degc: Of the conductor.

    Source: IEC 60228; R_t = R_20 (234.5 + t) / 254.5.
    """
    return ohm_per_km_20 * (BETA_COPPER_DEGC + temperature_degc) / (BETA_COPPER_DEGC + 20)


def adiabatic_k(initial_degc: float, final_degc: float) -> float:
    """The factor k of the adiabatic equation for copper, A s^0.5 / mm2.

    Args:
        initial_degc: Conductor before the short circuit.
        final_degc: Highest allowed at its end.

    Source: IEC 60364-5-54 annex A; 70 to 160 C gives 115, 90 to 250 C gives 143.
    """
    return K_COPPER * sqrt(log((BETA_COPPER_DEGC + final_degc) / (BETA_COPPER_DEGC + initial_degc)))


def withstand_a2s(table: CableTable, size: CableSize) -> float:
    """I2t that a cable bears from its working temperature on, A2 s: (k S)2, IEC 60364-4-43 clause 434.5.2."""
    return (adiabatic_k(table.conductor_degc, table.short_circuit_degc) * size.area_mm2) ** 2


def ampacity(table: CableTable, size: CableSize, ambient_degc: float) -> float:
    """Current a cable carries at an ambient temperature, A.

    Heat given off rises with the difference between conductor and air, heat made with the square of the
    current. Nought where the air is as hot as the conductor may be.

    Source: IEC 60364-5-52 table B.52.14, whose factors are sqrt((Tc - T) / (Tc - 30)) rounded.
    """
    span = table.conductor_degc - table.ambient_degc
    return size.ampacity_a * sqrt(max(0.0, table.conductor_degc - ambient_degc) / span)


def drop(size: CableSize, length_mm: float, current_a: float, conductor_degc: float) -> float:
    """Voltage lost along a length of one conductor, V."""
    return current_a * resistance_at(size.resistance_ohm_per_km, conductor_degc) * length_mm * 1e-6


def smallest(
    table: CableTable, ambient_degc: float, current_a: float, fuse_a: float | None, clearing_a2s: float | None
) -> CableSize | None:
    """The thinnest cable that carries a current, is protected by its fuse and bears the short circuit.

    Args:
        table: Sizes in their order.
        ambient_degc: Hottest air round it.
        current_a: In service.
        fuse_a: Rating of the fuse ahead of it, None where the source itself limits the current.
        clearing_a2s: I2t that fuse lets through.

    Returns:
        The size; None when even the thickest is too thin.

    Source: IEC 60364-4-43 clause 433.1: IB <= In <= Iz; clause 434.5.2: I2t <= k2 S2.
    """
    for size in table.sizes:
        if ampacity(table, size, ambient_degc) < max(current_a, fuse_a or 0.0):
            continue
        if clearing_a2s is not None and clearing_a2s > withstand_a2s(table, size):
            continue
        return size
    return None

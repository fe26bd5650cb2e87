"""Facts that several rooms ask for, each in one place."""

from __future__ import annotations

from fitplan.model.electrical import CellPack
from fitplan.model.part import Part
from fitplan.model.plugged import PLUG

WIRE_COLOURS: dict[str, tuple[str, str]] = {
    "BK": ("black", "#22262a"),
    "BN": ("brown", "#7a4a25"),
    "RD": ("red", "#c22f2a"),
    "OG": ("orange", "#e0801f"),
    "YE": ("yellow", "#e6c02a"),
    "GN": ("green", "#3a8a4a"),
    "BU": ("blue", "#2f66b5"),
    "VT": ("violet", "#7d4fa3"),
    "GY": ("grey", "#8b8f92"),
    "WH": ("white", "#f4f3ee"),
    "PK": ("pink", "#e59ab0"),
    "TQ": ("turquoise", "#2fa9a4"),
    "GD": ("gold", "#b08d2e"),
    "SR": ("silver", "#b9bec2"),
    "GNYE": ("green and yellow", "#8fae35"),
}
"""Letter codes of IEC 60757:2021 with the word and a screen colour (our own choice) of each."""


G_M_S2 = 9.81
"""Standard gravity (ISO 80000-3), rounded."""
STUD_HOLDS_N = 1.0
"""What a stud holds for good when it is pulled off (common practice, no source)."""
BRICK_G_MM3 = 0.6e-3
"""Grams in a cubic millimetre of brick-built body, hollow bricks counted full; from memory, to be weighed."""
LEAD_PULLS_N = 0.5
"""How hard a lead as bought, bent and plugged in, draws at a part (common practice, no source)."""


def sideways_n(part: Part) -> float:
    """Return what pushes a part sideways in a tumble: its weight at 1 g, and the pull of a lead, in N."""
    plugged = any(one.name == PLUG for one in part.clearances)
    return mass_of(part) / 1000 * G_M_S2 + (LEAD_PULLS_N if plugged else 0.0)


def mass_of(part: Part) -> float:
    """Return the mass of a part as it is built in, with its cells, in g."""
    pack = part.figure(CellPack)
    return part.mass_g + (pack.cells * pack.cell_mass_g if pack is not None else 0.0)

"""Which heat-shrink goes over a joint: diameter before shrinking and length."""

from __future__ import annotations

from collections.abc import Sequence

SIZES_MM = (1.6, 2.4, 3.2, 4.8, 6.4, 9.5, 12.7)
"""Inner diameters that 2:1 heat-shrink is sold in (common practice, no source)."""
_EASE = 1.25
"""It slides on when it is this many times as wide as what it goes over (common practice, no source)."""
RESISTORS_MM = {0.125: (1.8, 3.5), 0.25: (2.4, 6.5), 0.5: (3.3, 9.0), 1.0: (4.5, 11.5)}
"""Diameter and length of the body by its power (typical, from memory)."""
_LAP_MM = 18.0
"""Both lap joints beside a resistor together, and what the sleeve covers of the wires."""


def least_size(thickness_mm: float) -> float:
    """Return the smallest size (mm) that slides over something; the largest where none does."""
    return next((size for size in SIZES_MM if size >= _EASE * thickness_mm), SIZES_MM[-1])


def sleeve_for(outers_mm: Sequence[float]) -> float:
    """Return the size over wires that meet in one joint, half of them from either side.

    Two wires side by side are as wide as both together; of more, a round bundle is reckoned with.
    """
    widest = sorted(outers_mm, reverse=True)[: max(1, (len(outers_mm) + 1) // 2)]
    if len(widest) < 3:
        return least_size(sum(widest))
    return least_size(1.2 * sum(outer * outer for outer in widest) ** 0.5 * 1.05)


def resistor_sleeve(rated_w: float) -> tuple[float, float]:
    """Return size and length (mm) of the sleeve over a resistor that is soldered into a lead."""
    thick, long = RESISTORS_MM.get(rated_w, RESISTORS_MM[1.0])
    return least_size(thick), float(round((long + _LAP_MM) / 5) * 5)

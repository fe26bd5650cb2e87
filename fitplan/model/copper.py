"""Copper wire: diameter and area by gauge, resistance by length."""

from __future__ import annotations

import math

COPPER_OHM_MM2_M = 1 / 58
"""Resistivity of annealed copper at 20 °C in Ω·mm²/m (IEC 60028)."""

COPPER_PER_KELVIN = 0.00393
"""Temperature coefficient of its resistance at 20 °C (IEC 60028)."""

STRANDING = 1.02
"""Strands are longer than the wire they form; this share is added to the solid wire's resistance.

Common practice, no source; the class 5 limits of IEC 60228 lie further above, at 1.13.
"""


def awg_diameter(awg: int) -> float:
    """Return the copper diameter in mm: 0.127·92^((36 − n)/39) (ASTM B258)."""
    return float(0.127 * 92 ** ((36 - awg) / 39))


def awg_area(awg: int) -> float:
    """Return the copper area in mm² (ASTM B258)."""
    return math.pi / 4 * awg_diameter(awg) ** 2


def ohm_per_m(area_mm2: float, temperature_c: float = 20.0) -> float:
    """Return the resistance of solid copper in Ω/m (IEC 60028)."""
    return COPPER_OHM_MM2_M / area_mm2 * (1 + COPPER_PER_KELVIN * (temperature_c - 20.0))


def awg_ohm_per_m(awg: int, temperature_c: float = 20.0, *, stranded: bool = False) -> float:
    """Return the resistance of a gauge in Ω/m, by `ohm_per_m`; stranded wire has `STRANDING` more."""
    return ohm_per_m(awg_area(awg), temperature_c) * (STRANDING if stranded else 1.0)


CIRCULAR_MILS_PER_AMP = 711.0
"""Copper area that an ampere needs, for wires in a closed space.

The handbook's rule for power transmission, the most careful in use, says 700; 711 stays at or below its
rounded table throughout (0.92 A for AWG 22, 0.226 A for AWG 28).
"""


def current_limit(awg: int) -> float:
    """Return the most a wire in a closed space should carry, in A (`CIRCULAR_MILS_PER_AMP`)."""
    mils = awg_diameter(awg) / 25.4 * 1000
    return mils * mils / CIRCULAR_MILS_PER_AMP

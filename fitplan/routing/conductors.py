"""Gauge, resistance, voltage drop and current limit of copper wires."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

COPPER_OHM_MM2_M = 1 / 58
"""Resistivity of annealed copper at 20 °C in Ω·mm²/m (IEC 60028)."""

COPPER_PER_KELVIN = 0.00393
"""Temperature coefficient of its resistance at 20 °C (IEC 60028)."""

CLASS_5_OHM_KM = {0.5: 39.0, 0.75: 26.0, 1.0: 19.5}
"""Largest resistance at 20 °C of flexible plain copper conductors, Ω/km by mm² (IEC 60228, class 5)."""

CIRCULAR_MILS_PER_AMP = 711.0
"""Copper area that an ampere needs, for wires in a closed space.

The handbook's rule for power transmission, the most careful in use, says 700; 711 stays at or below its
rounded table throughout (0.92 A for AWG 22, 0.226 A for AWG 28).
"""

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


def current_limit(awg: int) -> float:
    """Return the most a wire in a closed space should carry, in A (`CIRCULAR_MILS_PER_AMP`)."""
    mils = awg_diameter(awg) / 25.4 * 1000
    return mils * mils / CIRCULAR_MILS_PER_AMP


def voltage_drop(current_a: float, length_m: float, ohm_m: float, *, and_back: bool = True) -> float:
    """Return the drop in V over a wire and, unless told otherwise, its return of the same length."""
    return current_a * ohm_m * length_m * (2 if and_back else 1)


@dataclass(frozen=True)
class GaugeChoice:
    """A gauge and what decided it.

    Attributes
    ----------
    awg
        The thinnest that will do; the thickest there is when none does.
    suffices
        False when even the thickest breaks a limit.
    drop_v, drop_limit_v
        Drop there and back, and what was allowed.
    current_a, current_limit_a
        What flows, and what the gauge may carry.
    decided_by
        ``drop``: the next thinner one drops too much; ``current``: it would carry too much; ``stock``: there
        is no thinner one.
    """

    awg: int
    suffices: bool
    drop_v: float
    drop_limit_v: float
    current_a: float
    current_limit_a: float
    decided_by: Literal["drop", "current", "stock"]


def choose_gauge(
    current_a: float,
    length_m: float,
    drop_limit_v: float,
    stock: Iterable[int],
    *,
    temperature_c: float = 40.0,
    and_back: bool = True,
) -> GaugeChoice:
    """Return the thinnest gauge in stock that keeps both limits.

    Parameters
    ----------
    length_m
        Length of the wire one way, in m.
    drop_limit_v
        Largest drop, there and back when `and_back`.
    stock
        Gauges that may be used.
    temperature_c
        Of the copper; warmer copper drops more.

    Raises
    ------
    ValueError
        Nothing is in stock, or a figure is negative.
    """
    gauges = sorted(set(stock), reverse=True)
    if not gauges:
        raise ValueError("no gauge is in stock")
    if min(current_a, length_m, drop_limit_v) < 0:
        raise ValueError("current, length and drop are at least 0")
    decided: Literal["drop", "current", "stock"] = "stock"
    for awg in gauges:
        ohm = awg_ohm_per_m(awg, temperature_c, stranded=True)
        drop = voltage_drop(current_a, length_m, ohm, and_back=and_back)
        fits_current, fits_drop = current_a <= current_limit(awg), drop <= drop_limit_v
        if (fits_current and fits_drop) or awg == gauges[-1]:
            break
        decided = "drop" if fits_current else "current"
    limit = current_limit(awg)
    return GaugeChoice(awg, fits_current and fits_drop, drop, drop_limit_v, current_a, limit, decided)

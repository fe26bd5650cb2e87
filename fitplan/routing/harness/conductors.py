"""Gauge, resistance, voltage drop and current limit of copper wires."""

from __future__ import annotations

from collections.abc import Iterable

from fitplan.model.copper import awg_ohm_per_m, current_limit

WARM_C = 40.0
"""Of the copper inside a closed vehicle; warmer copper drops more (common practice, no source)."""


def voltage_drop(current_a: float, length_m: float, ohm_m: float) -> float:
    """Return the drop in V over a wire, one way."""
    return current_a * ohm_m * length_m


def choose_gauge(current_a: float, length_m: float, drop_limit_v: float, stock: Iterable[int]) -> int:
    """Return the thinnest gauge in stock that keeps both limits; the thickest where none does.

    Parameters
    ----------
    length_m
        Length of the wire one way, in m.
    drop_limit_v
        Largest drop, there and back.
    stock
        Gauges that may be used.

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

    def does(awg: int) -> bool:
        drop = voltage_drop(current_a, 2 * length_m, awg_ohm_per_m(awg, WARM_C, stranded=True))
        return current_a <= current_limit(awg) and drop <= drop_limit_v

    return next((awg for awg in gauges if does(awg)), gauges[-1])

"""Gauge, resistance, voltage drop and current limit of copper wires."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from fitplan.model.copper import awg_ohm_per_m, current_limit


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

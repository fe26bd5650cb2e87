"""Two resistors that bring a signal down to what a pin stands, in values that are sold."""

from __future__ import annotations

from dataclasses import dataclass

from fitplan.circuit.resistors import E24 as E24

TOLERANCE = 0.05
_LEAST_OHM, _MOST_OHM = 5_000, 30_000
"""Sum of both resistors: a light load for the sender, and fast enough for an echo (common practice)."""


@dataclass(frozen=True)
class Divider:
    """``upper_ohm`` from the sender to the pin, ``lower_ohm`` from the pin to ground; volts at the pin."""

    upper_ohm: int
    lower_ohm: int
    volts: float
    most_volts: float
    """With both resistors off by their tolerance in the worse sense."""


def divider(sent_v: float, allowed_v: float) -> Divider:
    """Return the divider in E24 values that gives most volts without ever exceeding what is allowed.

    Among equals the one whose sum is least.

    Raises
    ------
    ValueError
        When nothing need be divided.
    """
    if not 0 < allowed_v < sent_v:
        raise ValueError(f"{sent_v:g} V need no divider to stay below {allowed_v:g} V")
    values = [base * scale for scale in (100, 1000) for base in E24]
    found: Divider | None = None
    for upper in values:
        for lower in values:
            if not _LEAST_OHM <= upper + lower <= _MOST_OHM:
                continue
            low, high = upper * (1 - TOLERANCE), lower * (1 + TOLERANCE)
            most = sent_v * high / (low + high)
            if most > allowed_v:
                continue
            made = Divider(upper, lower, sent_v * lower / (upper + lower), most)
            if found is None or (-made.volts, upper + lower) < (
                -found.volts,
                found.upper_ohm + found.lower_ohm,
            ):
                found = made
    if found is None:
        raise ValueError(f"no two E24 values divide {sent_v:g} V to {allowed_v:g} V")
    return found


def ohms(value: float) -> str:
    """Return a resistance as it is written on a list: ``5.6 kΩ``, ``5.1 Ω``."""
    return f"{value / 1000:g} kΩ" if value >= 1000 else f"{value:g} Ω"

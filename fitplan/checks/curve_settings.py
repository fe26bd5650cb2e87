"""Settings of the checks of curves and clearances."""

from __future__ import annotations

from dataclasses import dataclass

SUBJECT = "curves"
SETTING = "a setting of this check, common practice"


@dataclass(frozen=True)
class CurveSettings:
    """Least gaps in mm; settings of this check, common practice.

    Attributes
    ----------
    neighbour_gap
        Between the outlines of coupled vehicles.
    wheel_gap
        Between a wire and a wheel that turns and swings.
    rail_gap
        Between anything that hangs down and the rail head.
    wheel_width
        How wide a wheel is.
    """

    neighbour_gap: float = 1.0
    wheel_gap: float = 1.0
    rail_gap: float = 2.0
    wheel_width: float = 5.0


DEFAULTS = CurveSettings()

"""Speed of sound in air."""

from __future__ import annotations

import math


def sound_speed(temperature_c: float) -> float:
    """Return the speed of sound in dry air in mm/s: 331.3·√(1 + T/273.15) m/s (textbook)."""
    return 331_300.0 * math.sqrt(1.0 + temperature_c / 273.15)

"""What helps a ranger that is blind about curves: turned inwards, a second one, a wider beam.

Each is tried at all places about a curve to either side, with the lens where it is, before it is said.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from fitplan.checks.curve_view import Bend, RangerView, bends, stretch_met, worst_stretch

_ENOUGH = 1.0
"""What is told in whole millimetres may lack so much."""
_SIDES = (1.0, -1.0)
_SECOND_TURNS, _BEAMS = range(5, 61, 5), range(10, 61, 5)


def turn_that_helps(watch: RangerView, radius: float, needed: float) -> int:
    """Return at how many whole degrees inwards it sees far enough in a curve and straight on; 0: at none.

    Whichever way the curve bends, the turn being towards its inside.
    """
    for degrees in range(1, 61):
        both = [(side, replace(watch, turned_deg=side * degrees)) for side in _SIDES]
        if any(not _far_enough(stretch_met(Bend(0.0), one, 0.0, needed).farthest, needed) for _, one in both):
            return 0
        if not all(
            _far_enough(stretch_met(Bend(side / radius), one, 0.0, needed).farthest, needed)
            for side, one in both
        ):
            continue  # already too little where the whole train stands in the curve
        if all(
            _far_enough(worst_stretch(one, radius, needed, (side,)).farthest, needed) for side, one in both
        ):
            return degrees
    return 0


def second_that_helps(watch: RangerView, radius: float, needed: float) -> int:
    """Return by how many degrees inwards a second one like it helps where both look together; 0: by none."""
    for degrees in _SECOND_TURNS:
        both = [(side, replace(watch, turned_deg=side * degrees)) for side in _SIDES]
        if all(
            _far_enough(together, needed)
            for side, second in both
            for together in _together(watch, second, side, radius, needed)
        ):
            return degrees
    return 0


def _together(
    watch: RangerView, second: RangerView, side: float, radius: float, needed: float
) -> Iterator[float]:
    """Yield how far two rangers meet an obstacle without a gap between, at all places about a curve."""
    mirrored = [
        replace(one, lens=(one.lens[0], side * one.lens[1]), turned_deg=side * one.turned_deg)
        for one in (watch, second)
    ]
    for _, bend in bends(watch, radius, needed):
        one, other = (stretch_met(bend, seer, 0.0, needed) for seer in mirrored)
        joined = one.farthest <= 0 or other.nearest <= one.farthest
        yield max(one.farthest, other.farthest) if joined else one.farthest


def beam_that_helps(watch: RangerView, radius: float, needed: float) -> int:
    """Return the half angle in degrees of a beam that would be wide enough; 0: none is."""
    for degrees in _BEAMS:
        if degrees <= watch.half_angle_deg:
            continue
        wide = replace(watch, half_angle_deg=float(degrees))
        if not _far_enough(stretch_met(Bend(1 / radius), wide, 0.0, needed).farthest, needed):
            continue
        if _far_enough(worst_stretch(wide, radius, needed).farthest, needed):
            return degrees
    return 0


def _far_enough(farthest: float, needed: float) -> bool:
    return farthest >= needed - _ENOUGH

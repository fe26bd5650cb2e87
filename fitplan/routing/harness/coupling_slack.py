"""How long wires must be over a coupling, and how deep they hang.

Both vehicles are posed by their axles or bogie pivots on the middle line of the track, joined by a drawbar of
fixed length between its pins (a coupling that is pulled tight). The wires are as long as the worst pose asks
that the track admits (`worst_pose`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fitplan.model.wiring import Slack
from fitplan.routing.harness.worst_pose import CouplingSide as CouplingSide
from fitplan.routing.harness.worst_pose import TrackLimits as TrackLimits
from fitplan.routing.harness.worst_pose import search


@dataclass(frozen=True)
class CouplingLengths:
    """Lengths over a coupling in mm.

    Attributes
    ----------
    straight_mm, longest_mm, shortest_mm
        Distance of the exit points on straight level track, and the most and least over all poses; the most
        with what wires lie aside of them.
    slack_mm, free_mm
        What is added, and the sum of longest and slack: the wire between the exit points.
    governing
        The pose in which they are farthest apart, in words.
    sag_lowest_mm
        Height of the wires' lowest point above the rail head on straight level track.
    sag_shortest_mm
        The same where the exit points come nearest to each other.
    clip
        True when the wires would come too near to the rail head and have to be clipped up.
    """

    straight_mm: float
    longest_mm: float
    shortest_mm: float
    slack_mm: float
    free_mm: float
    governing: str
    sag_lowest_mm: float
    sag_shortest_mm: float
    clip: bool


def coupling_lengths(
    ahead: CouplingSide,
    behind: CouplingSide,
    drawbar: float,
    limits: TrackLimits,
    *,
    bundle_diameter: float = 0.0,
    slack: Slack | None = None,
    least: float = 0.0,
    aside: float = 0.0,
    measured: float = 0.0,
) -> CouplingLengths:
    """Return the wire that a coupling needs: the longest distance over all poses, plus slack.

    Parameters
    ----------
    ahead, behind
        The vehicle in front with its rear end, and the one that follows with its front end.
    drawbar
        Distance of the two pins when pulled, in mm.
    bundle_diameter
        Half of it is taken off the height of the lowest point.
    least
        What a connector in it asks for, whatever the poses, in mm.
    aside
        How far wires lie from the exit points, both sides together, in mm: so much longer they are.
    measured
        How long it was found to have to be, slack and all, in mm: goes before the poses, though never below
        the distance on straight track. 0: not measured.

    Raises
    ------
    ValueError
        The drawbar has no length, or the curve is too sharp for a vehicle to stand in.
    """
    if not drawbar > 0:
        raise ValueError(f"a drawbar has a positive length, not {drawbar}")
    spans = [side.gear.front - side.gear.rear for side in (ahead, behind)]
    if limits.radius < 0.75 * max(spans):
        raise ValueError(f"a curve of {limits.radius} mm is too sharp for guides {max(spans)} mm apart")
    by = slack or Slack()
    straight = _straight(ahead, behind, drawbar)
    worst = search(ahead, behind, drawbar, limits)
    longest, governing = worst.longest_mm, worst.governing
    if longest < straight[0] + 1e-6:
        longest, governing = straight[0], "straight level track"
    longest += aside
    extra = max(by.share * longest, by.least, least - longest)
    free = longest + extra
    if measured:
        free, extra, governing = max(measured, straight[0]), 0.0, "as it was measured"
    half = bundle_diameter / 2
    lowest = sag_lowest(straight[1], straight[2], straight[3], free) - half
    tight = sag_lowest(worst.shortest_level_mm, ahead.exit[2], behind.exit[2], free) - half
    return CouplingLengths(
        straight_mm=straight[0],
        longest_mm=longest,
        shortest_mm=worst.shortest_mm,
        slack_mm=extra,
        free_mm=free,
        governing=governing,
        sag_lowest_mm=lowest,
        sag_shortest_mm=tight,
        clip=min(lowest, tight) < by.above_rail,
    )


def sag_lowest(span: float, z_one: float, z_two: float, length: float) -> float:
    """Return the height of the lowest point of a hanging wire: the catenary, exactly.

    √(length² − rise²) = 2·a·sinh(span / 2a) is solved for a; the lowest point lies at the vertex or, when the
    vertex is not between the ends, at the lower end (textbook).

    Parameters
    ----------
    span
        Level distance of the ends, in mm.
    z_one, z_two
        Their heights.
    length
        Of the wire; a shorter one than the distance of the ends is taken as taut.
    """
    rise = abs(z_one - z_two)
    low = min(z_one, z_two)
    if length <= math.hypot(span, rise) * (1 + 1e-12):
        return low
    if span < 1e-9:
        return low - (length - rise) / 2
    # with u = span / 2a: sinh(u)/u = want, by Newton from above; log-form keeps large u finite
    want = math.log(math.sqrt(length * length - rise * rise) / span)

    def log_sinhc(u: float) -> float:
        return u + math.log1p(-math.exp(-2 * u)) - math.log(2 * u)

    u = math.sqrt(6 * math.expm1(want)) if want < 1 else want + math.log(2 * (want + 1)) + 1
    for _ in range(60):
        slope = 1 / math.tanh(u) - 1 / u
        step = (log_sinhc(u) - want) / slope
        u = u - step if u > step else u / 2
        if abs(step) < 1e-14 * u:
            break
    a = span / (2 * u)
    # the vertex lies off the middle by a·artanh(rise / length), towards the lower end
    shift = a * math.atanh(rise / length)
    if shift >= span / 2:
        return low
    return low - a * (math.cosh((span / 2 - shift) / a) - 1)


def _straight(ahead: CouplingSide, behind: CouplingSide, drawbar: float) -> tuple[float, float, float, float]:
    """Return distance, level distance and both heights of the exit points on straight level track."""
    drop = ahead.coupling[1] - behind.coupling[1]
    if abs(drop) >= drawbar:
        raise ValueError(f"a drawbar of {drawbar} mm cannot join pins {abs(drop)} mm apart in height")
    apart = math.sqrt(drawbar * drawbar - drop * drop)
    along = (ahead.exit[0] - ahead.coupling[0]) + apart + (behind.coupling[0] - behind.exit[0])
    level = math.hypot(along, ahead.exit[1] - behind.exit[1])
    return math.hypot(level, ahead.exit[2] - behind.exit[2]), level, ahead.exit[2], behind.exit[2]

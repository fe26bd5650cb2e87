"""How long wires must be over a coupling, and how deep they hang.

Both vehicles are posed by their axles or bogie pivots on the middle line of the track, joined by a drawbar of
fixed length between its pins (a coupling that is pulled tight). The two exit points are farthest apart in
some pose on straight track, in a curve, entering or leaving one, in a reverse curve with no straight between,
or at a change of gradient; all of them are scanned, at all positions.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product

import numpy as np

from fitplan.model.train import Slack
from fitplan.routing.harness.track_line import Floats, MiddleLine, RunningGear, stand, stand_behind

Point = tuple[float, float, float]

_POSITIONS = 97
_KINKS = 17


@dataclass(frozen=True)
class JointSide:
    """One side of a joint, in its vehicle's frame: x forwards, y to the left, z above rail head, in mm.

    Attributes
    ----------
    gear
        Its axles or bogie pivots.
    coupling
        (x, z) of the drawbar's pin, on the middle line.
    exit
        Where the wires leave the end face.
    """

    gear: RunningGear
    coupling: tuple[float, float]
    exit: Point


@dataclass(frozen=True)
class TrackLimits:
    """The hardest track that the train has to take.

    Attributes
    ----------
    radius
        Of the sharpest curve, to the middle of the track, in mm; inf for a straight line only.
    reverse_curve
        Whether two curves may follow each other in opposite directions without a straight between.
    gradient_change
        Largest change of gradient at one place (0.04: from level to 4 %), upwards and downwards.
    """

    radius: float = 320.0
    reverse_curve: bool = True
    gradient_change: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a curve without a radius and a wall."""
        if not self.radius > 0:
            raise ValueError(f"a curve has a positive radius, not {self.radius}")
        if not 0 <= self.gradient_change < 0.5:
            raise ValueError(f"a change of gradient lies between 0 and 0.5, not {self.gradient_change}")


@dataclass(frozen=True)
class Joint:
    """Lengths over a joint in mm.

    Attributes
    ----------
    straight_mm, longest_mm, shortest_mm
        Distance of the exit points on straight level track, and the most and least over all poses.
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


def joint_length(
    ahead: JointSide,
    behind: JointSide,
    drawbar: float,
    limits: TrackLimits,
    *,
    bundle_diameter: float = 0.0,
    slack: Slack | None = None,
) -> Joint:
    """Return the wire that a joint needs: the longest distance over all poses, plus slack.

    Parameters
    ----------
    ahead, behind
        The vehicle in front with its rear end, and the one that follows with its front end.
    drawbar
        Distance of the two pins when pulled, in mm.
    bundle_diameter
        Half of it is taken off the height of the lowest point.

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
    poses = _scan(ahead, behind, drawbar, limits)
    a, b = exit_points(ahead, behind, drawbar, poses)
    distance = np.linalg.norm(a - b, axis=-1)
    far = int(distance.argmax())
    poses = _close_to(poses, far)
    fine_a, fine_b = exit_points(ahead, behind, drawbar, poses)
    fine = np.linalg.norm(fine_a - fine_b, axis=-1)
    longest = float(max(distance[far], fine.max()))
    governing = _in_words(poses, int(fine.argmax()))
    straight = _straight(ahead, behind, drawbar)
    if longest < straight[0] + 1e-6:
        longest, governing = straight[0], "straight level track"
    near = int(distance.argmin())
    extra = max(by.share * longest, by.least)
    free = longest + extra
    half = bundle_diameter / 2
    lowest = sag_lowest(straight[1], straight[2], straight[3], free) - half
    flat = float(np.hypot(*(a[near] - b[near])[:2]))
    tight = sag_lowest(flat, ahead.exit[2], behind.exit[2], free) - half
    return Joint(
        straight_mm=straight[0],
        longest_mm=longest,
        shortest_mm=float(distance.min()),
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


def _straight(ahead: JointSide, behind: JointSide, drawbar: float) -> tuple[float, float, float, float]:
    """Return distance, level distance and both heights of the exit points on straight level track."""
    drop = ahead.coupling[1] - behind.coupling[1]
    if abs(drop) >= drawbar:
        raise ValueError(f"a drawbar of {drawbar} mm cannot join pins {abs(drop)} mm apart in height")
    apart = math.sqrt(drawbar * drawbar - drop * drop)
    along = (ahead.exit[0] - ahead.coupling[0]) + apart + (behind.coupling[0] - behind.exit[0])
    level = math.hypot(along, ahead.exit[1] - behind.exit[1])
    return math.hypot(level, ahead.exit[2] - behind.exit[2]), level, ahead.exit[2], behind.exit[2]


@dataclass(frozen=True, eq=False)
class Poses:
    """Poses side by side: a track each, and where the front guide of the vehicle ahead stands."""

    line: MiddleLine
    at: Floats


def _reach(ahead: JointSide, behind: JointSide, drawbar: float) -> float:
    """Return the length over all guides, with the bogies' wheelbases."""
    whole = ahead.gear.front - ahead.coupling[0] + drawbar + behind.coupling[0] - behind.gear.rear
    return whole + ahead.gear.bogie_wheelbase + behind.gear.bogie_wheelbase


def _scan(ahead: JointSide, behind: JointSide, drawbar: float, limits: TrackLimits) -> Poses:
    """Return all poses to be tried: every sort of track, every position over its joint."""
    reach = 1.1 * _reach(ahead, behind, drawbar)
    k = 1 / limits.radius
    pairs = [(0.0, 0.0), (k, k), (-k, -k), (0.0, k), (0.0, -k), (k, 0.0), (-k, 0.0)]
    if limits.reverse_curve:
        pairs += [(k, -k), (-k, k)]
    if k == 0:
        pairs = pairs[:1]
    at = np.linspace(-0.05, 1.05, _POSITIONS) * reach
    level = [(0.0, 0.0)]
    change = limits.gradient_change
    slopes = [(kink, rise) for kink in np.linspace(-1, 1, _KINKS) * reach for rise in (change, -change)]
    rows = [
        (one, two, kink, rise, s)
        for (one, two), (kink, rise) in product(pairs, level + (slopes if change else []))
        for s in at
    ]
    table = np.array(rows)
    line = MiddleLine(table[:, 0], table[:, 1], table[:, 2], table[:, 3])
    return Poses(line, table[:, 4])


def _close_to(poses: Poses, best: int) -> Poses:
    """Return poses close to the best of a scan, on the same track."""
    line = poses.line
    spread = float(poses.at.max() - poses.at.min())
    near = poses.at[best] + np.linspace(-1, 1, 201) * 1.2 * spread / (_POSITIONS - 1)
    kinks = [0.0]
    if line.rise[best]:
        kinks = (np.linspace(-1, 1, 41) * 1.2 * 2 * spread / 1.1 / (_KINKS - 1)).tolist()
    table = np.array([(s, line.kink[best] + kink) for kink in kinks for s in near])
    same = np.ones(len(table))
    fine = MiddleLine(line.before[best] * same, line.after[best] * same, table[:, 1], line.rise[best] * same)
    return Poses(fine, table[:, 0])


def exit_points(ahead: JointSide, behind: JointSide, drawbar: float, poses: Poses) -> tuple[Floats, Floats]:
    """Return (n, 3) both exit points in every pose."""
    first = stand(poses.line, ahead.gear, poses.at)
    guess = (
        poses.at - (ahead.gear.front - ahead.coupling[0]) - drawbar - (behind.coupling[0] - behind.gear.front)
    )
    second = stand_behind(poses.line, first, ahead.coupling, behind.gear, behind.coupling, drawbar, guess)
    return first.point(*ahead.exit), second.point(*behind.exit)


def _in_words(poses: Poses, which: int) -> str:
    line = poses.line
    one, two = float(line.before[which]), float(line.after[which])
    if one == two:
        text = "straight track" if one == 0 else f"in a {_hand(one)} curve"
    elif one == 0:
        text = f"entering a {_hand(two)} curve"
    elif two == 0:
        text = f"leaving a {_hand(one)} curve"
    else:
        text = f"in a reverse curve from {_hand(one)} to {_hand(two)}"
    if one != two:
        text += f", front axle or pivot {poses.at[which]:.0f} mm beyond the joint"
    rise = float(line.rise[which])
    if rise:
        text += f", over a {'dip' if rise > 0 else 'crest'} of {abs(rise) * 100:.1f} %"
    return text


def _hand(curvature: float) -> str:
    return "left-hand" if curvature > 0 else "right-hand"

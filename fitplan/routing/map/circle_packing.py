"""Circles in a hole: a search that finds arrangements, and bounds that prove there are none.

A wire's cross-section is a circle, a port's opening a rectangle, a bundle's sleeve a circle. What is found is
an arrangement, checked circle by circle; what is proved rests on closed forms. What lies between is not
decided. The search is bounded by counted work and begins from fixed numbers: the same question has the same
answer everywhere.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

STARTS = 24
"""So many arrangements are relaxed side by side."""
ROUNDS = 4
"""So often the best of them are shaken and relaxed again."""
STEPS = 600
"""Steps of a relaxation."""
MOST_SEARCHED = 80
"""Sets of more circles are not searched: rows, and bounds, answer alone."""
_SPARE = 1e-6
"""The search asks for circles larger by this share, so that what it finds is free of overlaps."""


@dataclass(frozen=True)
class Rectangle:
    """A hole of this width and height (mm)."""

    width: float
    height: float


@dataclass(frozen=True)
class Round:
    """A round hole of this diameter (mm)."""

    diameter: float


Hole = Rectangle | Round


def overlap(hole: Hole, centres: Floats, diameters: Sequence[float]) -> float:
    """Return by how much the worst circle enters another or the rim of the hole, in mm; 0 when none does.

    Parameters
    ----------
    centres
        (n, 2) in mm from the middle of the hole.
    """
    worst = 0.0
    for i, (x, y) in enumerate(centres.tolist()):
        r = diameters[i] / 2
        if isinstance(hole, Round):
            worst = max(worst, math.hypot(x, y) + r - hole.diameter / 2)
        else:
            worst = max(worst, abs(x) + r - hole.width / 2, abs(y) + r - hole.height / 2)
        for j in range(i):
            apart = math.hypot(x - centres[j, 0], y - centres[j, 1])
            worst = max(worst, r + diameters[j] / 2 - apart)
    return worst


def arrangement(
    hole: Hole, diameters: Sequence[float], *, starts: int = STARTS, rounds: int = ROUNDS
) -> Floats | None:
    """Return (n, 2) centres of circles in a hole, in mm from its middle, or None when none was found.

    Overlaps are pushed apart from many starts side by side (a soft repulsion with momentum); in each round
    the better half is kept and one circle of each is moved to where there is most room. None is no proof.
    """
    count = len(diameters)
    if not count or count > MOST_SEARCHED:
        return np.zeros((0, 2)) if not count else None
    radii = np.array(diameters) / 2
    if isinstance(hole, Round):
        half = np.array([hole.diameter, hole.diameter]) / 2
    else:
        half = np.array([hole.width, hole.height]) / 2
    if (radii > half.min() + 1e-12).any() or math.pi * (radii**2).sum() > _area(hole) + 1e-9:
        return None
    random = np.random.default_rng(20 * count + 1)
    inner = np.maximum(half - radii[:, None], 0.0)
    points = random.uniform(-1.0, 1.0, (starts, count, 2)) * inner
    grown = radii * (1 + _SPARE)
    for number in range(rounds):
        points, energy = _relaxed(points, grown, hole)
        order = np.argsort(energy, kind="stable")
        found: Floats = points[order[0]]
        if overlap(hole, found, diameters) == 0.0:
            return found
        if number < rounds - 1:
            kept = points[order[: (starts + 1) // 2]]
            points = np.concatenate([_moved(kept, grown, hole, random), _moved(kept, grown, hole, random)])
    return None


def _area(hole: Hole) -> float:
    return math.pi * hole.diameter**2 / 4 if isinstance(hole, Round) else hole.width * hole.height


def _relaxed(points: Floats, radii: Floats, hole: Hole) -> tuple[Floats, Floats]:
    """Push overlapping circles apart; return (k, n, 2) points and (k,) what overlap is left, squared."""
    reach = radii[:, None] + radii[None, :]
    np.fill_diagonal(reach, 0.0)
    speed = np.zeros_like(points)
    unit = float(radii.max())
    energy = np.zeros(len(points))
    for _ in range(STEPS):
        push, energy = _push(points, radii, reach, hole)
        if energy.min() < 1e-22 * unit * unit:
            break
        # Momentum that works against the push only slows down (as in the fast inertial relaxation engine).
        against = (speed * push).sum(axis=(1, 2), keepdims=True) < 0
        speed = np.where(against, 0.0, 0.93 * speed) + 0.16 * push
        points = points + speed
    return points, energy


def _push(points: Floats, radii: Floats, reach: Floats, hole: Hole) -> tuple[Floats, Floats]:
    away = points[:, :, None, :] - points[:, None, :, :]
    apart = np.sqrt((away**2).sum(axis=-1))
    over = np.maximum(reach - apart, 0.0)
    push = ((over / np.maximum(apart, 1e-9))[..., None] * away).sum(axis=2)
    energy = (over**2).sum(axis=(1, 2)) / 2
    if isinstance(hole, Round):
        off = np.sqrt((points**2).sum(axis=-1))
        out = np.maximum(off + radii - hole.diameter / 2, 0.0)
        push -= (out / np.maximum(off, 1e-9))[..., None] * points
        return push, energy + (out**2).sum(axis=1)
    half = np.array([hole.width, hole.height]) / 2
    beyond = np.maximum(np.abs(points) + radii[:, None] - half, 0.0)
    push -= np.sign(points) * beyond
    return push, energy + (beyond**2).sum(axis=(1, 2))


def _moved(points: Floats, radii: Floats, hole: Hole, random: np.random.Generator) -> Floats:
    """Return arrangements with one pressed circle each moved to the roomiest of some places, all shaken."""
    moved = points + random.normal(0.0, 0.05 * float(radii.max()), points.shape)
    half = np.array([hole.diameter] * 2 if isinstance(hole, Round) else [hole.width, hole.height]) / 2
    for chain in moved:
        away = chain[:, None, :] - chain[None, :, :]
        apart = np.sqrt((away**2).sum(axis=-1))
        over = np.maximum(radii[:, None] + radii[None, :] - apart, 0.0)
        np.fill_diagonal(over, 0.0)
        pressed = int(random.choice(np.argsort(-over.sum(axis=1), kind="stable")[:3]))
        places = random.uniform(-1.0, 1.0, (60, 2)) * np.maximum(half - radii[pressed], 0.0)
        others = np.delete(np.arange(len(chain)), pressed)
        gap = np.sqrt(((places[:, None, :] - chain[None, others, :]) ** 2).sum(axis=-1)) - radii[others]
        room = gap.min(axis=1) if len(others) else np.zeros(len(places))
        if isinstance(hole, Round):
            room = np.minimum(room, hole.diameter / 2 - np.sqrt((places**2).sum(axis=-1)))
        chain[pressed] = places[int(room.argmax())]
    return moved


# -- proofs --------------------------------------------------------------------------------------------------


@cache
def most_in_rectangle(width: float, height: float, wire: float) -> int:
    """Return a number of equal circles that no arrangement in a rectangle exceeds.

    The least of two bounds on points a wire's diameter d apart in the a × b rectangle of the centres (a ≥ b):

    - where b < d: neighbours along the strip lie at least √(d² − b²) apart along it (Pythagoras), so at most
      1 + a/√(d² − b²); for b ≤ d·√3/2 the zigzag reaches it;
    - 2/√3·ab/d² + (a + b)/d + 1 (Groemer, Math. Z. 73, 1960, and Oler, Acta Math. 105, 1961; from memory, not
      confirmed).
    """
    a, b = max(width, height) - wire, min(width, height) - wire
    if b < -1e-9:
        return 0
    a, b = max(a, 0.0) / wire, max(b, 0.0) / wire
    bounds = [2 / math.sqrt(3) * a * b + a + b + 1]
    if b < 1:
        bounds.append(1 + a / math.sqrt(1 - b * b))
    return math.floor(min(bounds) + 1e-7)


def cannot_hold(hole: Rectangle, diameters: Sequence[float]) -> str:
    """Return a proof that wires do not go through a rectangle together, or nothing.

    Wires of at least one diameter are each no thinner than it, so as many of that diameter would have to go
    through; and the two thickest must lie beside each other in some direction.
    """
    thick = sorted(diameters, reverse=True)
    for number, diameter in enumerate(thick, 1):
        if number < len(thick) and thick[number] == diameter:
            continue
        most = most_in_rectangle(hole.width, hole.height, diameter)
        if number > most:
            return f"at most {most} of {diameter:g} mm have room, {number} of that or more want through"
    if len(thick) > 1:
        both = thick[0] + thick[1]
        across, up = (max(side - both / 2, 0.0) for side in (hole.width, hole.height))
        if 2 * math.hypot(across, up) < both - 1e-7:
            return f"wires of {thick[0]:g} and {thick[1]:g} mm do not lie beside each other in it"
    area = math.pi / 4 * sum(d * d for d in thick)
    if area > hole.width * hole.height + 1e-9:
        return f"their cross-sections make {area:.1f} mm², the opening {hole.width * hole.height:.1f} mm²"
    return ""

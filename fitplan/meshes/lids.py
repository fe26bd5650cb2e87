"""Lids: which objects lie over a cavity and lift out, so that its roof comes off without a saw.

An object belongs to a lid when it lies over the mouth of an opening and does not reach down to the cavity's
floor, or stands on one that does. In a model of bricks everything that lies on top lifts out; what is one
piece with the floor does not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fitplan.meshes.blocks import FREE, StateBlock
from fitplan.model.solids import Box
from fitplan.model.vehicle import Opening, Vehicle
from fitplan.units import PLATE, STUD, STUD_HEIGHT

_SLACK = 0.2
_LEAST_AREA = STUD * STUD / 1.2
"""What is smaller, seen from above (mm²), is a stud, a tube or a pin, and no object of its own."""
_CELL = STUD / 4
_WHOLE = 0.97


@dataclass(frozen=True)
class Lid:
    """What lies over an opening.

    Attributes
    ----------
    opening
        Name of the opening.
    count
        How many objects lift off, what stands on them counted.
    plates
        Whether each of them is a plate high.
    lifts
        Whether nothing of the ceiling is one piece with what reaches down to the floor.
    """

    opening: str
    count: int
    plates: bool
    lifts: bool


def lids_of(
    openings: Sequence[Opening],
    floors: Sequence[float],
    low: NDArray[np.float64],
    high: NDArray[np.float64],
) -> tuple[Lid, ...]:
    """Return what lies over each opening.

    Parameters
    ----------
    floors
        Level in mm of the floor below each opening.
    low, high
        (n, 3) corners of the objects of the body in mm, in the vehicle's frame.
    """
    size = high - low
    own = size[:, 0] * size[:, 1] >= _LEAST_AREA
    low, high = low[own], high[own]
    found = []
    for opening, floor in zip(openings, floors, strict=True):
        over = _over(opening.box, low, high) & (high[:, 2] > opening.box.low[2] + _SLACK)
        loose = over & (low[:, 2] >= floor + PLATE - _SLACK)
        lifts = bool(loose.any()) and _covered(opening.box, low[loose], high[loose]) >= _WHOLE
        lid = _with_what_stands_on(loose, low, high)
        tall = (high - low)[lid, 2] - PLATE
        plates = bool((np.minimum(np.abs(tall), np.abs(tall - STUD_HEIGHT)) < _SLACK).all())
        found.append(Lid(opening.name, int(lid.sum()), plates and bool(lid.any()), lifts))
    return tuple(found)


def _over(box: Box, low: NDArray[np.float64], high: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Tell which objects lie over a box, seen from above."""
    result = np.ones(len(low), dtype=np.bool_)
    for axis in (0, 1):
        result &= (low[:, axis] < box.high[axis] - _SLACK) & (high[:, axis] > box.low[axis] + _SLACK)
    return result


def _with_what_stands_on(
    lid: NDArray[np.bool_], low: NDArray[np.float64], high: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Return a lid with what stands on it, on that, and so on."""
    result = lid.copy()
    waiting = list(np.flatnonzero(lid))
    while waiting:
        number = waiting.pop()
        on = ~result & (low[:, 2] >= high[number, 2] - STUD_HEIGHT - _SLACK)
        on &= low[:, 2] <= high[number, 2] + _SLACK
        for axis in (0, 1):
            on &= (low[:, axis] < high[number, axis] - _SLACK) & (high[:, axis] > low[number, axis] + _SLACK)
        result |= on
        waiting += list(np.flatnonzero(on))
    return result


def _covered(box: Box, low: NDArray[np.float64], high: NDArray[np.float64]) -> float:
    """Return the share of a box, seen from above, over which some object lies."""
    counts = [max(1, round(box.size[axis] / _CELL)) for axis in (0, 1)]
    at = [
        box.low[axis] + (np.arange(count) + 0.5) * box.size[axis] / count
        for axis, count in zip((0, 1), counts, strict=True)
    ]
    covered = np.zeros(counts, dtype=np.bool_)
    for first, last in zip(low, high, strict=True):
        across = [(at[axis] > first[axis] - _SLACK) & (at[axis] < last[axis] + _SLACK) for axis in (0, 1)]
        covered |= across[0][:, None] & across[1][None, :]
    return float(covered.mean())


def with_lids(
    vehicle: Vehicle,
    block: StateBlock,
    objects: tuple[NDArray[np.float64], NDArray[np.float64]],
    of_bricks: bool,
) -> tuple[Vehicle, tuple[Lid, ...]]:
    """Return a vehicle with those openings only that lift off, and what lies over them.

    Where the model is not of bricks, nobody knows what its roof is one piece with: all openings stay, to be
    confirmed.

    Parameters
    ----------
    objects
        Corners (n, 3) of the objects of the body in mm, in the vehicle's frame.
    """
    floors = [_floor_under(block, opening.box) for opening in vehicle.openings]
    lids = lids_of(vehicle.openings, floors, *objects)
    if not of_bricks:
        return vehicle, lids
    kept = {lid.opening for lid in lids if lid.lifts}
    openings = tuple(opening for opening in vehicle.openings if opening.name in kept)
    return replace(vehicle, openings=openings), lids


def _floor_under(block: StateBlock, box: Box) -> float:
    """Return the level (mm) down to which most of the clear space right below a box reaches."""
    frame = block.frame
    first = [round((box.low[axis] - frame.origin[axis]) / frame.pitch) for axis in range(3)]
    last = [round((box.high[axis] - frame.origin[axis]) / frame.pitch) for axis in range(2)]
    below = block.codes[first[0] : last[0], first[1] : last[1], : first[2]] == FREE
    runs = np.logical_and.accumulate(below[:, :, ::-1], axis=2).sum(axis=2)
    runs = runs[runs > 0]
    return box.low[2] - (float(np.median(runs)) if len(runs) else 0.0) * frame.pitch


def lid_notes(lids: Sequence[Lid], of_bricks: bool) -> list[str]:
    """Say what lifts off, and what does not."""
    said = []
    for lid in lids:
        if lid.lifts:
            said.append(f"{lid.opening}: {lid_words(lid)} over a cavity, and nothing holds them down")
        elif of_bricks:
            said.append(f"{lid.opening}: one piece with what stands on the floor, so it is no opening")
    return said


def lid_words(lid: Lid) -> str:
    """Return what a lid is made of: ``12 plates``, ``1 brick``."""
    word = "plate" if lid.plates else "piece"
    return f"{lid.count} {word}" if lid.count == 1 else f"{lid.count} {word}s"

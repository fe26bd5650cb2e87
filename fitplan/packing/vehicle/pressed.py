"""A part pressed between what carries it on one side only and a plate above: which pair holds it.

Such a part turns over the edge of what carries it; a strap over its other end presses it down. It is held
when weight, what bears it from below and what presses from above can balance with no foot of the strap pulled
off its studs and what carries it not levered off. That is asked exactly, of all points where they touch: the
sum ``F`` of what presses and its moment ``F·c`` are three unknowns, and every condition is linear in them.
All lengths are in tenths of a millimetre, forces in N; a stud holds `STUD_HOLDS_N`.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.cover import TENTHS
from fitplan.model.facts import STUD_HOLDS_N, sideways_n
from fitplan.model.placed import Piece, Placement, Shelf
from fitplan.model.vehicle import Vehicle
from fitplan.packing.access.disassembly import part_rows
from fitplan.packing.access.slide import Rows
from fitplan.packing.engine.problem import IntBox, moved
from fitplan.packing.vehicle.addition_shapes import (
    CELL,
    Candidate,
    UnsupportedPart,
    arms_under,
    box_of,
    in_mm,
    in_tenths,
)
from fitplan.packing.vehicle.additions import bricks_stand_free, candidates, far_candidates, stands_free
from fitplan.packing.vehicle.lowering import SUPPORT_GAP
from fitplan.packing.vehicle.packed_items import soles_of
from fitplan.packing.vehicle.room_for_parts import bricks_of
from fitplan.packing.vehicle.straps import Strap, pad_of, straps_over
from fitplan.packing.vehicle.support import Rect, contacts, from_above, hull_of, middle_of, resting_faces

MOST_ASKED = 4000
"""So many pairs are asked whether they hold; beyond, none is proposed."""
_NEARLY = 1e-6
Point = tuple[float, float]
Lever = tuple[Rect, bool]
"""Cells of the foot of what carries a part beside it, and whether it hangs by them."""


@dataclass(frozen=True)
class Pair:
    """What presses a part from below and from above; without ``below`` it rests where it lies."""

    below: Candidate | None
    over: Strap
    pads: tuple[IntBox, ...] = ()
    """Under the part, where no piece goes."""

    @property
    def count(self) -> int:
        """How many pieces it takes, pads not counted."""
        return self.over.count + (len(self.below.pieces) if self.below is not None else 0)

    @property
    def shelf(self) -> Shelf | None:
        """What is added under the part."""
        if self.below is not None:
            return self.below.as_shelf()
        return (
            Shelf("pad", tuple(Piece("pad", in_mm(pad)) for pad in self.pads), 0, False)
            if self.pads
            else None
        )


def presses(
    push_n: float, middle: Point, resting: Sequence[Rect], over: Strap, lever: Lever | None = None
) -> bool:
    """Return whether a strap keeps a part from tipping that rests on one side only.

    Parameters
    ----------
    push_n
        What draws it down at its middle: its weight, and the pull of a lead.
    resting
        Where it touches what carries it.
    lever
        The foot of what carries it, where that may be levered off its studs.
    """
    under, above = _round(resting, middle), _round(over.over, middle)
    if len(under) < 3 or len(above) < 3 or push_n <= 0:
        return False
    # Each row (a, b, c, d) says a·Fx + b·Fy + c·F + d >= 0, in studs from the part's middle and in N.
    rows = [(0.0, 0.0, 1.0, 0.0)]
    for (px, py), (qx, qy) in itertools.pairwise([*above, above[0]]):
        u, v = qx - px, qy - py
        rows.append((-v, u, v * px - u * py, 0.0))
    for (px, py), (qx, qy) in itertools.pairwise([*under, under[0]]):
        u, v = qx - px, qy - py
        rows.append((-v, u, v * px - u * py, push_n * (v * px - u * py)))
    rows += _feet_hold(over, middle[over.axis] / CELL)
    rows += _lever_holds(push_n, middle, lever) if lever is not None else ()
    return _some_point(np.array(rows, dtype=float))


def _round(rects: Sequence[Rect], middle: Point) -> list[Point]:
    """Return the corners round rectangles, in studs from a point."""
    return [((x - middle[0]) / CELL, (y - middle[1]) / CELL) for x, y in hull_of(rects)]


def _feet_hold(over: Strap, middle: float) -> Iterator[tuple[float, float, float, float]]:
    """Yield that no foot of a strap is pulled off: shared between two, about the far edge of one."""
    axis = over.axis

    def row(moment: float, force: float, rest: float) -> tuple[float, float, float, float]:
        return (moment, 0.0, force, rest) if axis == 0 else (0.0, moment, force, rest)

    at = [(foot[axis] + foot[axis + 2]) / 2 - middle for foot in over.feet]
    holds = [(foot[2] - foot[0]) * (foot[3] - foot[1]) * STUD_HOLDS_N for foot in over.feet]
    if len(at) == 2:
        span = at[1] - at[0]
        yield row(1.0, -at[1], holds[0] * span)
        yield row(-1.0, at[0], holds[1] * span)
        return
    half = (over.feet[0][axis + 2] - over.feet[0][axis]) / 2
    if over.over[0][axis] / CELL - middle > at[0]:
        yield row(-1.0, at[0] - half, holds[0] * half)
    else:
        yield row(1.0, -at[0] - half, holds[0] * half)


def _lever_holds(push_n: float, middle: Point, lever: Lever) -> Iterator[tuple[float, float, float, float]]:
    """Yield that what carries a part beside its foot is not levered off by all that presses on it."""
    foot, hung = lever
    studs = (foot[2] - foot[0]) * (foot[3] - foot[1]) * STUD_HOLDS_N
    # Levers about both edges of what hangs ask for more than the pull straight down.
    for axis in (0, 1):
        low, high = foot[axis] - middle[axis] / CELL, foot[axis + 2] - middle[axis] / CELL
        holds = studs * (high - low) / 2
        # It turns about the edge near the part, and about the far one where it hangs.
        for edge, sign in ((low if hung else high, 1.0), (high if hung else low, -1.0)):
            rest = holds + sign * push_n * edge
            yield (-sign, 0.0, sign * edge, rest) if axis == 0 else (0.0, -sign, sign * edge, rest)


def _some_point(rows: NDArray[np.float64]) -> bool:
    """Return whether some point of space serves all half-spaces, (n, 4); they leave no whole line free.

    If any does, so does a corner of three planes.
    """
    threes = np.array(list(itertools.combinations(range(len(rows)), 3)))
    sides = rows[threes][:, :, :3]
    good = np.abs(np.linalg.det(sides)) > 1e-9
    if not good.any():
        return False
    corners = np.linalg.solve(sides[good], -rows[threes][good][:, :, 3:])[:, :, 0]
    values = corners @ rows[:, :3].T + rows[:, 3]
    size = 1.0 + np.abs(corners) @ np.abs(rows[:, :3].T) + np.abs(rows[:, 3])
    return bool((values >= -_NEARLY * size).all(axis=1).any())


def may_press(push_n: float, middle: Point, resting: Sequence[Rect], over: Strap) -> bool:
    """Return whether a strap may press a part down at all: a bound, asked before `presses`.

    Across the edge of what carries the part that is nearest to its middle the strap must reach far enough.
    """
    under, above = np.array(_round(resting, middle)), np.array(_round(over.over, middle))
    if len(under) < 3 or len(above) < 3:
        return False
    nearest = _nearest(under)
    away = float(np.hypot(*nearest))
    if away == 0.0:
        return True
    way = -nearest / away
    edge, reach = float((under @ way).max()), float((above @ way).min())
    studs = sum((foot[2] - foot[0]) * (foot[3] - foot[1]) for foot in over.feet) * STUD_HOLDS_N
    return reach < edge and -push_n * edge <= studs * (edge - reach) * (1 + _NEARLY)


def _nearest(hull: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the point on the outline of a hull that is nearest to where lengths count from."""
    ends = np.roll(hull, -1, axis=0) - hull
    share = -(hull * ends).sum(axis=1) / (ends * ends).sum(axis=1)
    found = hull + np.clip(share, 0.0, 1.0)[:, None] * ends
    return np.asarray(found[int((found**2).sum(axis=1).argmin())])


def cheapest_pair(
    vehicle: Vehicle,
    removed: frozenset[str],
    part: UnsupportedPart,
    resting: Sequence[Rect],
    pads: Sequence[IntBox] = (),
) -> Pair | None:
    """Return the cheapest pair that presses a part which would tip on all that could be added under it.

    Fewest pieces, then the least of plates above and bricks below. None where no pair holds it and has room.

    Parameters
    ----------
    resting
        Where it rests as it lies; empty where it hangs.
    pads
        A pad under it, less than a plate thick, which it would rest on.
    """
    middle, push = middle_of(part.boxes), part.push_n
    own = np.array(part.boxes, dtype=np.int64)
    around = [*part.boxes, *part.own_room, *part.around]
    high = int(own[:, 5].max())

    @cache
    def over_stands(over: Strap) -> bool:
        boxes = [box for _, box in (*over.pieces, *pad_of(over, high))]
        return bricks_stand_free(vehicle, removed, boxes, around)

    @cache
    def below_stands(below: Candidate) -> bool:
        return stands_free(vehicle, removed, part, below)

    @cache
    def may(touches: tuple[Rect, ...], over: Strap) -> bool:
        return may_press(push, middle, touches, over)

    overs = sorted(
        (one for one in straps_over(vehicle, removed, own) if push <= one.lifts_n),
        key=lambda one: (one.count, one),
    )
    asked = 0
    best: Pair | None = None
    for below, touches in _belows(vehicle, removed, part, resting, pads):
        pieces = len(below.pieces) if below is not None else 0
        if not overs or (best is not None and pieces + overs[0].count >= best.count):
            break
        for over in overs:
            if best is not None and pieces + over.count >= best.count:
                break
            if not may(touches, over) or _meet(below, over, high):
                continue
            if not over_stands(over) or (below is not None and not below_stands(below)):
                continue
            asked += 1
            if asked > MOST_ASKED:
                return best
            if presses(push, middle, touches, over, lever_of(below)):
                best = Pair(below, over, () if below is not None else tuple(pads))
                break
    return best


def _belows(
    vehicle: Vehicle,
    removed: frozenset[str],
    part: UnsupportedPart,
    resting: Sequence[Rect],
    pads: Sequence[IntBox],
) -> Iterator[tuple[Candidate | None, tuple[Rect, ...]]]:
    """Yield what a part may rest on, the fewest pieces first, and where it then touches what carries it."""
    as_it_lies = [*resting, *map(from_above, pads)]
    if as_it_lies:
        yield None, tuple(as_it_lies)
    arms = arms_under((vehicle.studs_long, vehicle.studs_wide), part)
    near = candidates(vehicle, removed, part, arms, every_foot=True)
    both = itertools.chain(near, far_candidates(vehicle, removed, part, arms))
    found = [one for one in both if one.touch is not None]
    for one in sorted(found, key=lambda entry: (len(entry.pieces), entry.merit, entry.size)):
        assert one.touch is not None
        yield one, (*resting, one.touch)


def lever_of(below: Candidate | None) -> Lever | None:
    """Return the foot of what carries a part, where the part lies beside it."""
    if below is None or below.kind not in ("bracket", "hanger"):
        return None
    return foot_lever(below.kind == "hanger", [box for _, box in below.pieces])


def foot_lever(hung: bool, boxes: Sequence[IntBox]) -> Lever:
    """Return the cells of the lowest of some pieces, or of the highest where they hang."""
    foot = max(boxes, key=lambda box: box[5]) if hung else min(boxes, key=lambda box: box[2])
    return (foot[0] // CELL, foot[1] // CELL, foot[3] // CELL, foot[4] // CELL), hung


def _meet(below: Candidate | None, over: Strap, high: int) -> bool:
    if below is None:
        return False
    return any(
        all(one[k] < other[k + 3] and other[k] < one[k + 3] for k in range(3))
        for _, one in (*below.pieces, *below.over)
        for _, other in (*over.pieces, *pad_of(over, high))
    )


def resting_of(
    vehicle: Vehicle, removed: frozenset[str], placement: Placement, others: Rows
) -> tuple[Rect, ...]:
    """Return where a part touches what carries it: bricks, studs, other parts, what is added under it.

    Parameters
    ----------
    others
        Boxes of other parts (tenths).
    """
    offset = [round(value * TENTHS) for value in placement.place.offset]
    at = (offset[0], offset[1], offset[2])
    soles = [moved(box, at) for box in soles_of(placement.part, placement.place.pose.name)]
    added = [in_tenths(box) for box in placement.shelf.boxes] if placement.shelf is not None else []
    tops = [_rows(bricks_of(vehicle, removed)), others, _rows(added)]
    return tuple(contacts(resting_faces(soles), np.concatenate(tops), SUPPORT_GAP))


def _rows(boxes: Iterable[IntBox]) -> Rows:
    return np.array(list(boxes), dtype=np.int64).reshape(-1, 6)


def presses_placed(
    vehicle: Vehicle, removed: frozenset[str], placement: Placement, others: Rows, over: Strap
) -> bool:
    """Return whether a strap keeps a placed part from tipping.

    Parameters
    ----------
    others
        Boxes of other parts (tenths).
    """
    shelf, lever = placement.shelf, None
    if shelf is not None and shelf.kind in ("bracket", "hanger"):
        built = [in_tenths(one.box) for one in shelf.parts if one.name != "pad"]
        lever = foot_lever(shelf.kind == "hanger", built)
    resting = resting_of(vehicle, removed, placement, others)
    middle = middle_of([box_of(row) for row in part_rows(placement).tolist()])
    return presses(sideways_n(placement.part), middle, resting, over, lever)

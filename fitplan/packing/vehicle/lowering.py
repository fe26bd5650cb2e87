"""Let placed parts down until something carries them, and propose a shelf where nothing can.

The search pushes nothing against gravity on purpose, but a part that must look out of a window, or one
that another part held up, can hang in the air.  Here every part goes straight down as far as it may; what
then still hangs gets a shelf: plates from the next thing below, with the rest stated.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np
from numpy.typing import NDArray

from fitplan.model.placed import ITS_MOUNT, NOTHING
from fitplan.packing.access.slide import rows_of, share_room
from fitplan.packing.engine.problem import IntBox
from fitplan.packing.vehicle.posts import post_under
from fitplan.packing.vehicle.support import (
    SAME_UNDERSIDE,
    Boxes,
    Rect,
    borne_by,
    contacts,
    cut_to,
    middle_of,
    pads_that_steady,
    resting_faces,
    stands,
)

SUPPORT_GAP = 1
"""A part that hangs no more than this above something (tenths of a mm) counts as carried by it."""

FAR_BELOW = int(np.iinfo(np.int64).max)
"""How far the next thing is below where there is none."""


@dataclass(frozen=True)
class LoweredPart:
    """A placed part in tenths of a mm: its boxes where they lie, and how far down its domain lets it go.

    ``lowest_drop`` is the greatest distance that the part's domain allows downwards.
    """

    name: str
    boxes: tuple[IntBox, ...]
    clearances: tuple[IntBox, ...]
    lowest_drop: int
    needs_support: bool
    soles: tuple[IntBox, ...] = ()
    """Boxes whose undersides may rest on something or have a pad under them; empty: all of them."""

    def lowered(self, drop: int) -> LoweredPart:
        """Return the part moved down by ``drop``."""
        return replace(
            self,
            boxes=tuple(_lower(box, drop) for box in self.boxes),
            clearances=tuple(_lower(box, drop) for box in self.clearances),
            lowest_drop=self.lowest_drop - drop,
            soles=tuple(_lower(box, drop) for box in self.soles),
        )

    @cached_property
    def envelope(self) -> Boxes:
        """Its boxes, (n, 6)."""
        return np.array(self.boxes, dtype=np.int64).reshape(-1, 6)

    @cached_property
    def kept_clear(self) -> Boxes:
        """What it keeps clear, (n, 6)."""
        return np.array(self.clearances, dtype=np.int64).reshape(-1, 6)

    @property
    def bottom(self) -> int:
        """Lowest point of the envelope."""
        return min(box[2] for box in self.boxes)


@dataclass(frozen=True)
class Carried:
    """What carries a part: the body, another part, a shelf, or how it is mounted.

    Attributes
    ----------
    drop
        How far the part was let down.
    shelf
        The room of the proposed shelf, if any.
    pads
        Pads with which it stands where it lies, if it needs some.
    steady
        False: it touches something and would tip, or there is nothing under it.
    contacts
        Where it rests, if it would tip.
    """

    name: str
    drop: int
    by: str
    shelf: IntBox | None = None
    pads: tuple[IntBox, ...] = ()
    steady: bool = True
    contacts: tuple[Rect, ...] = ()


def lower_parts(
    parts: Sequence[LoweredPart],
    obstacles: Sequence[IntBox],
    held: frozenset[str] = frozenset(),
    *,
    walls: Sequence[IntBox] | None = None,
    bricks: Sequence[IntBox] | None = None,
) -> tuple[Carried, ...]:
    """Let the parts down and say what carries each, in the order given.

    Parameters
    ----------
    held
        Names of parts that their mount holds (in a window, on a face): they stay where they are and want
        no shelf unless they need support.
    walls
        What the room that parts keep clear may not sink into; None: all obstacles.
    bricks
        Obstacles that carry: not the air that parts must keep out of. None: all of them.
    """
    order = sorted(range(len(parts)), key=lambda i: parts[i].bottom)
    now = list(parts)
    fallen = [0] * len(parts)
    solid = np.array(obstacles, dtype=np.int64).reshape(-1, 6)
    shut = solid if walls is None else np.array(walls, dtype=np.int64).reshape(-1, 6)
    bearing = solid if bricks is None else np.array(bricks, dtype=np.int64).reshape(-1, 6)
    for _ in range(len(parts)):
        moved = False
        for index in order:
            if now[index].name in held:
                continue
            drop = _room_below(now[index], _others(now, index), solid, shut)
            if drop > 0:
                now[index] = now[index].lowered(drop)
                fallen[index] += drop
                moved = True
        if not moved:
            break
    found: list[Carried] = []
    for index, part in enumerate(now):
        others = _others(now, index)
        by, gap, hanging = _nearest(part, others, bearing)
        if not part.needs_support:
            found.append(Carried(part.name, fallen[index], by if gap <= SUPPORT_GAP else ITS_MOUNT))
        elif gap <= SUPPORT_GAP:
            found.append(replace(_standing(part, others, bearing, solid, by), drop=fallen[index]))
        else:
            under, firm = _room_under(part, others, bearing, solid, hanging)
            pads = _pads(part, others, bearing, solid, ())
            if not pads and not firm:
                under = _post(part, others, bearing, solid) or under
            carried = bool(pads) or under is not None
            by = "shelf" if carried else NOTHING
            found.append(Carried(part.name, fallen[index], by, None if pads else under, pads, carried))
    return tuple(found)


def _standing(
    part: LoweredPart, others: list[tuple[str, LoweredPart]], bearing: Boxes, solid: Boxes, nearest: str
) -> Carried:
    """Return how a part that touches something stands on it: as it lies, with pads, or not steadily."""
    faces, center = resting_faces(part.soles or part.boxes), middle_of(part.boxes)
    on_body = contacts(faces, bearing, SUPPORT_GAP)
    if stands(center, on_body):
        return Carried(part.name, 0, "the body")
    patches, by, most = list(on_body), nearest, 0
    for name, other in others:
        on_part = contacts(faces, other.envelope, SUPPORT_GAP)
        area = sum((x1 - x0) * (y1 - y0) for x0, y0, x1, y1 in on_part)
        if area > most:
            by, most = name, area
        patches += on_part
    if stands(center, patches):
        return Carried(part.name, 0, by)
    pads = _pads(part, others, bearing, solid, patches)
    if pads:
        return Carried(part.name, 0, "shelf", pads=pads)
    return Carried(part.name, 0, by, steady=False, contacts=tuple(patches))


def _pads(
    part: LoweredPart,
    others: list[tuple[str, LoweredPart]],
    bearing: Boxes,
    solid: Boxes,
    resting: Sequence[Rect],
) -> tuple[IntBox, ...]:
    """Return pads with which a part stands where it lies; none when none do."""
    parts = [other.envelope for _, other in others]
    kept = [other.kept_clear for _, other in others]
    below = np.concatenate([bearing, *parts])
    in_the_way = np.concatenate([solid, *parts, *kept])
    return pads_that_steady(part.boxes, resting, below, in_the_way, part.soles or part.boxes)


def _post(
    part: LoweredPart, others: list[tuple[str, LoweredPart]], bearing: Boxes, solid: Boxes
) -> IntBox | None:
    """Return a column from a brick past other parts and what they keep clear, where the part stands on it."""
    taken = [solid]
    for _, other in others:
        taken += [other.envelope, other.kept_clear]
    return post_under(part.boxes, part.soles or part.boxes, bearing, np.concatenate(taken))


def _lower(box: IntBox, drop: int) -> IntBox:
    return (box[0], box[1], box[2] - drop, box[3], box[4], box[5] - drop)


def _others(parts: Sequence[LoweredPart], index: int) -> list[tuple[str, LoweredPart]]:
    return [(part.name, part) for i, part in enumerate(parts) if i != index]


def _gaps_below(boxes: Boxes, below: Boxes) -> NDArray[np.int64]:
    """Return (n,) the clear distance from each box's underside down to the next box; huge where none is."""
    if not len(below):
        return np.full(len(boxes), FAR_BELOW)
    gap = boxes[:, 2, None] - below[:, 5]
    under = gap >= 0
    for axis in (0, 1):
        under &= (boxes[:, axis, None] < below[:, axis + 3]) & (boxes[:, axis + 3, None] > below[:, axis])
    return np.asarray(np.where(under, gap, FAR_BELOW).min(axis=1), dtype=np.int64)


def _room_below(part: LoweredPart, others: list[tuple[str, LoweredPart]], solid: Boxes, shut: Boxes) -> int:
    gaps = [_gaps_below(part.envelope, solid), _gaps_below(part.kept_clear, shut)]
    for _, other in others:
        # What is kept clear for a plug or a lens holds the other's envelope up too, and the other way round.
        gaps.append(_gaps_below(part.envelope, np.concatenate([other.envelope, other.kept_clear])))
        gaps.append(_gaps_below(part.kept_clear, other.envelope))
    return max(int(np.concatenate(gaps).min(initial=part.lowest_drop)), 0)


def _nearest(
    part: LoweredPart, others: list[tuple[str, LoweredPart]], bearing: Boxes
) -> tuple[str, int, NDArray[np.int64]]:
    """Return what is nearest under a part, how far below, and how far each box hangs above a thing."""
    gaps = np.stack(
        [_gaps_below(part.envelope, rows) for rows in (bearing, *(o.envelope for _, o in others))]
    )
    first, below = divmod(int(gaps.T.argmin()), len(gaps))
    best = int(gaps[below, first])
    name = "the floor" if best >= FAR_BELOW else ("the body", *(name for name, _ in others))[below]
    return name, best, gaps.min(axis=0)


def _room_under(
    part: LoweredPart,
    others: list[tuple[str, LoweredPart]],
    bearing: Boxes,
    solid: Boxes,
    hanging: NDArray[np.int64],
) -> tuple[IntBox | None, bool]:
    """Return the clear room between a part and a thing below, and whether it would stand on what fills that.

    Of clear rooms that under the underside which hangs least, where the part would stand on that, else on the
    next: under a lens that stands out over a sill, its own board behind it, there is none, or one too small.

    Parameters
    ----------
    hanging
        How far each of its boxes hangs above a thing; huge where there is none.
    """
    taken = [solid, part.envelope, part.kept_clear]
    for _, other in others:
        # What is built up keeps out of the room for another's plugs, too.
        taken += [other.envelope, other.kept_clear]
    shut = np.concatenate(taken)

    @cache  # under boxes of one part that are as low there are the same
    def clear(shelf: IntBox) -> IntBox | None:
        room = _up_to_the_part(part, shelf)
        return None if share_room(rows_of([room]), shut) else room

    rooms = []
    for index in np.argsort(hanging, kind="stable").tolist():
        if hanging[index] >= FAR_BELOW:
            break
        under = _clear_under(part, part.boxes[index], int(hanging[index]), clear)
        if under is not None and borne_by(under, part.boxes):
            rooms.append(under)
    bearers = np.concatenate([bearing, *(other.envelope for _, other in others)])
    steady = next((room for room in rooms if _would_stand(part, room, bearers)), None)
    if steady is not None:
        return steady, True
    return rooms[0] if rooms else None, False  # none: what lies under it is kept clear


def _would_stand(part: LoweredPart, room: IntBox, below: Boxes) -> bool:
    """Return whether a part stands on what fills a room, over what bears that from below."""
    tops = [(x0, y0, x1, y1) for x0, y0, _, x1, y1, _ in below[below[:, 5] == room[2]].tolist()]
    block = cut_to(tops, room)
    return block is not None and stands(middle_of(part.boxes), borne_by(block, part.soles or part.boxes))


def _clear_under(
    part: LoweredPart, above: IntBox, gap: int, clear: Callable[[IntBox], IntBox | None]
) -> IntBox | None:
    """Return the clear room under one of a part's boxes: under all that are as low, else under one."""
    near = [box for box in part.boxes if abs(box[2] - above[2]) <= SAME_UNDERSIDE]
    x0, y0 = min(box[0] for box in near), min(box[1] for box in near)
    x1, y1 = max(box[3] for box in near), max(box[4] for box in near)
    for wide in ((x0, y0, x1, y1), *((*box[:2], *box[3:5]) for box in (above, *near))):
        room = clear((*wide[:2], above[2] - gap, *wide[2:], above[2]))
        if room is not None:
            return room
    return None


def _up_to_the_part(part: LoweredPart, shelf: IntBox) -> IntBox:
    """Return a shelf no higher than the lowest point of the part over it."""
    x0, y0, z0, x1, y1, z1 = shelf
    over = [box[2] for box in part.boxes if box[0] < x1 and x0 < box[3] and box[1] < y1 and y0 < box[4]]
    return (x0, y0, z0, x1, y1, min([z1, *(bottom for bottom in over if bottom > z0)]))

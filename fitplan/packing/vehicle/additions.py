"""The cheapest addition that carries a part which hangs in the air: plates, a bracket, a tile at its side.

What is added is built of bricks, plates and tiles of common sizes, and stands on studs of the body, or
hangs from its roof. Five forms are looked at:

* plates: one stack of pieces of the same footprint, on as many studs, under the part;
* bracket: a stack on two studs beside or under the part, with a plate on top that reaches under the part;
* clip: a stack of one stud beside the part, on top a brick with a stud on its side, and on that a tile whose
  face the part lies against, with tape (`side_studs`);
* bridge and hanger: a plate between two stacks, or below a stack from the roof (`reaching_additions`).

Every form at every place is looked at; of those that carry the part and run into nothing, and whose studs
bear it in a tumble, the one with the fewest pieces is taken, then the one with the fewest studs. What is left
between the last piece and the part, less than a plate, is filled with a pad of foam or tape. Where less than
a plate is missing altogether a pad is enough; where there are no studs, a block is proposed that must be
printed or glued.

All lengths are in tenths of a millimetre. Sizes of pieces, heights and the tile's seat on a side stud are
common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.boxes import ExactSpace, hull_in_tenths
from fitplan.lattice.cover import TENTHS
from fitplan.model.placed import Piece, Shelf, ShelfKind
from fitplan.model.studs import floor_studs
from fitplan.model.vehicle import Vehicle
from fitplan.packing.access.slide import Rows, sharing_room
from fitplan.packing.engine.problem import IntBox
from fitplan.packing.vehicle.addition_shapes import (
    CELL,
    KNOB,
    LAYER,
    Arms,
    Candidate,
    Cells,
    Merit,
    UnsupportedPart,
    arms_under,
    bears_push,
    feet_of,
    foot_of,
    in_mm,
    piece,
    stack,
)
from fitplan.packing.vehicle.reaching_additions import bridges, hangers, roof_undersides
from fitplan.packing.vehicle.side_studs import clips
from fitplan.packing.vehicle.support import (
    FIRMLY,
    Rect,
    borne_by,
    height_of_middle,
    hull_of,
    middle_of,
    stands,
    stands_firmly,
)
from fitplan.units import STUD

MOST_ABREAST = 64
"""So many additions are asked about at once whether they stand free."""


@dataclass(frozen=True, eq=False)
class _StuddedBody:
    """A body as additions see it: its obstacles without studs, its studs by cell, and its hull."""

    hull: IntBox
    obstacles: NDArray[np.int64]
    roof: tuple[tuple[int, NDArray[np.bool_]], ...]
    """Levels of undersides that something may hang from, each with its cells, (long, wide)."""
    storeys: tuple[NDArray[np.int64], ...]
    """(long, wide) each, the level that a cell's lowest stud stands on, its second lowest and so on; −1
    where there is none."""


def cheapest_addition(
    vehicle: Vehicle, removed: frozenset[str], part: UnsupportedPart, under: IntBox
) -> Shelf:
    """Return the cheapest addition that carries a part.

    Parameters
    ----------
    under
        The room between the part and the next thing below: a pad when it is less than a plate high, and a
        block of last resort.
    """
    center = middle_of(part.boxes)
    steady = stands(center, borne_by(under, part.boxes))
    thin = under[5] - under[2] < LAYER
    if thin and steady:
        return Shelf("pad", (Piece("pad", in_mm(under)),), 0, True)
    found = _cheapest(
        vehicle,
        removed,
        part,
        lambda touch: not thin or _within(center, touch),
        lambda touch: _within(center, touch, FIRMLY),
    )
    if found is not None:
        return found.as_shelf()
    kind: ShelfKind = "pad" if thin else "block"
    return Shelf(kind, (Piece(kind, in_mm(under)),), 0, steady)


def _within(center: tuple[float, float], touch: Rect, edge: int = 0) -> bool:
    return all(touch[i] + edge <= center[i] <= touch[i + 2] - edge for i in (0, 1))


def steadying_addition(
    vehicle: Vehicle, removed: frozenset[str], part: UnsupportedPart, resting: Sequence[Rect]
) -> Shelf | None:
    """Return the cheapest addition with which a part that rests on something stands; None when none does."""
    center = middle_of(part.boxes)
    over_one = stands(center, resting)
    # Of what it rests on the corners of the hull do: it is asked with hundreds of contacts more.
    corners = [(x, y, x, y) for x, y in hull_of(resting)]
    found = _cheapest(
        vehicle,
        removed,
        part,
        lambda touch: over_one or stands(center, [*corners, touch]),
        lambda touch: stands_firmly(center, [*corners, touch]),
        steady=True,
    )
    return found.as_shelf() if found is not None else None


def _cheapest(
    vehicle: Vehicle,
    removed: frozenset[str],
    part: UnsupportedPart,
    serves: Callable[[Rect], bool],
    firmly: Callable[[Rect], bool],
    *,
    steady: bool = False,
) -> Candidate | None:
    """Return the cheapest addition that serves and stands free; what reaches far is looked at last.

    Parameters
    ----------
    serves
        Whether what touches the part there from below is of use.
    firmly
        Whether the part's middle lies well within what is borne there and all else that carries it.
    steady
        With it the part stands, whatever the candidate says of itself.
    """
    best: Candidate | None = None
    serving, firm = cache(serves), cache(firmly)  # many reach under the part at the same place
    arms = tuple(
        (bottom, tuple((arm, touch) for arm, touch in reaching if serving(touch)))
        for bottom, reaching in arms_under((vehicle.studs_long, vehicle.studs_wide), part)
    )
    for kinds in (candidates, far_candidates):
        # What reaches farther is only built where it does better, or as well with no more pieces.
        if best is not None and best.merit < (False, False, False, 2):
            break
        most = (True, True, True, 1000) if best is None else best.merit
        worth: dict[Merit, list[Candidate]] = {}
        for candidate in kinds(vehicle, removed, part, arms):
            touch = candidate.touch
            merit = candidate.judged(steady or candidate.steady, touch is None or firm(touch))
            if merit <= most:
                worth.setdefault(merit, []).append(candidate)
        # Of most additions the merit is all that is asked: what costs less is told apart where it is equal.
        found = (
            replace(one, steady=not merit[0], firm=not merit[1])
            for merit in sorted(worth)
            for one in sorted(worth[merit], key=lambda one: one.size)
            if best is None or (merit, one.size) < (best.merit, best.size)
        )
        best = next(_standing_free(vehicle, removed, part, found), best)
    return best


def _standing_free(
    vehicle: Vehicle, removed: frozenset[str], part: UnsupportedPart, ordered: Iterable[Candidate]
) -> Iterator[Candidate]:
    """Yield those of some additions that stand free, in their order; more and more are looked at at once."""
    ground = _ground(vehicle, removed)
    standing = _beside_the_body(ground, [*part.boxes, *part.own_room, *part.around])
    left, count = iter(ordered), 4
    while some := list(islice(left, count)):
        boxes = [[box for _, box in (*one.pieces, *one.over)] for one in some]
        owners = np.repeat(np.arange(len(some)), [len(own) for own in boxes])
        met = _not_free(ground, np.array([box for own in boxes for box in own], dtype=np.int64), standing)
        hindered = set(owners[met].tolist())
        yield from (one for number, one in enumerate(some) if number not in hindered)
        count = min(4 * count, MOST_ABREAST)


def far_candidates(
    vehicle: Vehicle, removed: frozenset[str], part: UnsupportedPart, arms: Arms
) -> Iterator[Candidate]:
    """Yield bridges between two stacks and what hangs from the roof; what they run into is open."""
    ground = _ground(vehicle, removed)
    ceilings = [_ceilings(ground, studs, part) for studs in ground.storeys]
    yield from bridges(ground.storeys, ceilings, part, arms)
    yield from hangers(ground.roof, part, arms)


def candidates(
    vehicle: Vehicle, removed: frozenset[str], part: UnsupportedPart, arms: Arms, *, every_foot: bool = False
) -> Iterator[Candidate]:
    """Yield every addition whose column and contact are right; whether it runs into something is open.

    Parameters
    ----------
    every_foot
        Brackets on each foot that bears the part; else each plate on its best foot alone.
    """
    ground = _ground(vehicle, removed)
    for studs in ground.storeys:
        ceiling = _ceilings(ground, studs, part)
        yield from _from_below(studs, part, ceiling, arms, every_foot=every_foot)
        yield from clips(studs, part, ceiling)


def stands_free(
    vehicle: Vehicle, removed: frozenset[str], part: UnsupportedPart, candidate: Candidate
) -> bool:
    """Return whether an addition runs into nothing and stays in the hull."""
    boxes = [box for _, box in (*candidate.pieces, *candidate.over)]
    return bricks_stand_free(vehicle, removed, boxes, [*part.boxes, *part.own_room, *part.around])


def bricks_stand_free(
    vehicle: Vehicle, removed: frozenset[str], boxes: Sequence[IntBox], around: Sequence[IntBox] | Rows
) -> bool:
    """Return whether pieces on studs run into neither the body nor what is around, and stay in the hull."""
    ground = _ground(vehicle, removed)
    rows = np.array(boxes, dtype=np.int64)
    return not _not_free(ground, rows, _beside_the_body(ground, around)).any()


def _beside_the_body(ground: _StuddedBody, around: Sequence[IntBox] | Rows) -> Rows:
    return np.concatenate([ground.obstacles, np.array(around, dtype=np.int64).reshape(-1, 6)])


def _not_free(ground: _StuddedBody, rows: Rows, standing: Rows) -> NDArray[np.bool_]:
    """Return (n,) which pieces run into what stands there or a stud, or reach out of the hull."""
    hull = ground.hull
    found = (rows[:, :3] < hull[:3]).any(axis=1) | (rows[:, 3:] > hull[3:]).any(axis=1)
    found |= sharing_room(rows, standing)
    # A stud goes into the piece that stands on it, and must not stick into any other.
    for level in np.unique(rows[:, 2]).tolist():
        on_it = rows[:, 2] == level
        found[on_it] |= sharing_room(rows[on_it], _studs_but(ground, level))
    return found


def stud_levels(vehicle: Vehicle, removed: frozenset[str]) -> tuple[NDArray[np.int64], ...]:
    """Return the level that each cell's studs stand on, (long, wide) a storey; −1 where there is none."""
    return _ground(vehicle, removed).storeys


@lru_cache(maxsize=64)
def _ground(vehicle: Vehicle, removed: frozenset[str]) -> _StuddedBody:
    space = ExactSpace.of(vehicle, removed=removed, studs=False)
    storeys: list[NDArray[np.int64]] = []
    for stud in floor_studs(vehicle, removed):
        x, y, z = stud.solid.bounds.center[0], stud.solid.bounds.center[1], stud.solid.bounds.low[2]
        cell = (int(x / STUD), int(y / STUD))
        free = next((levels for levels in storeys if levels[cell] < 0), None)
        if free is None:
            free = np.full((vehicle.studs_long, vehicle.studs_wide), -1, dtype=np.int64)
            storeys.append(free)
        free[cell] = round(z * TENTHS)
    boxes = space.boxes(~space.free("outward"))
    obstacles = np.array(boxes, dtype=np.int64).reshape(-1, 6)
    roof = roof_undersides(vehicle, obstacles)
    return _StuddedBody(hull_in_tenths(vehicle), obstacles, roof, tuple(storeys))


@lru_cache(maxsize=128)
def _studs_but(ground: _StuddedBody, level: int) -> NDArray[np.int64]:
    """Return the studs as posts, but those that stand on a level: they go into a piece on it."""
    posts = [np.zeros((0, 6), dtype=np.int64)]
    for studs in ground.storeys:
        where = np.argwhere((studs >= 0) & (studs != level))
        levels = studs[tuple(where.T)]
        low = where * CELL + CELL // 2 - 24
        posts.append(np.column_stack([low, levels, low + 48, levels + KNOB]).astype(np.int64))
    return np.concatenate(posts)


def _ceilings(ground: _StuddedBody, studs: NDArray[np.int64], part: UnsupportedPart) -> NDArray[np.int64]:
    """Return for each cell how far up it is free above its stud; 0 where there is no stud."""
    found = np.where(studs >= 0, ground.hull[5], 0)
    solid = np.array([*part.boxes, *part.own_room, *part.around], dtype=np.int64).reshape(-1, 6)
    for x0, y0, z0, x1, y1, z1 in np.concatenate([ground.obstacles, solid]).tolist():
        cells = (slice(max(x0 // CELL, 0), -(-x1 // CELL)), slice(max(y0 // CELL, 0), -(-y1 // CELL)))
        level = studs[cells]
        found[cells] = np.where(z1 > level, np.minimum(found[cells], np.maximum(z0, level)), found[cells])
    return np.where(studs >= 0, found, 0)


def _from_below(
    studs: NDArray[np.int64],
    part: UnsupportedPart,
    ceiling: NDArray[np.int64],
    arms: Arms,
    *,
    every_foot: bool,
) -> Iterator[Candidate]:
    """Yield stacks and brackets, for each height at which the part has an underside."""
    center, middle = middle_of(part.boxes), height_of_middle(part.boxes)
    for bottom, reaching in arms:
        for level in sorted({int(level) for level in studs[studs >= 0].tolist()}):
            for top, knobs in _heights(level, bottom):
                rest = top + knobs
                free = Cells((studs == level) & (ceiling >= rest))
                below = Cells((studs == level) & (ceiling >= top - LAYER))
                for arm, touch in reaching:
                    whole = free.all(arm)
                    if not whole and not below.any(arm):
                        continue
                    over = [("studs", (*touch[:2], top, *touch[2:], rest))] if knobs else []
                    over += [("pad", (*touch[:2], rest, *touch[2:], bottom))] if rest < bottom else []
                    steady = touch[0] <= center[0] <= touch[2] and touch[1] <= center[1] <= touch[3]
                    last = piece(arm, "plate" if knobs else "tile", top - LAYER, top)
                    i0, j0, i1, j1 = arm
                    if whole:
                        pieces = stack(arm, level, top) if knobs else (*stack(arm, level, top - LAYER), last)
                        studs_under = (i1 - i0) * (j1 - j0)
                        bear = bears_push(part.push_n, middle - level, ((arm, studs_under),))
                        yield Candidate("plates", pieces, tuple(over), studs_under, steady, touch, bears=bear)
                        continue
                    lies = (arm, below, part.mass_g, center)
                    best = () if every_foot else (foot_of(*lies, part.push_n, middle - level),)
                    for foot in feet_of(*lies) if every_foot else best:
                        if foot is None:
                            continue
                        column = stack(foot, level, top - LAYER)
                        kind: ShelfKind = "plates" if foot == arm or not column else "bracket"
                        held = (foot[2] - foot[0]) * (foot[3] - foot[1])
                        bear = bears_push(part.push_n, middle - level, ((foot, held),))
                        if not column:
                            # It lies on all studs that there are under it.
                            held = int((studs[i0:i1, j0:j1] == level).sum())
                        pieces = (*column, last)
                        yield Candidate(kind, pieces, tuple(over), held, steady, touch, bears=bear)


def _heights(level: int, bottom: int) -> Iterator[tuple[int, int]]:
    """Yield tops of stacks that leave less than a plate to the part, and how high studs stand on them."""
    for count in range(1, (bottom - level) // LAYER + 1):
        for knobs in (KNOB, 0):
            if 0 <= bottom - level - count * LAYER - knobs < LAYER:
                yield level + count * LAYER, knobs

"""Every addition that could carry a block in a room with a level floor of studs, listed plainly.

Plates, brackets, plates over two stacks, tiles on side studs and plates from the roof, at every place and of
every common size; what each bears is reckoned here in newtons and millimetres. Nothing of the search is used.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, field

Box = tuple[int, int, int, int, int, int]
"""Edges in tenths of a millimetre, the low ones first."""
Cells = tuple[int, int, int, int]
"""First cell along x and y, and how many cells each way."""
STUD, PLATE, KNOB = 80, 32, 17
FOOTPRINTS = {(1, 1), (1, 2), (1, 3), (1, 4), (1, 6), (1, 8), (2, 2), (2, 3), (2, 4), (2, 6)}
FOOTPRINTS |= {(n, m) for m, n in FOOTPRINTS}
HOLDS_N, GRAVITY = 1.0, 9.81
LEAST_OVER, LEAST_FACE, PAST_MIDDLE = 20, 1600, 20
GLUED_MOST_G = 20.0


@dataclass(frozen=True)
class Room:
    """A block in a room: studs of the floor, all that stands around it, floor and roof (tenths)."""

    studs: frozenset[tuple[int, int]]
    solid: tuple[Box, ...]
    block: Box
    floor: int
    roof: int = 0
    """Underside of a roof that stays over ``under_roof``; 0: none does."""
    under_roof: frozenset[tuple[int, int]] = frozenset()
    grams: float = 0.0
    push_n: float = 0.0
    resting: tuple[tuple[int, int, int, int], ...] = ()
    """Where it rests already, though it would tip."""
    posts: tuple[Box, ...] = field(init=False)

    def __post_init__(self) -> None:
        """Stand a post of 4.8 mm in each cell with a stud."""
        posts = tuple(
            (i * STUD + 16, j * STUD + 16, self.floor, i * STUD + 64, j * STUD + 64, self.floor + KNOB)
            for i, j in self.studs
        )
        object.__setattr__(self, "posts", posts)

    @property
    def middle(self) -> tuple[float, float, float]:
        """Its middle, in tenths."""
        x, y, z = ((self.block[k] + self.block[k + 3]) / 2 for k in range(3))
        return (x, y, z)

    def clear(self, boxes: list[Box]) -> bool:
        """Return whether pieces run into nothing; a stud of the floor goes into what stands there."""
        if any(meets(one, other) for one in boxes for other in (*self.solid, self.block)):
            return False
        return not any(meets(one, post) for one in boxes if one[2] != self.floor for post in self.posts)

    def bears(self, feet: list[Cells], level: int) -> bool:
        """Return whether its studs hold a push at the middle of the block, about every edge of the feet."""
        studs = [m * n for _, _, m, n in feet]
        if self.push_n > HOLDS_N * sum(studs):
            return False
        tilting = self.push_n * abs(self.middle[2] - level) / 10
        for k in (0, 1):
            middles = [(foot[k] + foot[k + 2] / 2) * 8.0 for foot in feet]
            edges = [foot[k] * 8.0 for foot in feet], [(foot[k] + foot[k + 2]) * 8.0 for foot in feet]
            for edge in (min(edges[0]), max(edges[1])):
                holding = sum(HOLDS_N * n * abs(at - edge) for n, at in zip(studs, middles, strict=True))
                if tilting > holding:
                    return False
        return True

    def lifted(self, foot: Cells, hung: bool) -> bool:
        """Return whether the weight beside a foot lifts it off its studs."""
        weight, count = self.grams / 1000 * GRAVITY, foot[2] * foot[3]
        for k in (0, 1):
            half = foot[k + 2] * 4.0
            away = abs(self.middle[k] / 10 - (foot[k] * 8.0 + half))
            arm = away + half if hung else max(away - half, 0.0)
            if weight * arm > HOLDS_N * count * half:
                return True
        return hung and weight > HOLDS_N * count


Merit = tuple[bool, bool, int]
"""Whether its middle lies near an edge of what carries it, whether studs bear no push, how many pieces."""
Rect = tuple[int, int, int, int]


@dataclass(frozen=True)
class Carrier:
    """What could be built under a block: its boxes, where it touches the block, and its foot beside that."""

    merit: Merit
    boxes: tuple[Box, ...]
    touch: Rect
    foot: Cells | None = None
    hung: bool = False


def cheapest(room: Room) -> Merit | None:
    """Return the best merit of all additions over which the middle of the block lies."""
    every = (one.merit for one in carriers(room, standing=True))
    return min(itertools.chain(every, _at_its_side(room)), default=None)


def carriers(room: Room, *, standing: bool) -> Iterator[Carrier]:
    """Yield all that could be built under a block: on which it stands, or on which it would tip."""
    yield from _under(room, standing)
    yield from _from_the_roof(room, standing)


def meets(one: Box, other: Box) -> bool:
    """Return whether two boxes share room."""
    return all(one[k] < other[k + 3] and other[k] < one[k + 3] for k in range(3))


def fewest_pieces(height: int, tile_on_top: bool) -> int | None:
    """The fewest bricks and plates, and a tile where asked, that make up a height in plates."""
    left = height - tile_on_top
    if left < 0:
        return None
    return tile_on_top + min(bricks + left - 3 * bricks for bricks in range(left // 3 + 1))


def feet_in(i: int, j: int, m: int, n: int, a: int, b: int) -> list[Cells]:
    """All rectangles of a × b cells within one of m × n."""
    return [(i + u, j + v, a, b) for u in range(m - a + 1) for v in range(n - b + 1)]


def _cells(i: int, j: int, m: int, n: int) -> set[tuple[int, int]]:
    return {(i + a, j + b) for a in range(m) for b in range(n)}


def _box(cells: Cells, low: int, high: int) -> Box:
    i, j, m, n = cells
    return (i * STUD, j * STUD, low, (i + m) * STUD, (j + n) * STUD, high)


def _plates(room: Room, standing: bool) -> Iterator[tuple[Cells, Rect, bool]]:
    """Yield every plate with which the block stands or not, what it touches, whether that is at an edge."""
    x, y, _ = room.middle
    for (m, n), i, j in itertools.product(sorted(FOOTPRINTS), range(-6, 14), range(-6, 14)):
        x0, y0 = max(i * STUD, room.block[0]), max(j * STUD, room.block[1])
        x1, y1 = min((i + m) * STUD, room.block[3]), min((j + n) * STUD, room.block[4])
        if min(x1 - x0, y1 - y0) < LEAST_OVER:
            continue
        rects = (*room.resting, (x0, y0, x1, y1))
        if not standing and not _within(x, y, rects):
            yield (i, j, m, n), (x0, y0, x1, y1), False
        elif standing and _within(x, y, rects):
            near = ((x + PAST_MIDDLE, y), (x - PAST_MIDDLE, y), (x, y + PAST_MIDDLE), (x, y - PAST_MIDDLE))
            at_edge = not all(_within(*point, rects) for point in near)
            yield (i, j, m, n), (x0, y0, x1, y1), at_edge


def _within(x: float, y: float, rects: tuple[Rect, ...]) -> bool:
    """Return whether a point lies in some triangle of corners of rectangles, so in the hull of all."""
    if len(rects) == 1:
        return rects[0][0] <= x <= rects[0][2] and rects[0][1] <= y <= rects[0][3]
    corners = [(rect[k], rect[m]) for rect in rects for k in (0, 2) for m in (1, 3)]
    for three in itertools.combinations(corners, 3):
        turns = [
            (q[0] - p[0]) * (y - p[1]) - (q[1] - p[1]) * (x - p[0])
            for p, q in zip(three, (*three[1:], three[0]), strict=True)
        ]
        (ax, ay), (bx, by), (cx, cy) = three
        flat = (bx - ax) * (cy - ay) == (by - ay) * (cx - ax)
        if not flat and (min(turns) >= 0 or max(turns) <= 0):
            return True
    return False


def _pad(touch: Rect, low: int, high: int) -> list[Box]:
    return [(touch[0], touch[1], low, touch[2], touch[3], high)] if low < high else []


def _under(room: Room, standing: bool) -> Iterator[Carrier]:
    """Yield plates on studs, brackets on two to four, and plates over two stacks."""
    for arm, touch, at_edge in _plates(room, standing):
        i, j, m, n = arm
        for layers, tile in itertools.product(range(1, 12), (False, True)):
            top = room.floor + layers * PLATE
            rest = top + (0 if tile else KNOB)
            if not 0 <= room.block[2] - rest < PLATE:
                continue
            pad = _pad(touch, rest, room.block[2])
            count = fewest_pieces(layers, tile)
            whole = [_box(arm, room.floor, rest), *pad]
            if count is not None and _cells(*arm) <= room.studs and room.clear(whole):
                merit = at_edge, not room.bears([arm], room.floor), count
                yield Carrier(merit, tuple(whole), touch)
            below = fewest_pieces(layers - 1, False)
            assert below is not None
            over = [_box(arm, top - PLATE, top), *pad]
            for foot in (f for a, b in ((2, 1), (1, 2), (2, 2)) for f in feet_in(*arm, a, b)):
                column = [_box(foot, room.floor, top - PLATE)] if layers > 1 else []
                stands = _cells(*foot) <= room.studs and room.clear([*column, *over])
                if stands and not room.lifted(foot, hung=False):
                    merit = at_edge, not room.bears([foot], room.floor), below + 1
                    beside = foot if column and foot != arm else None
                    yield Carrier(merit, (*column, *over), touch, beside)
            for a, b in ((1, n), (m, 1)) if not tile else ():
                if max(m // a, n // b) < 3:
                    continue
                ends: list[Cells] = [(i, j, a, b), (i + m - a, j + n - b, a, b)]
                stacks = [_box(end, room.floor, top - PLATE) for end in ends] if layers > 1 else []
                if all(_cells(*end) <= room.studs for end in ends) and room.clear([*stacks, *over]):
                    merit = at_edge, not room.bears(ends, room.floor), 2 * below + 1
                    yield Carrier(merit, (*stacks, *over), touch)


def _at_its_side(room: Room) -> Iterator[Merit]:
    """Yield tiles on a side stud of a brick on a stack of one stud."""
    block = room.block
    if room.grams > GLUED_MOST_G:
        return
    for (i, j), layers in itertools.product(sorted(room.studs), range(12)):
        cell = (i, j, 1, 1)
        base, below = room.floor + layers * PLATE, fewest_pieces(layers, False)
        for k, ahead in itertools.product((0, 1), (True, False)):
            column = _box(cell, room.floor, base + 3 * PLATE)
            tile = [*column]
            tile[2], tile[5] = base + 8, base + 88
            tile[k] = column[k + 3] if ahead else column[k] - PLATE
            tile[k + 3] = tile[k] + PLATE
            gap = block[k] - tile[k + 3] if ahead else tile[k] - block[k + 3]
            wide = min(tile[4 - k], block[4 - k]) - max(tile[1 - k], block[1 - k])
            high = min(tile[5], block[5]) - max(tile[2], block[2])
            if not 0 <= gap < PLATE or min(wide, high) <= 0 or wide * high < LEAST_FACE:
                continue
            pad = [*tile]
            pad[k], pad[k + 3] = (tile[k + 3], block[k]) if ahead else (block[k + 3], tile[k])
            for side in (1 - k, 2):
                pad[side] = max(tile[side], block[side])
                pad[side + 3] = min(tile[side + 3], block[side + 3])
            boxes: list[Box] = [column, _six(tile), *([_six(pad)] if gap else [])]
            if below is not None and not room.lifted(cell, hung=False) and room.clear(boxes):
                yield False, not room.bears([cell], room.floor), below + 2


def _from_the_roof(room: Room, standing: bool) -> Iterator[Carrier]:
    """Yield plates below a stack that hangs on two to four studs beside what they touch."""
    if room.roof < max(room.block[5], 1):
        return
    for arm, touch, at_edge in _plates(room, standing):
        for layers in range(1, 14):
            top = room.roof - layers * PLATE
            if not 0 <= room.block[2] - top - KNOB < PLATE:
                continue
            count = fewest_pieces(layers, False)
            over = [_box(arm, top - PLATE, top), *_pad(touch, top, room.block[2])]
            for foot in (f for a, b in ((2, 1), (1, 2), (2, 2)) for f in feet_in(*arm, a, b)):
                column = _box(foot, top, room.roof)
                beside = (
                    column[0] >= touch[2]
                    or column[3] <= touch[0]
                    or column[1] >= touch[3]
                    or column[4] <= touch[1]
                )
                if count is None or not beside or room.lifted(foot, hung=True):
                    continue
                if _cells(*foot) <= room.under_roof and room.clear([column, *over]):
                    merit = at_edge, not room.bears([foot], room.roof), count + 1
                    yield Carrier(merit, (column, *over), touch, foot, hung=True)


def _six(edges: list[int]) -> Box:
    x0, y0, z0, x1, y1, z1 = edges
    return (x0, y0, z0, x1, y1, z1)

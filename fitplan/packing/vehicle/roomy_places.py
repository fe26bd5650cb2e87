"""Places with room for wires: parts where they are easily wired, not where they take the least room.

The exact search packs a vehicle as a puzzle, from a corner. Here parts are loose: each has some hundred
places that obstacles leave it (`fitplan.packing.engine.free_offsets`), judged by what its wires would like:
short ways, room before its pins, nothing in what is to stay clear. Parts are laid down one after the other,
the largest first, and then taken up again, one to three at a time, and laid down better, as placers of
circuits do. Places are legal throughout, so what comes out is a packing; that nothing comes out proves
nothing.

What is wished for comes as frozen values in mm from whoever knows the wires; this module knows none.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.cover import TENTHS
from fitplan.model.solids import Box, Direction, Place, Vec, axis_of, is_forward, pose_named
from fitplan.model.vehicle import Vehicle
from fitplan.packing.engine.free_offsets import free_pieces
from fitplan.packing.engine.problem import IntBox, PackingProblem, Placed, Variant
from fitplan.packing.vehicle.beside import Beside, meet, nearest, shares
from fitplan.packing.vehicle.liked_places import unliked
from fitplan.packing.vehicle.preferred import Liked, preferred_cost
from fitplan.packing.vehicle.seats import ORIGIN, Wanted
from fitplan.packing.vehicle.support import middle_of, stands
from fitplan.packing.vehicle.views import View, view_of

MOST_PLACES = 1200
"""Places of one part that are looked at; the grid grows coarser until there are no more."""
BEST_VIEWS = 100
"""So many of the places with the best view are among them in any case."""
STEP = 32
"""Finest grid of places (tenths of a mm)."""
FEW_PIECES = 24
"""Up to so many pieces each has a grid of its own."""
MOST_LEVELS = 8
"""So many heights at which a part may stand are looked at: those with the most room."""
EXIT_LONG, EXIT_HALF = 60, 10
"""Room that is wished for before pins: so far along their exit, and so far to each side (tenths of a mm)."""
BEFORE_PINS = 90.0
"""What a box of this room costs when all of it is taken, in mm of wire."""
PER_COST = 12.0
"""What a step of a seat's own cost counts (standing on edge, access shut), in mm of wire."""
UNSTEADY = 60.0
"""What it counts that a part's middle lies beside its lowest faces, in mm of wire: a board on edge tips."""
PER_HEIGHT = 0.3
"""What a millimetre of height counts, in mm of wire."""
ROUNDS = 7
"""So many times the number of parts are taken up and laid down again."""

STEPS_A_PLACE = 200
"""What it counts in steps of the budget to judge one place beside the parts that lie: about a microsecond."""
MOST_KEPT = 1500
"""So many answers of what one part's places have to do with another that lies are kept, the last ones."""
EVERY = slice(None)

Boxes = NDArray[np.int64]


@dataclass(frozen=True)
class WiredPin:
    """A pin that is wired: the need of its part, and point (mm) and exit in the part's own frame."""

    need: str
    at: Vec
    exit: Direction


@dataclass(frozen=True)
class WiredNet:
    """What one net joins in a vehicle: pins of parts, and points (mm) that stay where they are."""

    terminals: tuple[WiredPin, ...]
    points: tuple[Vec, ...] = ()


@dataclass(frozen=True)
class KeepClear:
    """A box (mm) that parts had better leave to wires; ``weight``: mm of wire that it is worth as a whole."""

    box: Box
    weight: float


@dataclass(frozen=True)
class Wishes:
    """What wires would like of the places in one vehicle.

    ``dear`` are needs whose pins were walled in before: the room before them counts thrice.
    """

    nets: tuple[WiredNet, ...]
    clear: tuple[KeepClear, ...] = ()
    dear: frozenset[str] = frozenset()
    liked: tuple[Liked, ...] = ()


class PartPlaces:
    """One part's places, side by side in arrays, lengths in tenths of a mm.

    Attributes
    ----------
    variant, offset
        (n,) and (n, 3).
    solid, room, exits
        (n, k, 6) boxes of the envelope, of what is kept clear, and before the wired pins; padded with empty
        boxes.
    bounds
        (n, 6) round envelope and room.
    cost
        (n,) what a place costs by itself.
    pins
        By net: (n, p, 3).
    """

    def __init__(
        self,
        entry: Wanted,
        problem: PackingProblem,
        number: int,
        wishes: Wishes,
        held: bool,
        vehicle: Vehicle,
    ) -> None:
        item = problem.items[number]
        self.name = entry.need.name
        self.dear = 3.0 if self.name in wishes.dear else 1.0
        self.variants = item.variants
        view = view_of(entry, vehicle)
        found = [_grid(variant, problem, held, view) for variant in item.variants]
        self.variant = np.repeat(np.arange(len(found)), [len(rows) for rows in found])
        self.offset = np.concatenate(found) if found else np.zeros((0, 3), dtype=np.int64)
        poses = [variant.key for variant in item.variants]
        poor = view.poor(poses, self.variant, self.offset) if view else np.zeros(len(self.offset))
        if len(self.offset) > MOST_PLACES:
            kept = np.linspace(0, len(self.offset) - 1, MOST_PLACES).round().astype(np.int64)
            if view:
                kept = np.concatenate([kept, np.argsort(poor, kind="stable")[:BEST_VIEWS]])
            kept = np.unique(kept)
            self.variant, self.offset, poor = self.variant[kept], self.offset[kept], poor[kept]
        shapes = [variant.shape for variant in item.variants]
        mine = [[terminal for terminal in net.terminals if terminal.need == self.name] for net in wishes.nets]
        self.solid = self._moved([_rows(shape.solid) for shape in shapes])
        self.room = self._moved([_rows([c.box for c in shape.clearances]) for shape in shapes])
        self.exits = self._moved([_exits(variant.key, mine) for variant in item.variants])
        both = np.concatenate(
            [self.solid, np.where(_empty(self.room)[..., None], self.solid[:, :1], self.room)], 1
        )
        self.bounds = np.concatenate([both[..., :3].min(axis=1), both[..., 3:].max(axis=1)], axis=1)
        self.pins = {
            net: np.stack([_points(variant.key, ends) for variant in item.variants])[self.variant]
            + self.offset[:, None, :]
            for net, ends in enumerate(mine)
            if ends
        }
        space = problem.spaces[0]
        walls = np.array(space.obstacles, dtype=np.int64).reshape(-1, 6)
        cost = np.array([variant.cost for variant in item.variants], dtype=float)[self.variant] * PER_COST
        cost += (self.bounds[:, 2] - space.hull[2]) / TENTHS * PER_HEIGHT
        filled = np.where(_empty(self.solid)[..., None], self.solid[:, :1], self.solid)
        outline = np.concatenate([filled[..., :3].min(axis=1), filled[..., 3:].max(axis=1)], axis=1)
        self.outline = outline / TENTHS
        for like in wishes.liked:
            if like.need == self.name and like.box is not None:
                there = np.array([*like.box.low, *like.box.high])
                cost += preferred_cost(like.kind, self.outline, there, like.weight)
        cost += poor + unliked(entry.part, poses, self.variant, outline / TENTHS, vehicle.openings)
        if entry.part.mount.needs_support:
            cost += UNSTEADY * np.array([not _steady(shape.solid) for shape in shapes])[self.variant]
        cost += BEFORE_PINS * self.dear * shares(self.exits, walls)
        outside = (self.exits[..., :3] < np.array(space.hull[:3])) | (
            self.exits[..., 3:] > np.array(space.hull[3:])
        )
        cost += BEFORE_PINS * self.dear * 0.5 * (outside.any(axis=-1) & ~_empty(self.exits)).sum(axis=1)
        for wish in wishes.clear:
            box = np.array([[round(v * TENTHS) for v in (*wish.box.low, *wish.box.high)]], dtype=np.int64)
            cost += wish.weight * shares(np.broadcast_to(box, (len(self.offset), 1, 6)), self.solid)
        self.cost = cost

    def _moved(self, rows: list[Boxes]) -> Boxes:
        most = max((len(row) for row in rows), default=0)
        padded = np.zeros((len(rows), most, 6), dtype=np.int64)
        for number, row in enumerate(rows):
            padded[number, : len(row)] = row
        moved: Boxes = padded[self.variant] + np.concatenate([self.offset, self.offset], axis=1)[:, None, :]
        return moved


def _steady(boxes: Sequence[IntBox]) -> bool:
    """Tell whether a part stands on a level floor: its middle lies over the faces that touch it."""
    lowest = min(box[2] for box in boxes)
    return stands(middle_of(boxes), [(b[0], b[1], b[3], b[4]) for b in boxes if b[2] == lowest])


def _empty(boxes: Boxes) -> NDArray[np.bool_]:
    return np.asarray((boxes[..., 3:] <= boxes[..., :3]).any(axis=-1))


def _rows(boxes: Sequence[Sequence[int]]) -> Boxes:
    return np.array([list(box) for box in boxes], dtype=np.int64).reshape(-1, 6)


def _grid(variant: Variant, problem: PackingProblem, held: bool, view: View | None) -> Boxes:
    """Return (n, 3) offsets on a grid over what the obstacles leave of a variant's domain.

    What nothing holds goes down as far as it may: only the lowest place over each point is of use. For what
    looks out the place nearest the middle of its ``view`` is among them.
    """
    pieces = free_pieces(variant, problem).astype(np.int64)
    if not len(pieces):
        return np.zeros((0, 3), dtype=np.int64)
    if held or len(pieces) <= FEW_PIECES:
        return _grid_of_each(pieces, held, view.middle(pose_named(variant.key)) if view else None)
    # One grid for all: on studded floors there are hundreds of pieces.
    low, high = pieces[:, :3].min(axis=0), pieces[:, 3:].max(axis=0)
    step = max(STEP, math.isqrt(int(np.prod(high[:2] - low[:2])) // MOST_PLACES))
    area = np.prod(pieces[:, 3:5] - pieces[:, :2] + 1, axis=1)
    large = pieces[np.argsort(-area, kind="stable")[:FEW_PIECES]]
    lines = [
        np.unique(np.concatenate([np.arange(low[a], high[a] + 1, step), large[:, a], large[:, a + 3]]))
        for a in (0, 1)
    ]
    first = [np.searchsorted(lines[a], pieces[:, a], side="left") for a in (0, 1)]
    after = [np.searchsorted(lines[a], pieces[:, a + 3], side="right") for a in (0, 1)]
    levels, which = np.unique(pieces[:, 2], return_inverse=True)
    widest = np.argsort(-np.bincount(which, weights=area), kind="stable")[:MOST_LEVELS]
    found = []
    for level in np.sort(levels[widest]).tolist():
        at_it = pieces[:, 2] == level
        under = (pieces[:, 2] < level) & (pieces[:, 5] >= level - 1)
        stands, falls = (
            _covered([rows[group] for rows in (*first, *after)], [len(line) for line in lines])
            for group in (at_it, under)
        )
        i, j = np.nonzero(stands & ~falls)
        found.append(np.stack([lines[0][i], lines[1][j], np.full(len(i), level)], axis=1))
    rows: Boxes = np.concatenate(found).astype(np.int64)
    return rows


def _covered(spans: Sequence[NDArray[np.int64]], sizes: Sequence[int]) -> NDArray[np.bool_]:
    """Return which cells of a grid any of some rectangles covers; each: two first cells, two after.

    Each is noted at its corners with alternating signs; running sums along both axes do the rest.
    """
    depth = np.zeros([size + 1 for size in sizes], dtype=np.int64)
    x0, y0, x1, y1 = spans
    some = (x0 < x1) & (y0 < y1)
    for x, y, sign in ((x0, y0, 1), (x0, y1, -1), (x1, y0, -1), (x1, y1, 1)):
        np.add.at(depth, (x[some], y[some]), sign)
    return np.asarray(depth.cumsum(axis=0).cumsum(axis=1)[:-1, :-1] > 0)


def _grid_of_each(pieces: Boxes, held: bool, liked: NDArray[np.int64] | None) -> Boxes:
    """Return (n, 3) offsets on a grid of its own for each piece, lines through what is nearest ``liked``."""
    step = STEP
    while True:
        sides = np.maximum(pieces[:, 3:] - pieces[:, :3], 0)
        counts = np.prod(np.minimum(sides[:, :2] // step + 2, sides[:, :2] + 1), axis=1)
        if counts.sum() <= 3 * MOST_PLACES or step > 400:
            break
        step = round(step * 1.4)
    found = []
    for x0, y0, z0, x1, y1, z1 in pieces.tolist():
        heights = np.array([z0, (z0 + z1) // 2, z1] if held else [z0])
        lines = [_ticks(x0, x1, step), _ticks(y0, y1, step), np.unique(heights)]
        if liked is not None:
            near = np.clip(liked, (x0, y0, z0), (x1, y1, z1))
            lines = [np.union1d(line, near[axis]) for axis, line in enumerate(lines)]
        found.append(np.stack(np.meshgrid(*lines, indexing="ij"), axis=-1).reshape(-1, 3))
    rows: Boxes = np.unique(np.concatenate(found), axis=0)
    if not held:
        under = rows - np.array([0, 0, 1])
        keep = np.ones(len(rows), dtype=bool)
        for piece in pieces:
            keep[np.all((under >= piece[:3]) & (under <= piece[3:]), axis=1)] = False
        rows = rows[keep]
    return rows


def _ticks(low: int, high: int, step: int) -> NDArray[np.int64]:
    inner = np.arange(low + step, high, step, dtype=np.int64)
    return np.unique(np.concatenate([np.array([low, high], dtype=np.int64), inner]))


def _points(pose: str, ends: Sequence[WiredPin]) -> NDArray[np.int64]:
    place = Place(pose_named(pose), ORIGIN)
    return np.array([[round(v * TENTHS) for v in place.move(end.at)] for end in ends], dtype=np.int64)


def _exits(pose: str, nets: Sequence[Sequence[WiredPin]]) -> Boxes:
    """Return the room before the wired pins of a part in a pose, one box for all that look the same way."""
    place = Place(pose_named(pose), ORIGIN)
    sides: dict[Direction, list[Vec]] = {}
    for end in (end for ends in nets for end in ends):
        sides.setdefault(place.pose.turn_direction(end.exit), []).append(place.move(end.at))
    found = []
    for side in sorted(sides):
        points = np.round(np.array(sides[side]) * TENTHS).astype(np.int64)
        low, high = points.min(axis=0) - EXIT_HALF, points.max(axis=0) + EXIT_HALF
        axis = axis_of(side)
        if is_forward(side):
            low[axis], high[axis] = points[:, axis].min(), points[:, axis].max() + EXIT_LONG
        else:
            low[axis], high[axis] = points[:, axis].min() - EXIT_LONG, points[:, axis].max()
        found.append([*low.tolist(), *high.tolist()])
    return _rows(found)


class RoomySearch:
    """Lays parts loosely into one vehicle.

    Parameters
    ----------
    wanted, problem
        The parts, and the same as items of a problem with every pose that their mounts allow.
    vehicle
        What is reached through an opening of it had better lie near that, what looks out in the middle.
    parts
        The places of each part, where they were worked out before for the same wishes.
    """

    def __init__(
        self,
        wanted: Sequence[Wanted],
        problem: PackingProblem,
        vehicle: Vehicle,
        wishes: Wishes,
        seed: int = 0,
        parts: Sequence[PartPlaces] | None = None,
    ) -> None:
        self._rng = random.Random(seed)
        self._parts = parts or [
            PartPlaces(entry, problem, number, wishes, entry.need.is_held, vehicle)
            for number, entry in enumerate(wanted)
        ]
        self._points = [
            np.round(np.array(net.points, dtype=float).reshape(-1, 3) * TENTHS).astype(np.int64)
            for net in wishes.nets
        ]
        self._liked = [like for like in wishes.liked if like.box is None]
        self._at: dict[int, int] = {}
        self._known: dict[tuple[int, int, int], Beside] = {}
        self._fixed: dict[tuple[int, int], NDArray[np.int64]] = {}
        self._judged = 0

    @property
    def steps(self) -> int:
        """Steps of the budget so far: a place that is judged takes as long as some hundred of them."""
        return STEPS_A_PLACE * self._judged

    def find(self, *, better: bool = True) -> Mapping[str, Placed] | None:
        """Return a place for each part, or None when not all were laid down.

        Without ``better`` they stay where they are laid first.
        """
        if any(not len(part.offset) for part in self._parts) or not self._lay_down():
            return None
        if better:
            self._better()
        return {
            part.name: Placed(int(part.variant[at]), tuple(part.offset[at].tolist()))
            for part, at in ((self._parts[number], at) for number, at in sorted(self._at.items()))
        }

    def _lay_down(self) -> bool:
        """Lay all parts down, the largest first; one that finds no place comes earlier in the next try."""
        order = sorted(
            range(len(self._parts)),
            key=lambda i: (
                len(self._parts[i].offset) > 40,
                -float(np.prod((self._parts[i].bounds[0, 3:] - self._parts[i].bounds[0, :3]).astype(float))),
            ),
        )
        for _ in range(2 * len(order)):
            self._at = {}
            for number in order:
                if not self._lay(number):
                    order.remove(number)
                    order.insert(self._rng.randrange(max(len(self._at) // 2, 1)), number)
                    break
            else:
                return True
        return False

    def _lay(self, number: int) -> bool:
        """Lay a part where it costs least; False when no place is left to it."""
        costs = self._costs(number)
        best = int(np.argmin(costs))
        if not np.isfinite(costs[best]):
            return False
        self._at[number] = best
        return True

    def _costs(self, number: int, rows: slice = EVERY) -> NDArray[np.float64]:
        """Return (n,) what each place of a part costs beside those that lie; inf where it would overlap."""
        part = self._parts[number]
        cost = part.cost[rows].copy()
        self._judged += len(cost)
        others = [(other, at) for other, at in self._at.items() if other != number]
        beside = [self._beside(number, other, at, rows) for other, at in others]
        for one in beside:
            cost[one.overlap] = np.inf
            for more in one.before_pins:
                cost += more
        for like in self._liked:
            if part.name in (like.need, like.other):
                with_it = like.other if part.name == like.need else like.need
                for other, at in others:
                    if self._parts[other].name == with_it:
                        there = self._parts[other].outline[at]
                        cost += preferred_cost(like.kind, part.outline[rows], there, like.weight)
        for net in part.pins:
            away = [self._from_points(number, net)[rows]] if len(self._points[net]) else []
            away += [one.away[net] for one in beside if net in one.away]
            if away:
                cost += np.minimum.reduce(away) / TENTHS
        return cost

    def _beside(self, number: int, other: int, at: int, rows: slice) -> Beside:
        """Return what the places of a part have to do with another part that lies; the last ones are kept."""
        key = (number, other, at)
        known = self._known.pop(key, None)
        if known is None:
            known = self._pair(number, other, at, rows)
            if rows != EVERY:
                return known
        self._known[key] = known
        if len(self._known) > MOST_KEPT:
            del self._known[next(iter(self._known))]
        return known if rows == EVERY else known.of(rows)

    def _pair(self, number: int, other: int, at: int, rows: slice) -> Beside:
        part, there = self._parts[number], self._parts[other]
        bounds, theirs = part.bounds[rows], there.bounds[at]
        solid, room, exits = part.solid[rows], part.room[rows], part.exits[rows]
        overlap = np.all((bounds[:, :3] < theirs[3:]) & (bounds[:, 3:] > theirs[:3]), axis=1)
        near = np.flatnonzero(overlap)
        if len(near):
            overlap[near] = (
                meet(solid[near], there.solid[at])
                | meet(solid[near], there.room[at])
                | meet(room[near], there.solid[at])
            )
        before = []
        if exits.shape[1]:
            before.append(BEFORE_PINS * part.dear * shares(exits, there.solid[at]))
        if there.exits.shape[1]:
            mine = np.broadcast_to(there.exits[at], (len(bounds), *there.exits[at].shape))
            before.append(BEFORE_PINS * there.dear * shares(mine, solid))
        away = {
            net: nearest(pins[rows], there.pins[net][at])
            for net, pins in part.pins.items()
            if net in there.pins
        }
        return Beside(overlap, tuple(before), away)

    def _from_points(self, number: int, net: int) -> NDArray[np.int64]:
        """Return (n,) how far each place's pins of a net are from the net's fixed points (tenths)."""
        key = (number, net)
        if key not in self._fixed:
            self._fixed[key] = nearest(self._parts[number].pins[net], self._points[net])
        return self._fixed[key]

    def _total(self) -> float:
        total = 0.0
        for number, at in self._at.items():
            total += float(self._costs(number, slice(at, at + 1))[0])
        return total

    def _better(self) -> None:
        """Take a few parts up and lay them down again, in any order, as long as it may help."""
        count = len(self._parts)
        best = self._total()
        free = [number for number in range(count) if len(self._parts[number].offset) > 1]
        if not free:
            return
        for turn in range(ROUNDS * count):
            before = dict(self._at)
            some = 1 if turn < 2 * count else self._rng.randint(1, min(3, len(free)))
            taken = [free[turn % len(free)]] if some == 1 else self._rng.sample(free, some)
            for number in taken:
                del self._at[number]
            if all(self._lay(number) for number in taken) and (now := self._total()) < best - 1e-6:
                best = now
            else:
                self._at = before

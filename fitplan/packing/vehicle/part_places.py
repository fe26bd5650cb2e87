"""All places of one part that are looked at, side by side, and what each costs by itself."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.boxes import part_boxes
from fitplan.lattice.cover import TENTHS
from fitplan.model.part import Part
from fitplan.model.solids import ORIGIN, Direction, Place, Vec, pose_named
from fitplan.model.vehicle import Vehicle
from fitplan.packing.engine.problem import IntBox, PackingProblem
from fitplan.packing.vehicle.liked_places import unliked
from fitplan.packing.vehicle.lowering import SUPPORT_GAP
from fitplan.packing.vehicle.pair_costs import Boxes, shares
from fitplan.packing.vehicle.place_grid import MOST_PLACES, places_on_grid
from fitplan.packing.vehicle.preferred import preferred_cost
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.support import middle_of, stands
from fitplan.packing.vehicle.views import view_of
from fitplan.packing.vehicle.wishes import BEFORE_PINS, DEAR, WiredPin, Wishes, before_pins

BEST_VIEWS = 100
"""So many of the places with the best view are among them in any case."""
PER_COST = 12.0
"""What a step of a seat's own cost counts (standing on edge, access shut), in mm of wire."""
UNSTEADY = 60.0
"""What it counts that a part's middle lies beside its lowest faces, in mm of wire: a board on edge tips."""
PER_HEIGHT = 0.5
"""What a millimetre counts by which a part's middle lies higher than it need, in mm of wire: nothing for flat
on the floor."""
BUILT_UP = 40.0
"""What it counts that a part would have to be built up to where it lies, in mm of wire: bricks under it."""
SHUT_BELOW = 500.0
"""What it counts that the middle of a part which needs a floor hangs over what another fills or keeps clear,
in mm of wire: nothing can be built up to it there, so it is more than ways round in a vehicle."""
FOOT = 39
"""So far round its middle (tenths of a mm) a part is built up to: a stud wide, less the play of bricks."""
FLOATING = 20.0
"""What it counts that a part which needs no floor touches nothing, in mm of wire: it must be stuck."""
AT_WALL = 10
"""What lies no further off (tenths of a mm) is stuck to with tape."""


class PartPlaces:
    """One part's places, side by side in arrays, lengths in tenths of a mm.

    Attributes
    ----------
    variant, offset
        (n,) and (n, 3).
    solid, room, exits, no_wires
        (n, k, 6) boxes of the envelope, of what is kept clear, before the wired pins, and of the envelope
        with what keeps wires out (plugs, lenses, fingers); padded with empty boxes.
    taken
        (n, k, 6) boxes of the envelope and of what is kept clear.
    bounds
        (n, 6) round envelope and room.
    cost
        (n,) what a place costs by itself.
    pins
        By net: (n, p, 3).
    foot
        (n, 6) the column from the next wall below up to the middle of a part that stays where it is held;
        empty where it lies on that, or needs no floor.
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
        self.dear = DEAR if self.name in wishes.dear else 1.0
        self.variants = item.variants
        view = view_of(entry, vehicle)
        found = [places_on_grid(variant, problem, held, view) for variant in item.variants]
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
        rooms = [_kept_from_wires(entry.part, variant.key) for variant in item.variants]
        self.no_wires = np.concatenate([self.solid, self._moved(rooms)], axis=1)
        both = np.concatenate(
            [self.solid, np.where(_empty(self.room)[..., None], self.solid[:, :1], self.room)], 1
        )
        self.taken = np.concatenate([self.solid, self.room], axis=1)
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
        filled = np.where(_empty(self.solid)[..., None], self.solid[:, :1], self.solid)
        outline = np.concatenate([filled[..., :3].min(axis=1), filled[..., 3:].max(axis=1)], axis=1)
        self.outline = outline / TENTHS
        cost += PER_HEIGHT * _rise(self.outline)
        for like in wishes.liked:
            if like.need == self.name and like.box is not None:
                there = np.array([*like.box.low, *like.box.high])
                cost += preferred_cost(like.kind, self.outline, there, like.weight)
        cost += poor + unliked(entry.part, poses, self.variant, outline / TENTHS, vehicle.openings)
        self.foot = np.zeros((len(outline), 6), dtype=np.int64)
        if entry.part.mount.needs_support:
            cost += UNSTEADY * np.array([not _steady(shape.solid) for shape in shapes])[self.variant]
            if held:
                middles = np.array([middle_of(shape.solid) for shape in shapes])[self.variant]
                self.foot = _foot(middles + self.offset[:, :2], self.solid, walls, space.hull[2])
            else:
                cost += BUILT_UP * ~_on_something(outline, walls)
        elif not held:
            # What no brick is, such as the air beside an open deck, nothing is stuck to.
            bricks = np.array(space.off_limits, dtype=np.int64).reshape(-1, 6)
            cost += FLOATING * ~_at_something(outline, bricks)
        cost += BEFORE_PINS * self.dear * shares(self.exits, walls)
        outside = (self.exits[..., :3] < np.array(space.hull[:3])) | (
            self.exits[..., 3:] > np.array(space.hull[3:])
        )
        cost += BEFORE_PINS * self.dear * 0.5 * (outside.any(axis=-1) & ~_empty(self.exits)).sum(axis=1)
        for wish in wishes.clear:
            box = np.array([[round(v * TENTHS) for v in (*wish.box.low, *wish.box.high)]], dtype=np.int64)
            worth = wish.weight * (DEAR if wish.before in wishes.dear else 1.0)
            cost += worth * shares(np.broadcast_to(box, (len(self.offset), 1, 6)), self.no_wires)
        self.cost = cost

    def _moved(self, rows: list[Boxes]) -> Boxes:
        most = max((len(row) for row in rows), default=0)
        padded = np.zeros((len(rows), most, 6), dtype=np.int64)
        for number, row in enumerate(rows):
            padded[number, : len(row)] = row
        moved: Boxes = padded[self.variant] + np.concatenate([self.offset, self.offset], axis=1)[:, None, :]
        return moved


def _rise(outline: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (n,) how much higher (mm) the middle of a part lies in each place than in the lowest of them."""
    if not len(outline):
        return np.zeros(0)
    middle = (outline[:, 2] + outline[:, 5]) / 2
    rise: NDArray[np.float64] = middle - middle.min()
    return rise


def _foot(middle: NDArray[np.float64], solid: Boxes, walls: Boxes, lowest: int) -> Boxes:
    """Return (n, 6) the room a stud wide below the middle (n, 2) of a part, from the next wall up to it."""
    low, high = np.floor(middle).astype(np.int64) - FOOT, np.ceil(middle).astype(np.int64) + FOOT

    def over(boxes: Boxes) -> NDArray[np.bool_]:
        shared = (boxes[..., :2] < high[:, None]) & (boxes[..., 3:5] > low[:, None])
        return np.asarray(shared.all(axis=-1), dtype=np.bool_)

    far = np.iinfo(np.int64).max // 4
    bottom = np.where(over(solid) & ~_empty(solid), solid[..., 2], far).min(axis=1, initial=far)
    under = over(walls[None]) & (walls[None, :, 5] <= bottom[:, None] + SUPPORT_GAP)
    floor = np.where(under, walls[None, :, 5], lowest).max(axis=1, initial=lowest)
    bottom = np.where((bottom < far) & (bottom - floor > SUPPORT_GAP), bottom, floor)
    return np.column_stack([low, floor, high, bottom])


def _on_something(outline: Boxes, walls: Boxes) -> NDArray[np.bool_]:
    """Return (n,) whether what stands under a part reaches to both sides of its middle (tenths of a mm)."""
    bottom = outline[:, None, 2]
    low = np.maximum(outline[:, None, :2], walls[None, :, :2])
    high = np.minimum(outline[:, None, 3:5], walls[None, :, 3:5])
    met = (np.abs(bottom - walls[None, :, 5]) <= SUPPORT_GAP) & (low < high).all(axis=-1)
    far = np.iinfo(np.int64).max // 4
    reach_low = np.where(met[..., None], low, far).min(axis=1, initial=far)
    reach_high = np.where(met[..., None], high, -far).max(axis=1, initial=-far)
    middle = (outline[:, :2] + outline[:, 3:5]) // 2
    carried: NDArray[np.bool_] = ((reach_low <= middle) & (reach_high >= middle)).all(axis=1)
    return carried


def _at_something(outline: Boxes, walls: Boxes) -> NDArray[np.bool_]:
    """Return (n,) whether a part lies at a face of a wall, floor or roof, near enough to be stuck to it."""
    low, high = outline[:, None, :3], outline[:, None, 3:]
    near = (low - AT_WALL <= walls[None, :, 3:]) & (high + AT_WALL >= walls[None, :, :3])
    # Beside an edge it meets no face: it must lie before the wall in both other directions.
    before = (low < walls[None, :, 3:]) & (high > walls[None, :, :3])
    met: NDArray[np.bool_] = np.logical_and.reduce(near, axis=-1) & (before.sum(axis=-1) >= 2)
    found: NDArray[np.bool_] = np.logical_or.reduce(met, axis=1)
    return found


def _steady(boxes: Sequence[IntBox]) -> bool:
    """Tell whether a part stands on a level floor: its middle lies over the faces that touch it."""
    lowest = min(box[2] for box in boxes)
    return stands(middle_of(boxes), [(b[0], b[1], b[3], b[4]) for b in boxes if b[2] == lowest])


def _empty(boxes: Boxes) -> NDArray[np.bool_]:
    return np.asarray((boxes[..., 3:] <= boxes[..., :3]).any(axis=-1))


def _rows(boxes: Sequence[Sequence[int]]) -> Boxes:
    return np.array([list(box) for box in boxes], dtype=np.int64).reshape(-1, 6)


def _points(pose: str, ends: Sequence[WiredPin]) -> NDArray[np.int64]:
    place = Place(pose_named(pose), ORIGIN)
    return np.array([[round(v * TENTHS) for v in place.move(end.at)] for end in ends], dtype=np.int64)


def _kept_from_wires(part: Part, pose: str) -> Boxes:
    """Return the room that a part in a pose keeps wires out of, beyond its envelope."""
    place = Place(pose_named(pose), ORIGIN)
    rooms = [place.move_solid(room.solid) for room in part.clearances if not room.lets_wires_through]
    return _rows(part_boxes(rooms, "outward"))


def _exits(pose: str, nets: Sequence[Sequence[WiredPin]]) -> Boxes:
    """Return the room before the wired pins of a part in a pose, one box for all that look the same way."""
    place = Place(pose_named(pose), ORIGIN)
    sides: dict[Direction, list[Vec]] = {}
    for end in (end for ends in nets for end in ends):
        sides.setdefault(place.pose.turn_direction(end.exit), []).append(place.move(end.at))
    boxes = (before_pins(sides[side], side) for side in sorted(sides))
    return _rows([[round(v * TENTHS) for v in (*box.low, *box.high)] for box in boxes])

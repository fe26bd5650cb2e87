"""Places with room for wires: parts where they are easily wired, not where they take the least room.

The exact search packs a vehicle as a puzzle, from a corner. Here parts are loose: each has some hundred
places that obstacles leave it (`fitplan.packing.engine.free_offsets`), judged by what its wires would like:
short ways, room before its pins, nothing in what is to stay clear. Parts are laid down one after the other,
the largest first, and then taken up again, one to three at a time, and laid down better, as placers of
circuits do. Places are legal throughout, so what comes out is a packing; that nothing comes out proves
nothing.

What is wished for comes as frozen values in mm from whoever knows the wires (`wishes`); nothing here knows
one.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.cover import TENTHS
from fitplan.model.vehicle import Vehicle
from fitplan.packing.engine.problem import Item, PackingProblem, Placed
from fitplan.packing.vehicle.pair_costs import PairCosts, meet, nearest, shares, under_taken
from fitplan.packing.vehicle.part_places import SHUT_BELOW, PartPlaces
from fitplan.packing.vehicle.preferred import preferred_cost
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.wishes import BEFORE_PINS, Wishes

ROUNDS = 7
"""So many times the number of parts are taken up and laid down again."""
STEPS_A_PLACE = 200
"""What it counts in steps of the budget to judge one place beside the parts that lie: about a microsecond."""
MOST_KEPT = 1500
"""So many answers of what one part's places have to do with another that lies are kept, the last ones."""
EVERY = slice(None)

KnownPlaces: TypeAlias = dict[Item, PartPlaces]
"""The places of parts, by item, for the same wishes."""


class RoomySearch:
    """Lays parts loosely into one vehicle.

    Parameters
    ----------
    wanted, problem
        The parts, and the same as items of a problem with every pose that their mounts allow.
    vehicle
        What is reached through an opening of it had better lie near that, what looks out in the middle.
    known
        By item, places of parts that were worked out before for the same wishes; those of these are added.
    """

    def __init__(
        self,
        wanted: Sequence[Wanted],
        problem: PackingProblem,
        vehicle: Vehicle,
        wishes: Wishes,
        seed: int = 0,
        known: KnownPlaces | None = None,
    ) -> None:
        self._rng = random.Random(seed)
        known = {} if known is None else known
        for number, entry in enumerate(wanted):
            if problem.items[number] not in known:
                held = entry.need.is_held
                known[problem.items[number]] = PartPlaces(entry, problem, number, wishes, held, vehicle)
        self._parts = [known[problem.items[number]] for number in range(len(wanted))]
        self._points = [
            np.round(np.array(net.points, dtype=float).reshape(-1, 3) * TENTHS).astype(np.int64)
            for net in wishes.nets
        ]
        self._liked = [like for like in wishes.liked if like.box is None]
        self._at: dict[int, int] = {}
        self._known: dict[tuple[int, int, int], PairCosts] = {}
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

    def _beside(self, number: int, other: int, at: int, rows: slice) -> PairCosts:
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

    def _pair(self, number: int, other: int, at: int, rows: slice) -> PairCosts:
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
            before.append(BEFORE_PINS * part.dear * shares(exits, there.no_wires[at]))
        if there.exits.shape[1]:
            mine = np.broadcast_to(there.exits[at], (len(bounds), *there.exits[at].shape))
            before.append(BEFORE_PINS * there.dear * shares(mine, part.no_wires[rows]))
        for feet, boxes in (
            (part.foot[rows], there.taken[at]),
            (np.broadcast_to(there.foot[at], (len(bounds), 6)), part.taken[rows]),
        ):
            if (feet[:, 5] > feet[:, 2]).any():
                before.append(SHUT_BELOW * under_taken(feet, boxes))
        away = {
            net: nearest(pins[rows], there.pins[net][at])
            for net, pins in part.pins.items()
            if net in there.pins
        }
        return PairCosts(overlap, tuple(before), away)

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

"""Ends of vehicles with several holes for wires, of which some lead nowhere, or with none until it is opened.

An end is drawn in a frame of its own: u = 0 at its outer face and grows inwards, y and z as in the vehicle.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import count

from fitplan.model.solids import Box, Direction, bounds_of
from fitplan.model.vehicle import BodySolid, BuiltIn, Port, Removable, Vehicle
from fitplan.units import BRICK, STUD
from tests.hidden.flood import row_high
from tests.hidden.trains import BASE, FLOOR

SQUARE, SQUARE_FROM = 3.2, 4.0
"""The square within the round hole of a brick, and how far above its underside it begins (mm): common
practice, no source."""
SPARE = 1.15
"""So much higher than its rows of wires a hole is."""
Spot = tuple[float, float, float, float]
"""A hole in a wall: y from and to, z from and to (mm)."""


@dataclass(frozen=True)
class Carried:
    """A net that leaves through an end, and the diameter (mm) of its conductor."""

    net: str
    diameter: float


@dataclass
class End:
    """What stands at an end: boxes as (u from, u to, y from, y to, z from, z to).

    ``deep``: how far the hull was moved out; ``inner``: where an inner wall begins, if there is one.
    """

    side: Direction
    longer: float
    total: float = 0.0
    walls: list[tuple[float, float, Spot]] = field(default_factory=list)
    standing: list[tuple[str, list[tuple[float, float, Spot]]]] = field(default_factory=list)
    clear: list[tuple[float, float, Spot]] = field(default_factory=list)
    holes: list[tuple[str, Spot]] = field(default_factory=list)
    shut_holes: list[tuple[str, float, Spot, str]] = field(default_factory=list)
    """What the hidden plan opens: name, u from, what becomes clear, and the kind."""
    price: float = 0.0
    plugs: list[tuple[str, Spot, float]] = field(default_factory=list)
    takes: dict[str, Spot] = field(default_factory=dict)
    gate_takes: dict[str, Spot] = field(default_factory=dict)
    inner: float = 0.0

    def _box(self, u0: float, u1: float, spot: Spot) -> Box:
        y0, y1, z0, z1 = (round(value, 4) for value in spot)
        x0, x1 = (self.total - u1, self.total - u0) if self.side == "+x" else (u0, u1)
        return Box((round(x0, 4), y0, z0), (round(x1, 4), y1, z1))

    def solids(self, length: float) -> Iterator[BodySolid]:
        """Yield what the body has more: walls, then what is cut out of them."""
        self.total = length
        for u0, u1, spot in self.walls:
            yield BodySolid(self._box(u0, u1, spot), "fixed")
        for u0, u1, spot in self.clear:
            yield BodySolid(self._box(u0, u1, spot), "free")
        for _, spot in self.holes:
            yield BodySolid(self._box(0.0, STUD, spot), "free")

    def ports(self, length: float) -> Iterator[Port]:
        """Yield the holes that are open already."""
        self.total = length
        for name, spot in self.holes:
            yield Port(name, self._box(0.0, STUD, spot), self.side)

    def built_in(self, length: float) -> Iterator[BuiltIn]:
        """Yield what is built in right behind holes."""
        self.total = length
        for name, boxes in self.standing:
            solids = tuple(self._box(u0, u1, spot) for u0, u1, spot in boxes)
            yield BuiltIn(name, name.split()[0], solids, mass_g=10.0)

    def shut(self, vehicle: Vehicle) -> Vehicle:
        """Return the vehicle as the train has it: with the bricks that may come out of this end."""
        bricks = tuple(Removable(name, cost) for name, _, cost in self.plugs)
        solids = tuple(
            BodySolid(self._box(0.0, STUD, spot), "removable", name) for name, spot, _ in self.plugs
        )
        return replace(vehicle, removables=(*vehicle.removables, *bricks), body=(*vehicle.body, *solids))

    def open(self, vehicle: Vehicle) -> Vehicle:
        """Return the vehicle as the hidden plan opens it."""
        clear, ports = [], []
        for name, u0, spot, kind in self.shut_holes:
            box = self._box(u0, u0 + STUD, spot)
            clear.append(BodySolid(box, "free"))
            if kind == "end wall":
                ports.append(Port(name, box, self.side))
        return replace(vehicle, body=(*vehicle.body, *clear), ports=(*vehicle.ports, *ports))

    @property
    def through(self) -> Mapping[str, Box]:
        """The hole in the end wall that each net takes."""
        return {net: self._box(0.0, STUD, spot) for net, spot in self.takes.items()}

    @property
    def gates(self) -> Mapping[str, Box]:
        """The hole in the inner wall that each net takes."""
        return {net: self._box(self.inner, self.inner + STUD, spot) for net, spot in self.gate_takes.items()}


def draw_end(
    rng: random.Random, vehicle: Vehicle, side: Direction, carried: Sequence[Carried], may_cost: float
) -> End:
    """Draw an end through which nets leave.

    Parameters
    ----------
    may_cost
        What opening it may cost; 0: it is open.
    """
    studs = rng.randint(2, 4)
    end = End(side, studs * STUD)
    port = next(port for port in vehicle.ports if port.out == side)
    cavity = bounds_of((vehicle.body[1].solid,))
    room = _Room(rng, end, (cavity.low[1], cavity.high[1]), cavity.high[2], studs * STUD)
    strip = (port.box.low[1], port.box.high[1], port.box.low[2], port.box.high[2])
    walled = rng.random() < 0.35
    open_wall = open_inner = False
    if may_cost and carried:
        open_inner = walled and rng.random() < 0.5
        open_wall = not open_inner
    if walled:
        end.inner = studs * STUD
        room.deep = studs * STUD - STUD
        whole = (cavity.low[1], cavity.high[1], FLOOR, cavity.high[2])
        end.walls.append((end.inner, end.inner + STUD, whole))
        ways = room.opened(carried, may_cost, end.inner, "inner wall") if open_inner else None
        if ways is None:
            open_wall = open_wall or open_inner
            end.clear.append((end.inner, end.inner + STUD, strip))
            ways = {one.net: strip for one in carried}
        end.gate_takes = ways
        if rng.random() < 0.7:  # a second opening, of another width
            wide, high = rng.choice((1.6, 3.2, 4.8)), rng.choice((1.6, 3.2, 4.8))
            spot = room.spot(wide, high, [*ways.values()])
            if spot is not None:
                end.clear.append((end.inner, end.inner + STUD, spot))
    ways = room.opened(carried, may_cost - end.price, 0.0, "end wall") if open_wall else None
    if ways is None:
        ways = room.plain(carried, strip)
    end.takes = ways
    taken = [*ways.values()]
    for number in range(rng.randint(0, 2)):
        wide, high = rng.choice((4.0, 6.4, 8.0)), rng.choice((3.2, 4.8, 8.0))
        spot = room.spot(wide, high, taken, apart=4.1)  # bricks with holes stay whole
        if spot is None:
            continue
        taken.append(spot)
        end.holes.append((f"hole {number + 1} {_word(side)}", spot))
        room.behind(number, spot)
    rng.shuffle(end.holes)
    return end


@dataclass
class _Room:
    """The room behind an end wall while things are put into it."""

    rng: random.Random
    end: End
    across: tuple[float, float]
    ceiling: float
    deep: float

    def plain(self, carried: Sequence[Carried], strip: Spot) -> dict[str, Spot]:
        """Open one hole for all nets, or two that carry them together only; return each net's."""
        rng = self.rng
        nets = list(carried)
        rng.shuffle(nets)
        if len(nets) > 1 and rng.random() < 0.5:
            first = rng.randint(1, len(nets) - 1)
            groups = [nets[:first], nets[first:]]
        else:
            groups = [nets]
        found: dict[str, Spot] = {}
        spots: list[Spot] = []
        for group in groups:
            wide = strip[1] - strip[0] if len(groups) == 1 else rng.choice((4.8, 6.4))
            high = strip[3] - strip[2]
            if len(groups) > 1:
                high = max(round(row_high([one.diameter for one in group], wide) * SPARE + 0.05, 1), 1.6)
            spot = self.spot(wide, high, spots, apart=1.6)
            if spot is None:
                spots, found = [strip], {one.net: strip for one in carried}
                break
            spots.append(spot)
            found |= {one.net: spot for one in group}
        word = _word(self.end.side)
        self.end.holes += [(f"{word} hole {n}", spot) for n, spot in zip(count(1), spots, strict=False)]
        return found

    def opened(
        self, carried: Sequence[Carried], may_cost: float, u: float, wall: str
    ) -> dict[str, Spot] | None:
        """Hide one to three bricks with holes in a whole wall, or a brick that comes out; None: too many."""
        rng = self.rng
        groups = _by_holes(carried)
        studs = list(range(math.ceil(self.across[0] / STUD), int(self.across[1] // STUD)))
        rows = [r for r in range(3) if BASE + (r + 1) * BRICK <= self.ceiling]
        places = [(j, r) for j in studs for r in rows]
        rng.shuffle(places)
        if wall == "end wall" and may_cost >= 1.0 and rng.random() < 0.3:
            j, _ = places[0]
            high = FLOOR + max(round(row_high([c.diameter for c in carried], STUD) * SPARE + 0.05, 1), 3.2)
            spot = (j * STUD, (j + 1) * STUD, FLOOR, max(high, FLOOR + 6.4))
            cost = float(rng.randint(1, int(may_cost)))
            if spot[3] < self.ceiling:
                name = f"brick in the {_word(self.end.side)} wall"
                self.end.plugs.append((name, spot, cost))
                self.end.shut_holes.append((f"gap of {name}", u, spot, wall))
                self.end.price += cost
                return {one.net: spot for one in carried}
        if not groups or len(groups) > min(may_cost, len(places)):
            return None
        found: dict[str, Spot] = {}
        for number, (group, (j, row)) in enumerate(zip(groups, places, strict=False)):
            middle, low = (j + 0.5) * STUD, BASE + row * BRICK + SQUARE_FROM
            spot = (middle - SQUARE / 2, middle + SQUARE / 2, low, low + SQUARE)
            self.end.shut_holes.append((f"hidden {_word(self.end.side)} {wall} {number}", u, spot, wall))
            self.end.price += 1.0
            found |= {one.net: spot for one in group}
        return found

    def spot(self, wide: float, high: float, taken: Sequence[Spot], *, apart: float = 1.6) -> Spot | None:
        """Return where a hole may be, clear of others; None after some tries."""
        rng = self.rng
        for _ in range(12):
            if wide > self.across[1] - self.across[0]:
                return None
            y = round(rng.uniform(self.across[0], self.across[1] - wide), 1)
            y = min(
                max(y, math.ceil(self.across[0] * 10) / 10), math.floor((self.across[1] - wide) * 10) / 10
            )
            z = round(FLOOR + rng.choice((0.0, 0.0, 3.2, 9.6, 12.8)), 1)
            spot = (y, round(y + wide, 1), z, round(z + high, 1))
            if spot[3] > self.ceiling - 0.1:
                continue
            if not any(_meet(spot, other, apart) for other in taken):
                return spot
        return None

    def behind(self, number: int, hole: Spot) -> None:
        """Put a motor, a receiver, a post, or a pocket with a slit or without right behind a hole."""
        rng, low = self.rng, self.across
        kind = rng.choice(("motor", "receiver", "post", "pocket", "pocket", "narrow"))
        gap = rng.choice((0.0, 0.4, 0.8, 1.6, 4.0))
        deep = rng.uniform(3.2, max(self.deep - gap - 4.8, 3.3))
        y0, y1 = max(hole[0] - 1.6, low[0]), min(hole[1] + 1.6, low[1])
        top = min(round(hole[3] + rng.choice((0.0, 1.6, 6.4)), 1), self.ceiling - 0.1)
        spot = (y0, y1, FLOOR, top)
        u0 = STUD + gap
        if kind in ("motor", "receiver"):
            name = f"{kind} {number + 1} {_word(self.end.side)}"
            self.end.standing.append((name, [(u0, round(u0 + deep, 1), spot)]))
        elif kind == "post":
            self.end.walls.append((u0, u0 + 3.2, spot))
        else:
            slit = rng.choice((0.0, 0.8, 1.6)) if kind == "pocket" else rng.choice((0.8, 1.6, 2.4))
            gap = max(gap, 0.8) if kind == "pocket" else 0.0
            back = STUD + gap
            closed = (y0, y1, round(hole[2] + slit, 1), min(round(hole[3] + 1.6, 1), self.ceiling - 0.1))
            self.end.walls.append((back, back + 3.2, closed))
            if closed[2] > FLOOR and hole[2] > FLOOR:
                self.end.walls.append((back, back + 3.2, (y0, y1, FLOOR, hole[2])))
            if gap:
                for side in ((y0, hole[0]), (hole[1], y1)):
                    if side[1] - side[0] > 0.1:
                        self.end.walls.append((STUD, back + 3.2, (*side, FLOOR, closed[3])))
                self.end.walls.append((STUD, back + 3.2, (y0, y1, hole[3], closed[3])))


def _by_holes(carried: Sequence[Carried]) -> list[list[Carried]]:
    """Return nets in groups that each lie in rows in the square of a brick's hole."""
    groups: list[list[Carried]] = []
    for one in sorted(carried, key=lambda each: -each.diameter):
        for group in groups:
            if row_high([each.diameter for each in (*group, one)], SQUARE) * SPARE <= SQUARE:
                group.append(one)
                break
        else:
            groups.append([one])
    return groups


def _meet(one: Spot, other: Spot, by: float) -> bool:
    return (
        one[0] < other[1] + by
        and other[0] < one[1] + by
        and one[2] < other[3] + by
        and other[2] < one[3] + by
    )


def _word(side: Direction) -> str:
    return "front" if side == "+x" else "rear"

"""What gets at a pin inside a vehicle, and whether wires reach as far as a part beside it.

Everything stands as boxes in tenths of a millimetre (`packing.access.disassembly`). A tool comes straight
through an opening, against the opening's own direction: tip, shaft and grip as three boxes. A wire that hangs
on a part may leave its way at any point and runs straight from there to the pin, past what is in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.cover import TENTHS
from fitplan.model.solids import AXES, Direction, Vec, axis_of, is_forward, plane_of, unit_vector
from fitplan.model.ways_in import Moves
from fitplan.model.work import TOOL_GRIP_MM, TOOL_SHAFT_MM, TOOL_TIP_MM, TOUCH_MM, InnerHole
from fitplan.packing.access.disassembly import Disassembly
from fitplan.packing.access.openings import is_open_side
from fitplan.packing.access.slide import Rows, share_room
from fitplan.workbench.closed_rings import ClosedRings
from fitplan.workbench.loom import Hanging, Strand

Floats = NDArray[np.float64]
_Sight = tuple[Floats, Floats, dict[str, NDArray[np.bool_]]]
_MOUTH_MM = 3.0
"""A wire's end is taken with tweezers so far inside of a port (common practice, no source)."""
_HAIR_MM = 1e-6
_STEP_MM = 3.0
"""A wire may leave its way at points so far apart."""


class Surroundings:
    """One vehicle with its parts, asked for what stands in the way of tools and wires."""

    def __init__(self, disassembly: Disassembly) -> None:
        self._of = disassembly
        self._blocked: dict[tuple[Vec, str], frozenset[str] | None] = {}
        self._sights: dict[tuple[tuple[Vec, ...], Vec, str], _Sight] = {}
        self._boxes: dict[str, tuple[Rows, NDArray[np.str_]]] = {}

    def clear_for_tool(self, point: Vec, opening: str, inside: frozenset[str]) -> bool:
        """Return whether iron or tweezers get to a point through an opening with these parts in."""
        blockers = self.blockers_of_tool(point, opening)
        return blockers is not None and not blockers & inside

    def blockers_of_tool(self, point: Vec, opening: str) -> frozenset[str] | None:
        """Return the parts that keep a tool from a point; None where the body does."""
        key = (point, opening)
        if key not in self._blocked:
            out = self._of.openings[opening].out
            tool = _tool(point, out, self._hull_plane(out))
            if share_room(tool, self._of.body(opening)):
                self._blocked[key] = None
            else:
                self._blocked[key] = frozenset(
                    need for need in self._of.names if share_room(tool, self._rows(need))
                )
        return self._blocked[key]

    def clear_through_open(self, point: Vec, opened: str | None, inside: frozenset[str]) -> bool:
        """Return whether a tool gets to a point through what is open, or an open side, with these parts in.

        ``opened`` is an opening, empty when all are closed, or None when any may be opened.
        """
        return any(
            self.clear_for_tool(point, name, inside)
            for name in self._of.openings
            if opened is None or name == opened or is_open_side(self._of.vehicle, name)
        )

    def mouths_clear(self, strand: Strand, opened: str, inside: frozenset[str]) -> bool:
        """Return whether tweezers get to the inner mouths of the ports that a strand goes through."""
        for knot in (strand.first, strand.last):
            port = self._of.vehicle.port(knot[1])
            if knot[0] != "port" or port is None:
                continue
            axis = axis_of(port.out)
            at = list(port.box.center)
            inner = port.box.low[axis] if is_forward(port.out) else port.box.high[axis]
            at[axis] = inner - _MOUTH_MM if is_forward(port.out) else inner + _MOUTH_MM
            if not self.clear_through_open((at[0], at[1], at[2]), opened, inside):
                return False
        return True

    def both_mouths_clear(self, hole: InnerHole, off: frozenset[str], inside: frozenset[str]) -> bool:
        """Return whether tweezers get to both mouths of a hole inside while these lids are off."""
        ways = [name for name in self._of.openings if name in off or is_open_side(self._of.vehicle, name)]
        axis = AXES.index(hole.axis)
        for edge, away in ((hole.box.low[axis], -_MOUTH_MM), (hole.box.high[axis], _MOUTH_MM)):
            at = list(hole.box.center)
            at[axis] = edge + away
            if not any(self.clear_for_tool((at[0], at[1], at[2]), name, inside) for name in ways):
                return False
        return True

    def leaves(
        self,
        hanging: Hanging,
        moves_out: Moves,
        opening: str,
        inside: frozenset[str],
        rings: ClosedRings | None = None,
    ) -> tuple[float, tuple[Vec, ...]]:
        """Return what hanging wires need at most while their part comes out, and where they leave their way.

        With ``rings`` they run through the same holes as where they lie.

        Points stand in the order in which the part goes in: beside the vehicle first. Where no
        straight line is clear, or longer, a wire follows the pin along its moves: its point is the pin's own
        place. Length in mm.
        """
        pin = hanging.points[0]
        way = float(sum(math.dist(a, b) for a, b in pairwise(hanging.points)))
        most, gone = 0.0, 0.0
        found: list[Vec] = []
        outs = [pin]
        for direction, distance in moves_out:
            outs.append(along(outs[-1], direction, distance))
        for direction, distance in moves_out:
            pin = along(pin, direction, distance)
            gone += distance
            at = (round(pin[0], 3), round(pin[1], 3), round(pin[2], 3))
            points, straight, hits = self._sight(hanging.points, at, opening)
            for name, hit in hits.items():
                if not name or name in inside:
                    straight = np.where(hit, np.inf, straight)
            if rings is not None:
                rest = outs[len(found) + 1 :]
                straight = self._in_the_same(rings, points, straight, way + gone, (outs, rest))
            best = int(straight.argmin())
            if straight[best] > way + gone:
                most = max(most, way + gone)
                found.append(hanging.points[0])
                continue
            most = max(most, float(straight[best]))
            x, y, z = (round(v, 4) for v in points[best].tolist())
            found.append((x, y, z))
        return most, tuple(reversed(found))

    def _in_the_same(
        self, rings: ClosedRings, points: Floats, straight: Floats, most: float,
        outs: tuple[Sequence[Vec], Sequence[Vec]],
    ) -> Floats:  # fmt: skip
        """Return lengths by points along a way: infinite for those shorter ones that lead past a hole.

        ``outs`` are where the pin is from its place on, and from where it is now on.
        """
        lengths = straight.copy()
        while (best := int(lengths.argmin())) >= 0 and lengths[best] <= most:
            leave = _vec(points[best])
            back = [_vec(point) for point in points[best::-1]]
            if rings.same([*back, *outs[0]], [leave, *outs[1]]):
                return np.where(lengths < lengths[best], np.inf, lengths)
            lengths[best] = np.inf
        return lengths

    def _sight(self, way: tuple[Vec, ...], pin: Vec, opening: str) -> _Sight:
        """Return points along a way, the length by each, and what crosses the line from some to a pin."""
        key = (way, pin, opening)
        if key not in self._sights:
            points = _close(way)
            steps = np.sqrt((np.diff(points, axis=0) ** 2).sum(axis=1))
            behind = np.concatenate([np.cumsum(steps[::-1])[::-1], [0.0]])
            lengths = behind + np.sqrt(((points - np.array(pin)) ** 2).sum(axis=1))
            self._sights[key] = (points, lengths, _crossed(points, pin, *self._solids(opening)))
        return self._sights[key]

    def _solids(self, opening: str) -> tuple[Rows, NDArray[np.str_]]:
        """Return the boxes of the body and of all parts, and what each belongs to; the body has no name."""
        if opening not in self._boxes:
            named = [("", self._of.body(opening))] + [(n, self._rows(n)) for n in sorted(self._of.names)]
            names = np.repeat([name for name, _ in named], [len(rows) for _, rows in named])
            self._boxes[opening] = (np.concatenate([rows for _, rows in named]), names)
        return self._boxes[opening]

    def _rows(self, need: str) -> Rows:
        rows = [self._of.parts[need]]
        if need in self._of.shelves:
            rows.append(self._of.shelves[need])
        return np.concatenate(rows)

    def _hull_plane(self, out: Direction) -> int:
        hull = self._of.vehicle.hull
        edge = plane_of(hull, out)
        return round(edge * TENTHS)


def along(point: Vec, way: Direction, far: float) -> Vec:
    """Return the point so far (mm) from another in a direction."""
    (x, y, z), (dx, dy, dz) = point, unit_vector(way)
    return (x + far * dx, y + far * dy, z + far * dz)


def _vec(row: Floats) -> Vec:
    x, y, z = row.tolist()
    return (x, y, z)


def _tool(point: Vec, out: Direction, plane: int) -> Rows:
    """Return tip, shaft and grip of a tool that touches a point, as boxes as far as the hull's plane."""
    axis, sign = axis_of(out), 1 if is_forward(out) else -1
    touch = [value * TENTHS for value in point]
    found: list[list[int]] = []
    begin = touch[axis] + sign * TOUCH_MM * TENTHS
    for wide, long in (TOOL_TIP_MM, TOOL_SHAFT_MM, (TOOL_GRIP_MM, math.inf)):
        end = sign * min(sign * begin + long * TENTHS, max(sign * plane, sign * begin))
        low, high = [0.0] * 3, [0.0] * 3
        for i in range(3):
            low[i], high[i] = touch[i] - wide * TENTHS / 2, touch[i] + wide * TENTHS / 2
        low[axis], high[axis] = min(begin, end), max(begin, end)
        found.append([*(math.floor(v + 1e-6) for v in low), *(math.ceil(v - 1e-6) for v in high)])
        begin = end
    return np.array(found, dtype=np.int64)


def _close(way: Sequence[Vec]) -> Floats:
    """Return points along a way from its pin on, no farther apart than a step."""
    points = np.array(way, dtype=float)
    found = [points[:1]]
    for start, end in pairwise(points):
        count = max(1, math.ceil(float(np.linalg.norm(end - start)) / _STEP_MM))
        found.append(start + np.arange(1, count + 1)[:, None] / count * (end - start))
    return np.concatenate(found)


def _crossed(points: Floats, pin: Vec, rows: Rows, names: NDArray[np.str_]) -> dict[str, NDArray[np.bool_]]:
    """Return by name from which points boxes of that name lie across the line to a pin, where any do.

    A line along the seam of two boxes is in neither, but a hair to either side it is in one.
    """
    at = np.array(pin)
    if not (points == at).any():
        return _met(points, at, rows, names)
    one, other = (_met(points + hair, at + hair, rows, names) for hair in (_HAIR_MM, -_HAIR_MM))
    return {name: one[name] & other[name] for name in one.keys() & other.keys()}


def _met(
    points: Floats, at: NDArray[np.float64], rows: Rows, names: NDArray[np.str_]
) -> dict[str, NDArray[np.bool_]]:
    """Return by name from which points a box of that name lies across the line to another point."""
    low, high = rows[:, :3] / TENTHS, rows[:, 3:] / TENTHS
    least, most = np.minimum(points.min(axis=0), at), np.maximum(points.max(axis=0), at)
    beside = ((low <= most) & (high >= least)).all(axis=1)
    enter, leave = np.full((1, 1), -np.inf), np.full((1, 1), np.inf)
    for axis in range(3):
        first, last = low[beside, axis], high[beside, axis]
        here, run = points[:, axis, None], (at[axis] - points[:, axis])[:, None]
        with np.errstate(divide="ignore", invalid="ignore"):
            one, two = (first - here) / run, (last - here) / run
        still, within = run == 0, (here > first) & (here < last)
        near = np.where(still, np.where(within, -np.inf, np.inf), np.minimum(one, two))
        far = np.where(still, np.where(within, np.inf, -np.inf), np.maximum(one, two))
        enter, leave = np.maximum(enter, near), np.minimum(leave, far)
    crossed = (enter < leave) & (leave > 0) & (enter < 1)
    across = np.flatnonzero(crossed.any(axis=0))
    owners = names[beside][across]
    return {name: np.any(crossed[:, across[owners == name]], axis=1) for name in set(owners.tolist())}

"""The parts and the body of one vehicle while parts are taken out, and which way each of them comes out."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import lru_cache

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.boxes import part_boxes
from fitplan.lattice.cover import TENTHS, IntBox, box_in_tenths
from fitplan.model.placed import Placement
from fitplan.model.solids import (
    DIRECTIONS,
    Box,
    Direction,
    Place,
    Solid,
    Vec,
    axis_of,
    is_forward,
    unit_vector,
)
from fitplan.model.vehicle import Opening, Vehicle
from fitplan.model.ways_in import Moves as MovesMm
from fitplan.packing.access.hands import Hand
from fitplan.packing.access.long_ways import StraightMoves, long_way, points_of
from fitplan.packing.access.opened_body import opened_body
from fitplan.packing.access.openings import is_open_side, ways_into
from fitplan.packing.access.reachable_offsets import room_to_leave
from fitplan.packing.access.slide import (
    MOST_MOVES,
    Moves,
    Rows,
    beyond_opening,
    forbidden_offsets,
    overlaps_at_rest,
    passes,
    rows_of,
    slide_out,
)


def hanging_on_each_other(carried_by: Mapping[str, str]) -> bool:
    """Return True when parts carry each other in a ring, so that what carries what gives no order."""
    graph: nx.DiGraph[str] = nx.DiGraph(list(carried_by.items()))
    return not nx.is_directed_acyclic_graph(graph)


class Disassembly:
    """The parts and the body of one vehicle as boxes in tenths, and what has been asked of them so far."""

    def __init__(self, vehicle: Vehicle, placements: Sequence[Placement], removed: frozenset[str]) -> None:
        self.vehicle = vehicle
        self.placements = {placement.need: placement for placement in placements}
        self.names = frozenset(self.placements)
        self.openings = {opening.name: opening for opening in ways_into(vehicle, removed)}
        self.parts = {need: part_rows(placement) for need, placement in self.placements.items()}
        # Rounded inwards for the part on it: a pad is as thick as the gap, and no part lies in its own.
        self.shelves, self._under = (
            {
                need: rows_of(box for one in placement.shelf.boxes if (box := box_in_tenths(one, outward)))
                for need, placement in self.placements.items()
                if placement.shelf is not None
            }
            for outward in (True, False)
        )
        self.removed = removed
        self._against: dict[tuple[str, str, str], Rows] = {}
        self._answers: dict[tuple[frozenset[str], str], dict[frozenset[str], Moves | None]] = {}
        self._carried_by = {need: placement.carried_by for need, placement in self.placements.items()}
        if hanging_on_each_other(self._carried_by):
            self._carried_by = dict.fromkeys(self.placements, "")

    def body(self, opening: str) -> Rows:
        """Return the body as it is while an opening is open; closed for an empty name or an open side."""
        return _body(self.vehicle, self.removed, self.openings[opening] if opening else None)

    def carriers(self, left: frozenset[str]) -> frozenset[str]:
        """Return the parts that carry another of those that are left."""
        return frozenset(self._carried_by[need] for need in left) & left

    def carried(self, need: str) -> frozenset[str]:
        """Return the parts that a part carries, also by way of others."""
        found: frozenset[str] = frozenset()
        while True:
            more = frozenset(other for other, by in self._carried_by.items() if by == need or by in found) - {
                need
            }
            if more == found:
                return found
            found = more

    def way_out(self, group: frozenset[str], others: frozenset[str], opening: str) -> Moves | None:
        """Return the moves by which parts come out as one through an opening while others are in.

        Fewer others never close a way, and more never open one, so answers serve for other sets too.
        """
        known = self._answers.setdefault((group, opening), {})
        for stay, moves in known.items():
            if (others <= stay) if moves is not None else (stay <= others):
                return moves
        if others and self.way_out(group, frozenset(), opening) is None:
            return None
        moves = self._find(group, others, self.openings[opening])
        known[others if moves is None else others | self._passed(group, others, moves)] = moves
        return moves

    def _passed(self, group: frozenset[str], others: frozenset[str], moves: Moves) -> frozenset[str]:
        """Return what a long way passes besides those it was found beside: it serves where these are in, too.

        Short ways are soon found anew, and may be shorter where less is in.
        """
        if len(moves) <= MOST_MOVES:
            return frozenset()
        points = points_of(moves)
        return frozenset(
            other
            for other in self.names - group - others
            if all(StraightMoves(self.forbidden(need, other, "")).free_all(points) for need in group)
        )

    def _find(self, group: frozenset[str], others: frozenset[str], opening: Opening) -> Moves | None:
        if len(group) == 1 and not others:
            (need,) = group
            shelf = self._under.get(need, self.parts[need][:0])
            return _alone(self.vehicle, self.removed, opening, self.parts[need].tobytes(), shelf.tobytes())
        members = sorted(group)
        forbidden = [self.forbidden(need, "", opening.name) for need in members]
        forbidden += [self.forbidden(need, other, "") for need in members for other in sorted(others)]
        # What carries a part of the group stays behind, in the way of the others.
        forbidden += [
            forbidden_offsets(self.parts[need], self.shelves[other])
            for need in members
            for other in members
            if need != other and other in self.shelves
        ]
        mover = np.concatenate([self.parts[need] for need in members])
        return leave_through(self.vehicle.hull, mover, np.concatenate(forbidden), opening)

    def forbidden(self, need: str, other: str, opening: str) -> Rows:
        """Return where a part overlaps another and its shelf; for no other: the body and its own shelf."""
        key = (need, other, "" if other else opening)
        if key not in self._against:
            standing = [self.parts[other] if other else self.body(opening)]
            shelf = self.shelves.get(other) if other else self._under.get(need)
            if shelf is not None:
                standing.append(shelf)
            self._against[key] = forbidden_offsets(self.parts[need], np.concatenate(standing))
        return self._against[key]

    def put_together(self, group: frozenset[str]) -> tuple[tuple[str, Moves], ...] | None:
        """Return in which order parts are put to each other outside, and by which moves apart; or None.

        The first is there to begin with and has no moves; the others' moves lead away from those before them.
        Each comes off by at most two straight moves.
        """
        left = set(group)
        off: list[tuple[str, Moves]] = []
        while len(left) > 1:
            ways = [
                (len(moves), sum(distance for _, distance in moves), need, moves)
                for need in sorted(left)
                if (moves := self._off(need, left - {need})) is not None
            ]
            if not ways:
                return None
            _, _, need, moves = min(ways)
            off.append((need, moves))
            left -= {need}
        return ((next(iter(left)), ()), *reversed(off))

    def _off(self, need: str, others: set[str]) -> Moves | None:
        mover = self.parts[need]
        rest = np.concatenate([self.parts[other] for other in sorted(others)])
        forbidden = forbidden_offsets(mover, rest)
        low, high = rest[:, :3].min(axis=0), rest[:, 3:].max(axis=0)
        hull = Box(_in_mm(low), _in_mm(high))
        ways = [
            moves
            for out in DIRECTIONS
            if (moves := slide_out(forbidden, out, _leave(hull, mover, out), 2)) is not None
        ]
        return min(ways, key=lambda moves: (len(moves), sum(d for _, d in moves)), default=None)

    def obstacles(self, opening: str, others: Iterable[str]) -> Rows:
        """Return all boxes that stand around: the opened body, parts, shelves."""
        rows = [self.body(opening)]
        for other in sorted(others):
            rows.append(self.parts[other])
            if other in self.shelves:
                rows.append(self.shelves[other])
        return np.concatenate(rows)


def _body(vehicle: Vehicle, removed: frozenset[str], opening: Opening | None) -> Rows:
    lid = None if opening is None or is_open_side(vehicle, opening.name) else opening
    return opened_body(vehicle, removed, lid)


@lru_cache(maxsize=4096)  # in most layouts of a vehicle some parts lie as in others
def _alone(
    vehicle: Vehicle, removed: frozenset[str], opening: Opening, part: bytes, shelf: bytes
) -> Moves | None:
    """Return how a part on its shelf, boxes both, leaves a body with nothing else in it."""
    mover, under = (np.frombuffer(rows, dtype=np.int64).reshape(-1, 6) for rows in (part, shelf))
    standing = np.concatenate([_body(vehicle, removed, opening), under])
    return leave_through(vehicle.hull, mover, forbidden_offsets(mover, standing), opening)


Filling = Callable[[Vehicle, Sequence[Placement], frozenset[str]], Disassembly]
"""Gives a vehicle filled so with these bricks out: a fresh one, or one that has been asked already."""


def leave_through(
    hull: Box, mover: Rows, forbidden: Rows, opening: Opening, hand: Hand | None = None
) -> Moves | None:
    """Return the straight moves by which something leaves a hull through an opening, or None.

    Ways of up to three moves are searched for the fewest moves, then the shortest way. Longer ones are made
    of the fewest boxes of free offsets and shortened.

    Parameters
    ----------
    hand
        What it is that leaves, where it is no part but a finger or a plug.
    """
    edges = [
        (math.floor(low * TENTHS + 1e-6), math.ceil(high * TENTHS - 1e-6))
        for low, high in zip(opening.box.low, opening.box.high, strict=True)
    ]
    box = IntBox(*(low for low, _ in edges), *(high for _, high in edges))
    # What leaves beside the opening's outline, by a gap that is always there, does not leave through it.
    forbidden = np.concatenate([forbidden, beyond_opening(mover, box, opening.out)])
    axis = axis_of(opening.out)
    if is_forward(opening.out):
        at = max(box[axis + 3] - int(mover[:, axis + 3].max()), 0)
    else:
        at = min(box[axis] - int(mover[:, axis].min()), 0)
    leave = _leave(hull, mover, opening.out)
    if hand is not None:
        return hand.slide_out(forbidden, opening.out, leave) if passes(forbidden, opening.out, at) else None
    # Where two moves bring it out, there is an offset from which the way out is free: that need not be asked.
    found = slide_out(forbidden, opening.out, leave, 2)
    if found is not None or not passes(forbidden, opening.out, at):
        return found
    found = slide_out(forbidden, opening.out, leave)
    if found is not None or overlaps_at_rest(forbidden):
        return found
    edges_of_hull = IntBox(
        *(math.floor(value * TENTHS + 1e-6) for value in hull.low),
        *(math.ceil(value * TENTHS - 1e-6) for value in hull.high),
    )
    return long_way(forbidden, room_to_leave(mover, edges_of_hull, opening), opening.out, leave)


def _leave(hull: Box, mover: Rows, out: Direction) -> int:
    axis = axis_of(out)
    if is_forward(out):
        return math.ceil(hull.high[axis] * TENTHS - 1e-6) - int(mover[:, axis].min())
    return int(mover[:, axis + 3].max()) - math.floor(hull.low[axis] * TENTHS + 1e-6)


def _in_mm(corner: NDArray[np.int64]) -> Vec:
    x, y, z = (float(value) / TENTHS for value in corner)
    return (x, y, z)


def part_rows(placement: Placement) -> Rows:
    """Return a placed part as boxes."""
    return rows_at(placement.place, placement.part.envelope)


def swept_rows(rows: Rows, moves: MovesMm) -> Rows:
    """Return what boxes (tenths) fill on their way by moves in mm: one row a box and move."""
    found: list[Rows] = []
    for direction, distance in moves:
        step = np.array(unit_vector(direction), dtype=np.int64) * round(distance * TENTHS)
        after = rows + np.array([*step, *step])
        low, high = np.minimum(rows[:, :3], after[:, :3]), np.maximum(rows[:, 3:], after[:, 3:])
        found.append(np.concatenate([low, high], axis=1))
        rows = after
    return np.concatenate(found) if found else rows[:0]


def rows_at(place: Place, solids: Iterable[Solid]) -> Rows:
    """Return solids as boxes, rounded in their own frame as the search for places does, then moved."""
    still = Place(place.pose, (0.0, 0.0, 0.0))
    rows = rows_of(part_boxes([still.move_solid(solid) for solid in solids]))
    offset = [round(value * TENTHS) for value in place.offset]
    return rows + np.array([*offset, *offset], dtype=np.int64)

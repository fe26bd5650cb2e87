"""In which order parts go in through the openings, by straight moves; what blocks what where none exists.

Parts are taken out one at a time, each by straight moves (`slide`), until nothing is left; backwards that is
the order of assembly. Taking a part out never closes a way for another, so a part that can come out may
always come out at once, and when none can, none ever will: the order is found without trying back. What
remains then holds itself together, and the parts that stand in each other's way form the strongly connected
groups of the blocking graph (Wilson and Latombe, Artificial Intelligence 71, 1994). Two parts that would only
come out together, moved as one, are not looked for. What carries another part goes in before it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import networkx as nx
import numpy as np

from fitplan.lattice.boxes import part_boxes
from fitplan.lattice.cover import TENTHS, IntBox, box_in_tenths
from fitplan.model.part import Access
from fitplan.model.plan import AssemblyStep, Placement
from fitplan.model.solids import Box, Direction, Place, Solid, opposite, unit_vector
from fitplan.model.vehicle import Opening, Vehicle
from fitplan.packing.opened import opened_body
from fitplan.packing.slide import Moves, Rows, beside, forbidden_offsets, overlaps_at_rest, rows_of, slide_out

FINGER = 6.0
"""Depth in mm of the room that a finger needs in front of a switch or socket, where its part names none."""


@dataclass(frozen=True)
class OftenAccess:
    """What is changed or used often, and how it is come by once everything is built in.

    Attributes
    ----------
    reached
        False: not through any opening that may be opened in everyday use, whatever is taken out.
    take_out
        Parts that must come out first; empty when none.
    opening
        The opening; empty when it is reached from outside with everything closed, or not at all.
    """

    need: str
    access: str
    reached: bool
    take_out: tuple[str, ...]
    opening: str


@dataclass(frozen=True)
class AssemblyPlan:
    """The order in which the parts of one vehicle go in.

    Attributes
    ----------
    steps
        In order of assembly. Parts without a way in have none.
    blocked
        Who blocks whom, a sentence each; empty when everything goes in.
    often
        One entry for each access that is used often.
    """

    steps: tuple[AssemblyStep, ...]
    blocked: tuple[str, ...]
    often: tuple[OftenAccess, ...]

    @property
    def times_opened(self) -> int:
        """How often an opening is opened along the steps, neighbours through the same one counted once."""
        names = [step.opening for step in self.steps]
        return sum(1 for i, name in enumerate(names) if i == 0 or names[i - 1] != name)


def assembly_order(
    vehicle: Vehicle,
    placements: Sequence[Placement],
    *,
    removed: frozenset[str] = frozenset(),
) -> AssemblyPlan:
    """Return the order of assembly of the parts that were placed in one vehicle.

    Among all orders one with the fewest re-openings is given.

    Parameters
    ----------
    placements
        Those in this vehicle.
    removed
        Removable bricks that are out.
    """
    yard = _Yard(vehicle, placements, removed)
    taken, left = _take_out(yard)
    steps = tuple(
        AssemblyStep(number, need, yard.placements[need].vehicle, opening, _inwards(moves))
        for number, (need, opening, moves) in enumerate(reversed(taken), start=1)
    )
    often = tuple(
        _come_by(yard, placement, access)
        for placement in placements
        for access in placement.part.access
        if access.often
    )
    return AssemblyPlan(steps, _blocked(yard, left), often)


def _inwards(moves: Moves) -> tuple[tuple[Direction, float], ...]:
    return tuple((opposite(way), distance / TENTHS) for way, distance in reversed(moves))


def hanging_on_each_other(carried_by: Mapping[str, str]) -> bool:
    """Return True when parts carry each other in a ring, so that what carries what gives no order."""
    graph: nx.DiGraph[str] = nx.DiGraph(list(carried_by.items()))
    return not nx.is_directed_acyclic_graph(graph)


class _Yard:
    """The parts and the body of one vehicle as boxes in tenths, and what has been asked of them so far."""

    def __init__(self, vehicle: Vehicle, placements: Sequence[Placement], removed: frozenset[str]) -> None:
        self.vehicle = vehicle
        self.placements = {placement.need: placement for placement in placements}
        self.names = frozenset(self.placements)
        self.openings = {opening.name: opening for opening in vehicle.openings}
        self.parts = {need: _part_rows(placement) for need, placement in self.placements.items()}
        self.shelves = {
            need: rows_of([box])
            for need, placement in self.placements.items()
            if placement.shelf is not None and (box := box_in_tenths(placement.shelf, True)) is not None
        }
        self._removed = removed
        self._opened: dict[str, Rows] = {}
        self._against: dict[tuple[str, str, str], Rows] = {}
        self._answers: dict[tuple[str, str], dict[frozenset[str], Moves | None]] = {}
        self._carried_by = {need: placement.carried_by for need, placement in self.placements.items()}
        if hanging_on_each_other(self._carried_by):
            self._carried_by = dict.fromkeys(self.placements, "")

    def body(self, opening: str) -> Rows:
        """Return the body as it is while an opening is open; closed for an empty name."""
        if opening not in self._opened:
            lid = self.openings[opening] if opening else None
            self._opened[opening] = opened_body(self.vehicle, self._removed, lid)
        return self._opened[opening]

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

    def way_out(self, need: str, others: frozenset[str], opening: str) -> Moves | None:
        """Return the moves by which a part comes out through an opening while others are in.

        Fewer others never close a way, and more never open one, so answers serve for other sets too.
        """
        known = self._answers.setdefault((need, opening), {})
        for stay, moves in known.items():
            if (others <= stay) if moves is not None else (stay <= others):
                return moves
        if others and self.way_out(need, frozenset(), opening) is None:
            return None
        known[others] = self._find(need, others, self.openings[opening])
        return known[others]

    def _find(self, need: str, others: frozenset[str], opening: Opening) -> Moves | None:
        forbidden = [self._forbidden(need, "", opening.name)]
        forbidden += [self._forbidden(need, other, opening.name) for other in sorted(others)]
        return leave_through(self.vehicle.hull, self.parts[need], np.concatenate(forbidden), opening)

    def _forbidden(self, need: str, other: str, opening: str) -> Rows:
        """Return where a part overlaps another (with its shelf), or the body and its own shelf."""
        key = (need, other, "" if other else opening)
        if key not in self._against:
            standing = [self.parts[other] if other else self.body(opening)]
            shelf = self.shelves.get(other or need)
            if shelf is not None:
                standing.append(shelf)
            found = forbidden_offsets(self.parts[need], np.concatenate(standing))
            self._against[key] = np.unique(found, axis=0)
        return self._against[key]

    def obstacles(self, opening: str, others: Iterable[str]) -> Rows:
        """Return all boxes that stand around: the opened body, parts, shelves."""
        rows = [self.body(opening)]
        for other in sorted(others):
            rows.append(self.parts[other])
            if other in self.shelves:
                rows.append(self.shelves[other])
        return np.concatenate(rows)


def leave_through(hull: Box, mover: Rows, forbidden: Rows, opening: Opening, most: int = 3) -> Moves | None:
    """Return the moves by which something leaves a hull through an opening, or None."""
    edges = [
        (math.floor(low * TENTHS + 1e-6), math.ceil(high * TENTHS - 1e-6))
        for low, high in zip(opening.box.low, opening.box.high, strict=True)
    ]
    box = IntBox(*(low for low, _ in edges), *(high for _, high in edges))
    # What leaves beside the opening's outline, by a gap that is always there, does not leave through it.
    forbidden = np.concatenate([forbidden, beside(mover, box, opening.out)])
    return slide_out(forbidden, opening.out, _leave(hull, mover, opening.out), most)


def _leave(hull: Box, mover: Rows, out: Direction) -> int:
    axis = [abs(u) for u in unit_vector(out)].index(1)
    if sum(unit_vector(out)) > 0:
        return math.ceil(hull.high[axis] * TENTHS - 1e-6) - int(mover[:, axis].min())
    return int(mover[:, axis + 3].max()) - math.floor(hull.low[axis] * TENTHS + 1e-6)


def _part_rows(placement: Placement) -> Rows:
    return _rows_at(placement.place, placement.part.envelope)


def _rows_at(place: Place, solids: Iterable[Solid]) -> Rows:
    """Return solids as boxes, rounded in their own frame as the search for places does, then moved."""
    still = Place(place.pose, (0.0, 0.0, 0.0))
    rows = rows_of(part_boxes([still.move_solid(solid) for solid in solids]))
    offset = [round(value * TENTHS) for value in place.offset]
    return rows + np.array([*offset, *offset], dtype=np.int64)


Taken = tuple[tuple[str, str, Moves], ...]


def _take_out(yard: _Yard) -> tuple[Taken, frozenset[str]]:
    """Take everything out with as few changes of opening as there can be; what cannot come out is left.

    Through an open opening everything that can come out does, since that closes no other way; so only the
    order of the openings is searched, breadth first.
    """
    level: dict[frozenset[str], Taken] = {yard.names: ()}
    seen = {yard.names}
    best: tuple[Taken, frozenset[str]] = ((), yard.names)
    while level and best[1]:
        following: dict[frozenset[str], Taken] = {}
        for left, taken in level.items():
            for opening in yard.openings:
                more, rest = _through(yard, left, opening)
                if rest in seen:
                    continue
                seen.add(rest)
                following[rest] = taken + more
                if len(rest) < len(best[1]):
                    best = (taken + more, rest)
        level = following
    return best


def _through(yard: _Yard, left: frozenset[str], opening: str) -> tuple[Taken, frozenset[str]]:
    """Take out all that comes out through one opening, each time what needs the fewest moves."""
    taken: list[tuple[str, str, Moves]] = []
    while True:
        ways = [
            (len(moves), sum(distance for _, distance in moves), need, moves)
            for need in sorted(left - yard.carriers(left))
            if (moves := yard.way_out(need, left - {need}, opening)) is not None
        ]
        if not ways:
            return tuple(taken), left
        _, _, need, moves = min(ways)
        taken.append((need, opening, moves))
        left -= {need}


def _blocked(yard: _Yard, left: frozenset[str]) -> tuple[str, ...]:
    """Return who blocks whom among parts that cannot come out."""
    if not left:
        return ()
    if not yard.openings:
        return tuple(f"{need} has no way in: the vehicle has no opening" for need in sorted(left))
    found: list[str] = []
    blocking: dict[str, frozenset[str]] = {}
    for need in sorted(left):
        sets = [
            blockers
            for opening in yard.openings
            if (blockers := _blockers(yard, need, left - {need}, opening)) is not None
        ]
        if not sets:
            found.append(_stuck_in_body(yard, need))
        else:
            blocking[need] = min(sets, key=lambda names: (len(names), sorted(names)))
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from(blocking)
    graph.add_edges_from(
        (need, other) for need, names in blocking.items() for other in names if other in blocking
    )
    groups = [sorted(group) for group in nx.strongly_connected_components(graph) if len(group) > 1]
    for group in sorted(groups):
        found.append(f"{_listed(group)} hold each other in: none comes out before another")
    found += [f"{_listed(sorted(names))} must come out before {need} can" for need, names in blocking.items()]
    return tuple(found)


def _stuck_in_body(yard: _Yard, need: str) -> str:
    for opening in yard.openings:
        if overlaps_at_rest(yard._forbidden(need, "", opening)):
            return f"{need} overlaps the body or its shelf where it lies, so no way in was looked for"
    names = _listed(sorted(yard.openings))
    return f"{need} has no way in through {names} even when it is alone: the body is in the way"


def _blockers(yard: _Yard, need: str, others: frozenset[str], opening: str) -> frozenset[str] | None:
    """Return a set of parts, none of them spare, that must be out before a part can leave by an opening.

    None when the body alone keeps it in.
    """
    if yard.way_out(need, frozenset(), opening) is None:
        return None
    stay: frozenset[str] = frozenset()
    for other in sorted(others - yard.carried(need)):
        if yard.way_out(need, stay | {other}, opening) is not None:
            stay |= {other}
    return others - stay


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _come_by(yard: _Yard, placement: Placement, access: Access) -> OftenAccess:
    """Return how something that is used often is come by."""
    need = placement.need
    others = yard.names - {need}
    everyday = [opening for opening in yard.openings.values() if opening.often]
    options: list[tuple[frozenset[str], str]] = []
    if access.kind == "cells":
        for opening in everyday:
            blockers = _blockers(yard, need, others, opening.name)
            if blockers is not None:
                options.append((blockers, opening.name))
    else:
        reach = _reach_of(placement, access)
        side = placement.place.pose.turn_direction(access.side)
        outside = Opening("", yard.vehicle.hull, side)
        for opening in [outside, *everyday]:
            kept_in = _keeps_from(yard, reach, need, others, opening)
            if kept_in is not None:
                options.append((kept_in, opening.name))
    if not options:
        return OftenAccess(need, access.name, False, (), "")
    names, through = min(options, key=lambda option: (len(option[0]), sorted(option[0])))
    return OftenAccess(need, access.name, True, tuple(sorted(names)), through)


def _reach_of(placement: Placement, access: Access) -> Rows:
    """Return the room that a finger or plug needs: the part's own access clearances, or a thin plate."""
    part = placement.part
    solids: list[Solid] = [
        clearance.solid
        for clearance in part.clearances
        if clearance.needed == "access" and clearance.name == access.name
    ]
    if not solids:
        low, high = list(part.bounds.low), list(part.bounds.high)
        axis = [abs(u) for u in unit_vector(access.side)].index(1)
        if sum(unit_vector(access.side)) > 0:
            low[axis], high[axis] = high[axis], high[axis] + FINGER
        else:
            low[axis], high[axis] = low[axis] - FINGER, low[axis]
        solids = [Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))]
    return _rows_at(placement.place, solids)


def _keeps_from(
    yard: _Yard, reach: Rows, need: str, others: frozenset[str], opening: Opening
) -> frozenset[str] | None:
    """Return which parts must come out before a finger or plug gets in by an opening; None: it never does."""

    def reached(staying: Mapping[str, None]) -> bool:
        standing = yard.obstacles(opening.name, [need, *staying])
        forbidden = np.unique(forbidden_offsets(reach, standing), axis=0)
        most = 2 if opening.name else 1
        return leave_through(yard.vehicle.hull, reach, forbidden, opening, most) is not None

    if not reached({}):
        return None
    stay: dict[str, None] = {}
    for other in sorted(others):
        if reached({**stay, other: None}):
            stay[other] = None
    return others - stay.keys()

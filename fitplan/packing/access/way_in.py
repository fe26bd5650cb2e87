"""In which order parts go in through the openings, by straight moves; what blocks what where none exists.

Parts are taken out one at a time, each by straight moves (`slide`), until nothing is left; backwards that is
the order of assembly. Taking a part out never closes a way for another, so a part that can come out may
always come out at once, and when none can, none ever will: the order is found without trying back. Then parts
that come out only together are looked for: a group that leaves as one and comes apart outside, the smallest
first. What remains holds itself together, and the parts that stand in each other's way form the strongly
connected groups of the blocking graph (Wilson and Latombe, Artificial Intelligence 71, 1994). What carries
another part goes in before it.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import networkx as nx

from fitplan.lattice.cover import TENTHS
from fitplan.model.placed import Placement
from fitplan.model.solids import opposite
from fitplan.model.vehicle import Vehicle
from fitplan.model.ways_in import AssemblyStep, SubassemblyPart
from fitplan.model.ways_in import Moves as MovesMm
from fitplan.model.words import listed
from fitplan.packing.access.disassembly import Disassembly, Filling
from fitplan.packing.access.reachable_offsets import surely_shut_in
from fitplan.packing.access.slide import Moves, overlaps_at_rest

MOST_GROUPS = 150
"""Groups that are tried, the smallest first, when no part comes out alone."""


@dataclass(frozen=True)
class AssemblyPlan:
    """The order in which the parts of one vehicle go in.

    Attributes
    ----------
    steps
        In order of assembly. Parts without a way in have none.
    blocked
        Who blocks whom, a sentence each; empty when everything goes in.
    """

    steps: tuple[AssemblyStep, ...]
    blocked: tuple[str, ...]


def assembly_order(
    vehicle: Vehicle,
    placements: Sequence[Placement],
    *,
    removed: frozenset[str] = frozenset(),
    filled: Filling = Disassembly,
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
    disassembly = filled(vehicle, placements, removed)
    taken, left = _take_out(disassembly, disassembly.names)
    steps = tuple(_step(disassembly, number, *entry) for number, entry in enumerate(reversed(taken), start=1))
    return AssemblyPlan(steps, _blocked(disassembly, left))


def parts_that_go_in(
    vehicle: Vehicle,
    placements: Sequence[Placement],
    *,
    removed: frozenset[str] = frozenset(),
    filled: Filling = Disassembly,
) -> frozenset[str]:
    """Return the parts that `assembly_order` has steps for: which order is best takes longer to tell."""
    disassembly = filled(vehicle, placements, removed)
    left = _stay_in(disassembly, disassembly.names)
    while left and (found := _as_one(disassembly, left)) is not None:
        left = _stay_in(disassembly, left - frozenset(found[0]))
    return disassembly.names - left


def _stay_in(disassembly: Disassembly, left: frozenset[str]) -> frozenset[str]:
    """Return what is left once all that comes out alone, through whatever opening, is out."""
    before: frozenset[str] | None = None
    while left and left != before:
        before = left
        for opening in disassembly.openings:
            _, left = _through(disassembly, left, opening)
    return left


def _step(
    disassembly: Disassembly, number: int, group: tuple[str, ...], opening: str, moves: Moves
) -> AssemblyStep:
    first, *rest = disassembly.put_together(frozenset(group)) or ()
    joined = tuple(SubassemblyPart(need, inwards(apart)) for need, apart in rest)
    return AssemblyStep(
        number, first[0], disassembly.placements[first[0]].vehicle, opening, inwards(moves), joined
    )


def inwards(moves: Moves) -> MovesMm:
    """Return moves out, in tenths, as moves in, in mm."""
    return tuple((opposite(way), distance / TENTHS) for way, distance in reversed(moves))


Taken = tuple[tuple[tuple[str, ...], str, Moves], ...]


def _take_out(disassembly: Disassembly, left: frozenset[str]) -> tuple[Taken, frozenset[str]]:
    """Take out all that comes out, one by one where that goes, else as the smallest group that does."""
    taken, left = _one_by_one(disassembly, left)
    while left and (found := _as_one(disassembly, left)) is not None:
        more, rest = _one_by_one(disassembly, left - frozenset(found[0]))
        taken, left = (*taken, found, *more), rest
    return taken, left


def _one_by_one(disassembly: Disassembly, inside: frozenset[str]) -> tuple[Taken, frozenset[str]]:
    """Take out single parts with as few changes of opening as there can be; what cannot come out is left.

    Through an open opening everything that can come out does, since that closes no other way; so only the
    order of the openings is searched, breadth first.
    """
    level: dict[frozenset[str], Taken] = {inside: ()}
    seen = {inside}
    best: tuple[Taken, frozenset[str]] = ((), inside)
    while level and inside:
        following: dict[frozenset[str], Taken] = {}
        for left, taken in level.items():
            for opening in disassembly.openings:
                more, rest = _through(disassembly, left, opening)
                if rest in seen:
                    continue
                seen.add(rest)
                following[rest] = taken + more
                if not rest:
                    return (taken + more, rest)  # with no more changes than any other way
                if len(rest) < len(best[1]):
                    best = (taken + more, rest)
        level = following
    return best


def _through(disassembly: Disassembly, left: frozenset[str], opening: str) -> tuple[Taken, frozenset[str]]:
    """Take out all that comes out through one opening, each time what needs the fewest moves."""
    taken: list[tuple[tuple[str, ...], str, Moves]] = []
    while True:
        ways = [
            (len(moves), sum(distance for _, distance in moves), need, moves)
            for need in sorted(left - disassembly.carriers(left))
            if (moves := disassembly.way_out(frozenset({need}), left - {need}, opening)) is not None
        ]
        if not ways:
            return tuple(taken), left
        _, _, need, moves = min(ways)
        taken.append(((need,), opening, moves))
        left -= {need}


def _as_one(disassembly: Disassembly, left: frozenset[str]) -> tuple[tuple[str, ...], str, Moves] | None:
    """Return the smallest group that leaves as one and comes apart outside, with its way; or None."""
    for group in itertools.islice(_groups(disassembly, left), MOST_GROUPS):
        for opening in disassembly.openings:
            moves = disassembly.way_out(group, left - group, opening)
            if moves is not None and disassembly.put_together(group) is not None:
                return (tuple(sorted(group)), opening, moves)
    return None


def _groups(disassembly: Disassembly, left: frozenset[str]) -> Iterator[frozenset[str]]:
    """Yield groups of two and more, the smallest first, that hold all that they carry."""
    # What the body alone keeps in, it keeps in as part of a group too.
    free = [
        need
        for need in sorted(left)
        if any(
            disassembly.way_out(frozenset({need}), frozenset(), opening) is not None
            for opening in disassembly.openings
        )
    ]
    for size in range(2, len(free) + 1):
        for names in itertools.combinations(free, size):
            group = frozenset(names)
            if all(disassembly.carried(need) & left <= group for need in names):
                yield group


def _blocked(disassembly: Disassembly, left: frozenset[str]) -> tuple[str, ...]:
    """Return who blocks whom among parts that cannot come out."""
    if not left:
        return ()
    if not disassembly.openings:
        why = "the vehicle has no opening, and none of its free room borders on the outside"
        return tuple(f"{need} has no way in: {why}" for need in sorted(left))
    found: list[str] = []
    blocking: dict[str, frozenset[str]] = {}
    for need in sorted(left):
        sets = [
            blockers
            for opening in disassembly.openings
            if (blockers := _blockers(disassembly, need, left - {need}, opening)) is not None
        ]
        if not sets:
            found.append(_stuck_in_body(disassembly, need))
        else:
            blocking[need] = min(sets, key=lambda names: (len(names), sorted(names)))
    graph: nx.DiGraph[str] = nx.DiGraph(
        (need, other) for need, names in blocking.items() for other in names if other in blocking
    )
    groups = [sorted(group) for group in nx.strongly_connected_components(graph) if len(group) > 1]
    for group in sorted(groups):
        why = "by straight moves none comes out before another, nor as one"
        found.append(f"{listed(group)} hold each other in: {why}")
    found += [f"{listed(sorted(names))} must come out before {need} can" for need, names in blocking.items()]
    return tuple(found)


def _stuck_in_body(disassembly: Disassembly, need: str) -> str:
    for opening in disassembly.openings:
        if overlaps_at_rest(disassembly.forbidden(need, "", opening)):
            return f"{need} overlaps the body or its shelf where it lies, so no way in was looked for"
    names = listed(sorted(disassembly.openings))
    if surely_shut_in(disassembly.vehicle, disassembly.placements[need], disassembly.removed):
        return (
            f"{need} has no way in by straight moves through {names} even when it is alone: the body is in"
            " the way, with every lid off"
        )
    return (
        f"no way in by straight moves through {names} was found for {need}, even when it is alone; with the"
        " play of real bricks or more lids off at once it may go in"
    )


def _blockers(
    disassembly: Disassembly, need: str, others: frozenset[str], opening: str
) -> frozenset[str] | None:
    """Return a set of parts, none of them spare, that must be out before a part can leave by an opening.

    None when the body alone keeps it in.
    """
    alone = frozenset({need})
    if disassembly.way_out(alone, frozenset(), opening) is None:
        return None
    stay: frozenset[str] = frozenset()
    for other in sorted(others - disassembly.carried(need)):
        if disassembly.way_out(alone, stay | {other}, opening) is not None:
            stay |= {other}
    return others - stay

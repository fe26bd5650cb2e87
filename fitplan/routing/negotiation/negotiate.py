"""Many runs that want the same voxels and ports: each gives way until none is overfull.

Negotiated congestion (McMurchie and Ebeling, FPGA 1995; from memory, not confirmed): every run takes its
cheapest way; voxels and places that are overfull grow dearer, at once and for good, and the runs through
them are routed anew. Who uses what is in `share_table`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fitplan.budget import UNHURRIED, Budget
from fitplan.lattice.clear_radius import clear_squares
from fitplan.routing.map.narrow_places import CapacityPlace, CutProof, Run, narrow_places
from fitplan.routing.negotiation.free_box import FreeBox
from fitplan.routing.negotiation.negotiated import Negotiation, NegotiationSettings
from fitplan.routing.negotiation.share_table import RoomNear, ShareTable
from fitplan.routing.ways.way import Way

MOST_MEASURED = 3
"""So often in a row, without a round that is better, more room is looked for in exact millimetres: somewhere
there nearly always is some, and wires then change places for nothing."""


def negotiate(
    free: NDArray[np.bool_],
    runs: Sequence[Run],
    *,
    pitch: float = 0.8,
    places: Sequence[CapacityPlace] = (),
    cost: NDArray[np.floating] | None = None,
    squares: NDArray[np.uint32] | None = None,
    given: Sequence[Way | None] = (),
    held: Sequence[Way] = (),
    room_near: RoomNear | None = None,
    settings: NegotiationSettings | None = None,
    budget: Budget = UNHURRIED,
) -> Negotiation:
    """Route all runs through free voxels without overfilling any voxel or place.

    Parameters
    ----------
    free
        (x, y, z) bool, True where a wire may be.
    runs, places
        What is to be routed; named narrow places with the conductors that they carry. No voxel belongs to two
        places, and the room rule of voxels does not apply inside a place.
    cost
        (x, y, z) float, at least 1: preference for floors and corners (`fitplan.routing.ways.preferences`).
    squares
        (x, y, z) uint32, `fitplan.lattice.clear_radius.clear_squares` of ``free`` where it is known already.
    given
        Ways to begin with, in the order of the runs; None for a run that looks for one.
    held
        Ways on which the first runs lie already, taut: they give way no farther than `ASIDE` voxels, and what
        only they have with each other is no conflict.
    room_near
        Measures more exactly than voxels what bundle has room close to some; asked where nothing else helps.
    budget
        Its clock, if it has one, ends the rounds; every run is given a way, and the best round so far is
        returned.

    Raises
    ------
    ValueError
        Two runs or places have the same name, or two places share a voxel.
    """
    if squares is None:
        squares = clear_squares(free)
    ends = {side for run in runs for side in (run.starts, run.goals)}
    box = FreeBox.round(free, [*ends, *(way.voxels for way in (*given, *held) if way is not None)])
    table = ShareTable(
        free[box.slices],
        squares[box.slices],
        tuple(box.run_inside(run) for run in runs),
        tuple(box.place_inside(place) for place in places),
        pitch,
        None if cost is None else cost[box.slices],
        settings or NegotiationSettings(),
    )
    table.hold([box.way_inside(way) for way in held])
    was: dict[Way, Way] = {}
    for index, way in enumerate(given):
        if way is not None:
            table.put(index, inside := box.way_inside(way))
            was[inside] = way
    for index in range(len(runs)):
        if index >= len(given) or given[index] is None:
            table.route(index)
    measure = None if room_near is None else lambda rows: room_near(box.rows_outside(rows))
    conflicts = table.conflicts()
    rounds = 1
    best = (len(conflicts), tuple(table.ways), conflicts)
    most = table.expanded + table.settings.work
    late = shunned = gave_up = False
    better, measured = rounds, 0
    while conflicts and not (late or gave_up) and rounds < table.settings.rounds:
        if rounds - better >= table.settings.patience:
            if measured < MOST_MEASURED and measure is not None and table.measure(measure):
                conflicts, better, measured = table.conflicts(), rounds, measured + 1
                if len(conflicts) <= best[0]:
                    best = (len(conflicts), tuple(table.ways), conflicts)
                continue
            widest = max((one.used for one in conflicts if not isinstance(one.where, str)), default=0.0)
            if shunned or not widest:
                break
            # A bundle that gives way step by step meets what is too narrow for it again and again.
            table.shun(widest)
            shunned, better = True, rounds
        if rounds == 6 and narrow_places(free, runs, places, near_ends=table.settings.near_ends, pitch=pitch):
            break
        table.raise_prices()
        for index in range(len(runs)):
            late = late or budget.over("wires side by side")
            gave_up = table.expanded > most
            if not (late or gave_up) and table.in_conflict(index):
                table.route(index)
        conflicts = table.conflicts()
        rounds += 1
        if len(conflicts) < best[0]:
            best = (len(conflicts), tuple(table.ways), conflicts)
            better, measured = rounds, 0
    _, found, conflicts = best
    ways = tuple(None if way is None else was.get(way) or box.way_outside(way) for way in found)
    conflicts = tuple(
        one if isinstance(one.where, str) else replace(one, where=box.outside(one.where)) for one in conflicts
    )
    unreachable = tuple(run.name for run, way in zip(runs, ways, strict=True) if way is None)
    narrow: tuple[CutProof, ...] = ()
    if conflicts or unreachable:
        narrow = narrow_places(free, runs, places, near_ends=table.settings.near_ends, pitch=pitch)
    left = bool(conflicts)
    return Negotiation(ways, unreachable, conflicts, narrow, rounds, late and left, gave_up and left)

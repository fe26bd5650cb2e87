"""Room that wires leave for straps: where they took what a heavy part is held by, they are to go round it.

Wires run first, and a strap is laid where they leave it room. Where they leave none, the strap goes first:
of all that would hold the part, the one that drives the fewest wires off their ways.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import islice

from fitplan.model.built import BuiltTrain
from fitplan.model.placed import Fastening, Placement
from fitplan.model.wired import Harness
from fitplan.packing.access.slide import share_room
from fitplan.planning.fastenings import strapped_in_turn
from fitplan.planning.filled_room import rows_of_boxes, rows_of_wires

TRIES = 3
"""So many straps, or sets of them, are tried, each driving off other wires."""
MOST = 200
"""So many straps are looked at for each part, the cheapest first."""


def straps_before_wires(
    built: BuiltTrain, standing_badly: Sequence[Placement]
) -> Iterator[tuple[Fastening, ...]]:
    """Yield straps for parts that nothing holds as the wires run; each time others, while there are any.

    Parameters
    ----------
    standing_badly
        What would tip or topple, as the wires run.
    """
    bare = replace(built, harness=Harness(), fastenings=())
    told: list[tuple[Fastening, ...]] = []
    for number in range(TRIES):
        found: tuple[Fastening, ...] = ()
        for placement in standing_badly:
            overs = _by_wires(built, replace(bare, fastenings=found), placement)
            found += (overs[min(number, len(overs) - 1)],) if overs else ()
        if not found or found in told:
            return
        told.append(found)
        yield found


def _by_wires(built: BuiltTrain, bare: BuiltTrain, placement: Placement) -> list[Fastening]:
    """Return the cheapest strap for each set of wires that it drives off, the fewest wires first."""
    wires = [
        (wire.number, rows_of_wires(replace(built, harness=Harness((wire,))), placement.vehicle))
        for wire in built.harness.wires
    ]
    found: dict[frozenset[int], Fastening] = {}
    for over in islice(strapped_in_turn(bare, placement), MOST):
        bricks = rows_of_boxes(brick.box for brick in over.bricks)
        found.setdefault(frozenset(number for number, rows in wires if share_room(bricks, rows)), over)
    return [over for _, over in sorted(found.items(), key=lambda entry: (len(entry[0]), sorted(entry[0])))]

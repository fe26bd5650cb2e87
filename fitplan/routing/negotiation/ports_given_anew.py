"""Ports given out anew, where more conductors pass one than get on behind it.

How many go through a port is known beforehand (`fitplan.routing.map.port_room`), how many find room behind it
only when the wires of the vehicle have been negotiated.
"""

from __future__ import annotations

from collections.abc import Callable

from fitplan.budget import UNHURRIED, Budget
from fitplan.model.train import Train
from fitplan.routing.negotiation.lanes import GetOn
from fitplan.routing.negotiation.layout import Layout
from fitplan.routing.negotiation.wired_before import WiredBefore

GIVEN_ANEW = 3
"""So often at the most; each time a port is given fewer conductors than before."""


def with_ports_given_anew(
    lay: Callable[[GetOn], Layout], train: Train, known: WiredBefore, budget: Budget = UNHURRIED
) -> Layout:
    """Return the layout that joins most, the first of equals.

    Parameters
    ----------
    lay
        Lays the train with no more conductors through each port than it is told.
    known
        Remembers what was found, so that the same vehicles are laid so at once.
    budget
        Its clock, if it has one, ends this.
    """
    get_on: dict[tuple[str, str], int] = {}
    kept: GetOn = get_on
    best = found = lay(get_on)
    for _ in range(GIVEN_ANEW):
        fewer = _fewer(found, train)
        if not fewer or budget.over("wires side by side"):
            break
        get_on = {**get_on, **fewer}
        found = lay(get_on)
        if len(found.unreached) < len(best.unreached):
            best, kept = found, get_on
    known.keep_get_on(kept)
    return best


def _fewer(layout: Layout, train: Train) -> GetOn:
    """Return how many conductors get on behind ports that carry more, where others may carry the rest."""
    found: dict[tuple[str, str], int] = {}
    for squeeze in layout.squeezes:
        entry = train.vehicle(squeeze.vehicle)
        ends = [entry.ports_at(end) for end in ("ahead", "behind")]
        several = {port.name for ports in ends if len(ports) > 1 for port in ports}
        found |= {(squeeze.vehicle, port): count for port, count in squeeze.get_on if port in several}
    return found

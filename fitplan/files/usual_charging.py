"""A receiver coil joined to a charging board: what it gives goes to the pin beside the socket."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fitplan.files.usual_owners import Owner, UsualNet
from fitplan.model.electrical import Charger, Coil


def charging_nets(owners: Sequence[Owner]) -> Iterator[UsualNet]:
    """Yield the net from a coil to a charging board; nothing where there is not one of each.

    Their grounds are among the others.
    """
    gives = [
        (owner, pin)
        for owner in owners
        if owner.part.figure(Coil) is not None and (pin := owner.first("plus")) is not None
    ]
    takes = [
        (owner, pin)
        for owner in owners
        if owner.part.figure(Charger) is not None and (pin := owner.first("charge")) is not None
    ]
    if len(gives) == len(takes) == 1:
        (coil, plus), (charger, into) = gives[0], takes[0]
        joins = (coil.ref(plus), charger.ref(into))
        yield UsualNet(f"{coil.name} plus", "supply", joins, meets=joins)

"""Which half of a connector pair at a coupling has pins and which has sockets."""

from __future__ import annotations

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Bank, CellPack, Connector
from fitplan.model.wired import Crossing


def socket_side(built: BuiltTrain, crossing: Crossing) -> str:
    """Return the vehicle whose half has socket contacts: volts come from there, and no bare pin bears any.

    The vehicle ahead where they come from both sides or from none.
    """
    order = [entry.name for entry in built.train.vehicles]
    sources = [
        order.index(one.vehicle)
        for one in built.placements
        if one.part.figure(CellPack) is not None or one.part.figure(Bank) is not None
    ]
    last_ahead = order.index(crossing.ahead)
    only_behind = sources and all(place > last_ahead for place in sources)
    return crossing.behind if only_behind else crossing.ahead


def contacts_word(built: BuiltTrain, crossing: Crossing, vehicle: str) -> str:
    """Return ``"socket contacts"`` or ``"pin contacts"`` for a half; of rows ``"contacts"``."""
    part = built.train.catalogue.get(crossing.connector)
    figures = part.figure(Connector) if part is not None else None
    if figures is None or figures.sockets:
        return "contacts"
    return "socket contacts" if vehicle == socket_side(built, crossing) else "pin contacts"

"""The two ends of wires, as the order of work names them."""

from __future__ import annotations

from collections.abc import Mapping

from fitplan.model.wired import Wire, WireEnd
from fitplan.model.work import EndOf, Side

SIDES: tuple[Side, Side] = ("start", "end")


def end_of(wire: Wire, side: Side) -> WireEnd:
    """Return an end of a wire."""
    return wire.start if side == "start" else wire.end


def ends_at(wires: Mapping[int, Wire], kind: str, owner: str) -> dict[EndOf, WireEnd]:
    """Return the ends of wires at a splice, a pin's owner or a coupling connector."""
    every = {(w.number, side): end_of(w, side) for w in wires.values() for side in SIDES}
    return {key: end for key, end in every.items() if (end.kind, end.owner) == (kind, owner)}

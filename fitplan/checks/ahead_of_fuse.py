"""Wire between a source and its fuse: a short there trips nothing, so there is to be little of it."""

from __future__ import annotations

from collections.abc import Iterator

from fitplan.checks.wire import single_limit
from fitplan.circuit.currents import short_circuit_ma
from fitplan.circuit.fuses import fuses_behind, nets_ahead_of_fuse
from fitplan.circuit.supply_tree import SupplyTree
from fitplan.model.electrical import CellPack
from fitplan.model.found import Finding, Severity
from fitplan.model.wired import Harness, Wire

SUBJECT = "safety"
MOST_AHEAD_MM = 178.0
"""So much wire may lie ahead of a fuse: 7 inches, a rule for batteries of boats (ABYC E-11, from memory)."""


def wire_ahead_of_fuse(tree: SupplyTree, harness: Harness, trip_factor: float = 1.0) -> Iterator[Finding]:
    """Check how much wire lies between a source and its fuse, and whether it crosses a coupling.

    Nothing is told where the source drives no more through it than the wire bears.
    """
    ahead = nets_ahead_of_fuse(tree)
    wires = [wire for wire in harness.wires if wire.net in ahead]
    if not wires:
        return
    thinnest = max(wire.awg for wire in wires)
    if short_circuit_ma(tree) <= trip_factor * single_limit(thinnest):
        return
    fuse = fuses_behind(tree.root)[0][0]
    numbers = {wire.number for wire in wires}
    crossed = [one.name for one in harness.crossings if numbers & {*one.wires}]
    length = sum(wire.cut_mm for wire in wires)
    over = f", over {' and '.join(crossed)}" if crossed else ""
    severity: Severity = "note"
    remedy = "nothing to do; insulate both ends of it"
    if crossed or length > MOST_AHEAD_MM:
        alkaline = isinstance(tree.source, CellPack) and tree.source.chemistry == "alkaline"
        severity = "note" if alkaline else "caution"
        homes = _homes(wires, tree.owner)
        remedy = (
            f'put {fuse} beside {tree.owner}: "in: [{homes[0]}]" in its need'
            if crossed and homes
            else f"lay {fuse} nearer to {tree.owner}"
        )
    yield Finding(
        SUBJECT,
        severity,
        fuse,
        f"{length:.0f} mm of wire lie between {tree.owner} and the fuse{over}: a short there trips nothing",
        length,
        MOST_AHEAD_MM,
        "mm",
        remedy,
        "7 inches for batteries of boats (ABYC E-11, from memory); common practice",
    )


def _homes(wires: list[Wire], owner: str) -> list[str]:
    """Return the vehicle in which a source's own wires begin."""
    return [end.vehicle for wire in wires for end in (wire.start, wire.end) if end.owner == owner]

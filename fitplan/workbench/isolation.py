"""What must be apart: each supply against its ground, and what lies side by side, once for each two nets."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fitplan.model.built import BuiltTrain
from fitplan.model.meter import APART_OHM, SHORT_OHM
from fitplan.workbench.copper import Copper, Node, Ohmmeter
from fitplan.workbench.neighbours import Neighbours

_CLEAR = 3.0
"""A limit is this many times the resistance of a short at least; else a reading cannot tell the two."""


@dataclass(frozen=True)
class ApartRow:
    """Pairs that must read at least ``low`` Ω, each of them."""

    pairs: tuple[tuple[Node, Node], ...]
    low: float
    supply: bool = False


def least_reading(meter: Ohmmeter, one: Node, other: Node) -> float:
    """Return the least that a sound harness reads there, in Ω, at most `APART_OHM`; 0 where none is known."""
    least = min(APART_OHM, meter.ohm(one, other))
    return least if least >= _CLEAR * SHORT_OHM else 0.0


def supply_pairs(built: BuiltTrain, copper: Copper, meter: Ohmmeter) -> list[ApartRow]:
    """Return each piece of supply against a ground in its vehicle, measured at its first pin there."""
    roles = {net.name: net.role for net in built.train.nets}
    nets: dict[Node, str] = {}
    for node, wires in copper.wired.items():
        number = wires[0]
        nets[node] = next(one.wire.net for one in copper.conductors if one.wire.number == number)
    grounds: dict[str, Node] = {}
    for node, net in nets.items():
        if roles.get(net) == "ground":
            grounds.setdefault(node[3], node)
    found: list[ApartRow] = []
    seen: set[Node] = set()
    for node, net in nets.items():
        ground = grounds.get(node[3])
        piece = meter.piece(node)
        if roles.get(net) != "supply" or piece in seen or ground is None:
            continue
        low = least_reading(meter, node, ground)
        if low:
            seen.add(piece)
            found.append(ApartRow(((node, ground),), low, True))
    return found


def neighbour_rows(
    neighbours: Iterable[Neighbours], meter: Ohmmeter, told: Iterable[ApartRow]
) -> list[ApartRow]:
    """Return rows that tell every two neighbours apart that no row tells yet.

    A bridge joins two pieces of copper wherever it lies, so one place is enough for each two; the part with
    the most of them is read first.
    """
    known = {frozenset((meter.piece(a), meter.piece(b))) for row in told for a, b in row.pairs}
    groups: dict[tuple[str, str], list[Neighbours]] = {}
    for entry in neighbours:
        groups.setdefault((entry.one[1], entry.one[3]), []).append(entry)
    found: list[ApartRow] = []
    for group in sorted(groups.values(), key=len, reverse=True):
        row: dict[float, list[tuple[Node, Node]]] = {}
        for entry in group:
            both = frozenset((meter.piece(entry.one), meter.piece(entry.other)))
            low = least_reading(meter, entry.one, entry.other)
            if len(both) == 2 and low and both not in known:
                known.add(both)
                row.setdefault(round(low, 1), []).append((entry.one, entry.other))
        found += [ApartRow(tuple(pairs), low) for low, pairs in sorted(row.items(), reverse=True)]
    return found

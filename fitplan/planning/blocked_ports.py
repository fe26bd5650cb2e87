"""Parts that lie in a port through which wires leave their vehicle: there wires need not be tried.

The exact search knows no wires, so it likes the recess of a port as well as any other. What a port carries is
reckoned with the whole of its opening; a part in it takes room that nobody counts. An open end is no recess,
and has more room than wires take: beside a part and over it.
"""

from __future__ import annotations

from collections.abc import Iterable

from fitplan.lattice.boxes import part_boxes
from fitplan.lattice.cover import TENTHS
from fitplan.model.built import BuiltTrain
from fitplan.model.placed import Placement
from fitplan.model.solids import Box
from fitplan.planning.wire_wishes import ports_used
from fitplan.routing.map.ends import resolve


def with_blocked_ports(built: BuiltTrain) -> frozenset[str]:
    """Return the vehicles in which a part lies in a port that wires pass."""
    nets, _ = resolve(built)
    found = set()
    for place in built.placements:
        entry = built.train.vehicle(place.vehicle)
        sides = ports_used(built, entry.name, nets)
        passed = [port for port in entry.vehicle.ports if port.out in sides and not port.is_open_end]
        if _in_any(place, [port.box for port in passed]):
            found.add(entry.name)
    return frozenset(found)


def _in_any(place: Placement, passed: Iterable[Box]) -> bool:
    """Tell whether a part reaches into one of some boxes by more than a tenth of a millimetre."""
    for solid in place.part.envelope:
        for body in part_boxes([place.place.move_solid(solid)], "outward"):
            for box in passed:
                deep = (
                    min(body[k + 3], box.high[k] * TENTHS) - max(body[k], box.low[k] * TENTHS)
                    for k in range(3)
                )
                if all(tenths > 1 for tenths in deep):
                    return True
    return False

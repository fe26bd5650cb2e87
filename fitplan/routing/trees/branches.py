"""Trunk and branches: small loads hang off what feeds and joins, and pass on only what their own kind draws.

A ground that runs through the legs of a sounder because that is shortest carries a train's current through
a joint that was made for milliamperes, and is gone when the sounder is unsoldered. Usual practice (no source)
is a trunk from supply to controller and couplings, with the loads as branches; lamps of one kind may be
chained.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.topology import Reach

Nearest = Callable[[Reach], float]
"""Told a small load, returns what the cheapest way from it to anything that the trunk joins costs."""
Within = Callable[[Reach, Reach, float], bool]
"""Whether a way between two loads costs no more than so much."""


def load_of(reach: Reach) -> str:
    """Return the kind of small load that a reach belongs to; empty for what the trunk joins."""
    return reach.node.load if isinstance(reach.node, NetEnd) else ""


def trunk_of(reaches: Sequence[Reach]) -> list[Reach]:
    """Return what the trunk joins."""
    return [reach for reach in reaches if not load_of(reach)]


def branches_of(reaches: Sequence[Reach], nearest: Nearest, within: Within) -> list[list[Reach]]:
    """Return the small loads in groups that hang off the trunk together.

    Loads of one kind whose pins take a second wire are chained where the next of them is nearer than anything
    that the trunk joins.
    """
    loads = [reach for reach in reaches if load_of(reach)]
    off = {reach: nearest(reach) for reach in loads}
    groups: list[list[Reach]] = []
    for reach in loads:
        joined = [
            group
            for group in groups
            if any(
                load_of(other) == load_of(reach)
                and min(reach.wires, other.wires) > 1
                and within(other, reach, min(off[reach], off[other]))
                for other in group
            )
        ]
        merged = [other for group in joined for other in group] + [reach]
        groups = [group for group in groups if group not in joined] + [merged]
    return groups

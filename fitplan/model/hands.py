"""What a hand is: how far a finger reaches, and what a plug with its cable needs; mm."""

from __future__ import annotations

from fitplan.model.part import Part
from fitplan.model.vehicle import Parted

FINGER_REACH_MM = 70.0
"""How far a finger gets into a vehicle while the hand stays outside: the free length of an adult's index
finger (70 to 75 mm, from memory)."""
FINGER_DEPTH_MM = 6.0
"""Room that a finger needs in front of a switch or socket, where its part names none (common practice)."""
PULL_MM = 10.0
"""How far the halves of a connector are drawn apart until they are free (common practice, no source)."""
GRIP_MM = 10.0
"""What fingers need of the wires on either side of a connector to part it (common practice, no source)."""
CABLE_BEND_MM = 12.0
"""What a plug's cable needs straight behind the plug before it may turn off: a bend of three times a cable of
4 mm, on its middle line (common practice, no source)."""


def least_coupling_wire(pair: Part, parted: Parted) -> float:
    """Return the least length of a joint with a connector pair, in mm.

    It holds the pair and lets it be drawn apart; where that is done every day, with room for fingers on the
    wires of both halves.
    """
    return pair.bounds.size[0] + PULL_MM + (2 * GRIP_MM if parted == "daily" else 0.0)


def passes(pair: Part, opening: tuple[float, float]) -> bool:
    """Return whether a housing, end first, goes through a port."""
    _, width, height = pair.bounds.size
    small, large = sorted((width, height))
    low, high = sorted(opening)
    return small <= low and large <= high

"""What gets at a switch or a socket: a finger on a hand that stays outside, or a plug that brings its cable.

Either gets back out by at most two straight moves, as a part does; what fills the way is there all at once. A
finger reaches no farther than it is long, and does not come round to a lever from behind. A plug is drawn out
of its socket along its own axis, and its cable needs some of that way straight before it turns off.
"""

from __future__ import annotations

from dataclasses import dataclass

from fitplan.lattice.cover import TENTHS
from fitplan.model.hands import CABLE_BEND_MM, FINGER_REACH_MM
from fitplan.model.part import Access
from fitplan.model.solids import DIRECTIONS, Direction, axis_of, opposite
from fitplan.packing.access.slide import Moves, Rows, slide_out

_PLUGS = ("socket", "console")


@dataclass(frozen=True)
class Hand:
    """What gets at an access, in the vehicle's frame.

    Attributes
    ----------
    side
        Where the access faces.
    plug
        Whether it is a plug; else a finger.
    long
        How long the room in front of the access is along ``side``, in tenths: a plug is held at its end.
    most
        How many moves there may be: one through what is never shut, two through what is opened.
    """

    side: Direction
    plug: bool
    long: int
    most: int

    @classmethod
    def at(cls, access: Access, side: Direction, room: Rows, most: int) -> Hand:
        """Return what gets at an access that faces a side, with the room in front of it in tenths."""
        axis = axis_of(side)
        long = int(room[:, axis + 3].max() - room[:, axis].min())
        return cls(side, access.kind in _PLUGS, long, most)

    @property
    def reach(self) -> int:
        """How far it gets into the vehicle, in tenths."""
        return round(FINGER_REACH_MM * TENTHS) + (self.long if self.plug else 0)

    @property
    def firsts(self) -> tuple[Direction, ...]:
        """Directions in which it may leave the access: a plug along its axis, a finger never from behind."""
        return (self.side,) if self.plug else tuple(way for way in DIRECTIONS if way != opposite(self.side))

    def leaves(self, out: Direction) -> bool:
        """Return whether it may leave the vehicle in a direction."""
        return out != opposite(self.side)

    def slide_out(self, forbidden: Rows, out: Direction, leave: int) -> Moves | None:
        """Return the straight moves by which it gets back out, or None (`slide.slide_out`)."""
        if not self.leaves(out):
            return None
        turn = round(CABLE_BEND_MM * TENTHS) if self.plug else 0
        found = slide_out(forbidden, out, leave, self.most, self.firsts, turn)
        return found if found is not None and sum(far for _, far in found) <= self.reach else None

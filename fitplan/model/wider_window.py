"""A window made wider for a part that is too large for it: a proposal, not part of what is planned."""

from __future__ import annotations

from dataclasses import dataclass

from fitplan.model.solids import Box, Place


@dataclass(frozen=True)
class WiderWindow:
    """The fewest bricks round a window that must go, so that a part can look out of it.

    All boxes are in the vehicle's frame, in mm, and whole on the grid of studs and plates.

    Attributes
    ----------
    need, part_id, vehicle, window
        What wants to look out, and where.
    outline
        The window as it is then.
    out
        Bricks that go beside those in ``remove``, as boxes that do not overlap.
    remove
        Removable bricks that go as well.
    size
        How much goes, in studs × plates, without what is in ``remove``.
    least
        No fewer studs × plates will do: a proved bound, equal to ``size`` when the proposal is the least.
    plates
        Plates that close the gap over what goes; each takes the place of what lies there.
    rests_on_one_side
        At least one of the plates rests on one side only, or something above the gap cannot be carried so.
    carried
        Whether what stays is still carried, or that the drawing cannot tell.
    place
        Where the part goes then.
    alone
        It goes there, but not beside the other parts of the vehicle.
    hidden_before, hidden_after
        Share, 0 to 1, of its beam's cross section at the outside of the window's wall that bricks hide, seen
        straight along the beam: with the part in that place and all bricks in, and once they are out.
    """

    need: str
    part_id: str
    vehicle: str
    window: str
    outline: Box
    out: tuple[Box, ...]
    remove: tuple[str, ...]
    size: int
    least: int
    plates: tuple[Box, ...]
    rests_on_one_side: bool
    carried: str
    place: Place
    alone: bool
    hidden_before: float = 0.0
    hidden_after: float = 0.0

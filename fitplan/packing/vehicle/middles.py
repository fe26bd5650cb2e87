"""Parts held to places where their lens lies in the middle of its window."""

from __future__ import annotations

from dataclasses import replace

from fitplan.model.needed import FixedPlace
from fitplan.model.placed import Placement
from fitplan.model.solids import Direction, axis_of, plane_of
from fitplan.model.vehicle import Vehicle
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.views import view_of

_POSITIVE: tuple[Direction, ...] = ("+x", "+y", "+z")


def held_in_the_middle(entry: Wanted, vehicle: Vehicle, place: Placement, aside_mm: float) -> Wanted | None:
    """Return a ranger held, turned as it lies, to where its lens is in the middle of its window.

    None where it is no ranger, is fixed by hand, or lies no further than ``aside_mm`` beside the middle.
    """
    need = entry.need
    view = view_of(entry, vehicle) if need.looks is not None and need.pinned is None else None
    if view is None or not view.slope:
        return None
    lens = place.place.move_solid(view.lens).bounds
    planes: list[tuple[Direction, float]] = []
    for axis in (axis for axis in view.level if axis != axis_of(view.out)):
        aside = view.frame.center[axis] - lens.center[axis]
        if abs(aside) > aside_mm:
            side = _POSITIVE[axis]
            planes.append((side, plane_of(place.bounds, side) + aside))
    if not planes:
        return None
    pinned = FixedPlace(place.vehicle, place.place.pose.name, None, (), tuple(planes))
    return Wanted(replace(need, pinned=pinned), entry.part)

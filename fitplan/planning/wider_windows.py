"""Proposals for parts that find no place because the window that they are to look out of is too small."""

from __future__ import annotations

from collections.abc import Sequence

from fitplan.model.placed import Placement
from fitplan.model.wider_window import WiderWindow
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.wider_window import wider_window
from fitplan.planning.run_state import PlanningRun


def wider_windows(
    run: PlanningRun, left_out: Sequence[str], placed: Sequence[Placement]
) -> tuple[WiderWindow, ...]:
    """Return for each part that was left out, and that looks out of a window, the least widening of it.

    Also where only the play of bricks might let it look out as it is: a plate or a stud more makes that sure.

    Of several parts that would do the one that asks for the fewest bricks is taken.
    """
    found: list[WiderWindow] = []
    for name in left_out:
        need = run.train.need(name)
        if need.looks is None:
            continue
        vehicle = need.looks[0]
        beside = tuple(
            Wanted(run.train.need(place.need), place.part) for place in placed if place.vehicle == vehicle
        )
        offers = [
            offer
            for part in need.candidates
            if not run.pack(vehicle, (Wanted(need, part),)).holds
            and (offer := wider_window(run.packer, vehicle, Wanted(need, part), beside)) is not None
        ]
        if offers:
            found.append(min(offers, key=lambda offer: (offer.alone, offer.size, len(offer.remove))))
    return tuple(found)

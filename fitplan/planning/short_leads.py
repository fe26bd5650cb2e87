"""Leads that do not reach, where nothing may be soldered: what they join is laid nearer to each other.

How long a lead must be is known once its wire has its way. Where one would have to be lengthened by a joint,
its vehicle is laid loosely again, with the two that it joins liked near each other before all else.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Preference
from fitplan.model.own_leads import made_of
from fitplan.model.wired import Wire
from fitplan.packing.vehicle.packing import Packing
from fitplan.planning.run_state import PlanningRun
from fitplan.planning.vehicle_places import laid_as_asked

LOOSELY = 3
"""So many loose layouts are wired."""


def too_short(built: BuiltTrain) -> tuple[Wire, ...]:
    """Return the wires that would need an iron because no lead reaches, where there is none."""
    return (
        () if built.train.wiring.solder else tuple(one for one in built.harness.wires if _short(built, one))
    )


def _short(built: BuiltTrain, wire: Wire) -> bool:
    if wire.lead is None:
        return bool(made_of(built, wire).joints)
    return wire.lead.shortened and not wire.inside


def packed_for_leads(
    run: PlanningRun, built: BuiltTrain, packings: tuple[Packing, ...]
) -> Iterator[tuple[Packing, ...]]:
    """Yield packings in which the ends of leads that do not reach are nearer to each other.

    Parameters
    ----------
    built
        The train with its leads.
    """
    for packing in packings:
        here = {place.need for place in packing.placements}
        pairs = [(wire.start.owner, wire.end.owner) for wire in too_short(built)]
        near = tuple(
            Preference(one, "near", other)
            for one, other in dict.fromkeys(pairs)
            if one in here and other in here and one != other
        )
        if not near:
            continue
        train = replace(built.train, preferences=(*near, *built.train.preferences))
        for found in laid_as_asked(run, built, packing, train, LOOSELY):
            yield tuple(found if one is packing else one for one in packings)

"""Loads on an open deck are brought towards the middle where they would pull the wagon to one side.

The exact search packs from a corner, so the heaviest load lies at a side, where nothing is beside it that
bricks could stand on. Where all wires run, a deck whose centre of gravity lies farther aside than its balance
should is laid again with that load held where the centre comes to the middle, tightly and loosely, else only
so far as is asked; what is wired no worse stands.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from fitplan.checks.balance import DEFAULTS, weight_after
from fitplan.model.built import BuiltTrain
from fitplan.model.facts import mass_of
from fitplan.model.needed import FixedPlace
from fitplan.model.placed import Placement
from fitplan.model.solids import Direction, axis_of, plane_of
from fitplan.model.train import Train
from fitplan.model.wired import Harness
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.lens_middles import packed_with
from fitplan.planning.run_state import PlanningRun
from fitplan.planning.vehicle_places import laid_as_asked

HEAVY_G = 20.0
"""A lighter part is left where it lies."""
NEARLY = 0.8
"""Where the middle has no room, the centre is brought to so much of what balance allows."""
LOOSELY = 2
"""So many loose layouts are wired for each place of the load."""
_SIDEWAYS: Direction = "+y"
_UP: Direction = "+z"


def packed_nearer_the_middle(
    run: PlanningRun, built: BuiltTrain, packings: tuple[Packing, ...]
) -> Iterator[tuple[Packing, ...]]:
    """Yield packings in which the first deck that leans aside does so no more, its heaviest load held.

    Parameters
    ----------
    built
        The train with its parts as they are packed; its harness is not looked at.
    """
    train = built.train
    limit = DEFAULTS.aside_share * train.track.gauge / 2
    for packing in packings:
        vehicle = train.vehicle(packing.vehicle).vehicle
        aside, mass = _aside(train, packing.placements, packing.vehicle)
        loads = [place for place in packing.placements if _is_load(train, place)]
        if not vehicle.load_top or not loads or abs(aside) <= limit:
            continue
        load = max(loads, key=lambda place: (mass_of(place.part), place.need))
        whole = -aside * mass / mass_of(load.part)
        for share in (1.0, 1.0 - NEARLY * limit / abs(aside)):
            by = min(max(whole * share, -load.bounds.low[1]), vehicle.width - load.bounds.high[1])
            held = {
                place.need: _held(train, place, by if place is load else 0.0)
                for place in packing.placements
                if place is load or (train.need(place.need).looks is not None and _is_open(train, place))
            }
            for found in _laid_with(run, built, packing, held):
                if abs(_aside(train, found.placements, packing.vehicle)[0]) <= limit:
                    yield tuple(found if one is packing else one for one in packings)
        return


def _laid_with(
    run: PlanningRun, built: BuiltTrain, packing: Packing, held: Mapping[str, Wanted]
) -> Iterator[Packing]:
    """Yield a vehicle packed with some parts held, and laid loosely with them."""
    if run.over("better places"):
        return
    tight = packed_with(run, built.train, packing, held)
    if tight is not None:
        yield tight
    needs = tuple(held[need.name].need if need.name in held else need for need in built.train.needs)
    train = replace(built.train, needs=needs)
    yield from laid_as_asked(run, built, packing, train, LOOSELY)


def _is_load(train: Train, place: Placement) -> bool:
    need = train.need(place.need)
    stands = need.looks is None and need.sits is None and place.part.mount.needs_support
    return stands and _is_open(train, place) and mass_of(place.part) > HEAVY_G


def _is_open(train: Train, place: Placement) -> bool:
    return train.need(place.need).pinned is None


def _held(train: Train, place: Placement, by: float) -> Wanted:
    """Return a part held, turned and as high as it lies, so far to the left of where it lies (mm)."""
    planes = ((_SIDEWAYS, plane_of(place.bounds, _SIDEWAYS) + by), (_UP, plane_of(place.bounds, _UP)))
    pinned = FixedPlace(place.vehicle, place.place.pose.name, None, (), planes)
    return Wanted(replace(train.need(place.need), pinned=pinned), place.part)


def _aside(train: Train, placements: Sequence[Placement], name: str) -> tuple[float, float]:
    """Return how far to the left of the middle a vehicle's centre of gravity lies (mm), and its mass (g)."""
    weight = weight_after(BuiltTrain(train, tuple(placements), Harness(), ()), name)
    middle = train.vehicle(name).vehicle.width / 2
    return weight.center[axis_of(_SIDEWAYS)] - middle, weight.mass

"""One vehicle whose wires do not all run: its parts are laid elsewhere until they do.

Each try guesses a lane for the wires, lays the parts loosely round it (`packing.vehicle.roomy_places`), asks
for ways in and out and whether all stands, and runs the wires of this vehicle alone. What fails teaches the
next try: pins that were not reached want more room, and where a bundle was squeezed parts keep off, or out of
all holes in inner walls where wires had no way at all. Where something has no way or would tip no wires are
run, unless nothing better comes up.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeVar

import numpy as np

from fitplan.checks.support import in_the_air
from fitplan.lattice.cover import TENTHS
from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Need
from fitplan.model.placed import ITS_MOUNT, Placement
from fitplan.model.solids import Box
from fitplan.model.train import Train
from fitplan.model.wired import Harness
from fitplan.packing.access.exchange import accesses, exchanges_in
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.wishes import KeepClear
from fitplan.planning.costs import wire_length
from fitplan.planning.fastenings import standing_badly
from fitplan.planning.run_state import PlanningRun, PlanOptions
from fitplan.planning.wire_wishes import cavity_box, lanes, necks, squeezed, wishes_of
from fitplan.routing.harness.finished import finish_vehicle
from fitplan.routing.harness.harness import VehicleTried, WiredTrain, try_vehicle

MOST_TRIES = 9
"""So many layouts of one vehicle are wired."""

SHARE = 0.02
"""So much of the usual work goes to each way to lay a vehicle better: more would not be worth it."""

ENOUGH = 2
"""After so many tries more it is let be that something cannot be exchanged as allowed, and after so many that
lose nothing but what was lost before."""

IN_THE_AIR, ON_EDGE, PRINTED, TIPPING = 60.0, 60.0, 60.0, 30.0
"""What a part that touches nothing, one on edge, a block to print under one, and one that tape or a strap
keeps from tipping count beside wire (mm; common practice, no source)."""
_AS_FLAT = 1.0
"""So much higher (mm) is as flat."""

T = TypeVar("T")

Faults = tuple[int, int, int, int]
"""What is not reached, parts without a way in, what cannot be exchanged as allowed, what would tip."""


@dataclass(frozen=True)
class PlacedVehicle:
    """Places of a vehicle's parts, and what is wrong with them."""

    packing: Packing
    faults: Faults
    length_mm: float
    hidden: int = 0
    """What must be got at when building or debugging, and only is once the part itself is taken out."""
    awkward_mm: float = 0.0
    """What parts on edge, in the air, on blocks to print, and parts that would tip count, in mm of wire."""

    @property
    def order(self) -> tuple[Faults, int, float]:
        """What is better comes first: fewer faults, then less that is hidden, then less wire."""
        return (self.faults, self.hidden, self.length_mm + self.awkward_mm)


class LooseLayouts:
    """Lays the parts of one vehicle loosely, each time round another lane.

    Parameters
    ----------
    built
        The train as it stands; its harness is not looked at.
    packing
        The vehicle as it is packed now.
    """

    def __init__(self, run: PlanningRun, built: BuiltTrain, packing: Packing) -> None:
        entry = built.train.vehicle(packing.vehicle)
        self._run, self._packing = run, packing
        self._wanted = tuple(Wanted(built.train.need(place.need), place.part) for place in packing.placements)
        self._removed = frozenset(packing.rebuild.remove if packing.rebuild else ())
        space = run.packer.cavity(packing.vehicle, self._removed).sure
        hull = Box(
            (space.hull[0] / TENTHS, space.hull[1] / TENTHS, space.hull[2] / TENTHS),
            (space.hull[3] / TENTHS, space.hull[4] / TENTHS, space.hull[5] / TENTHS),
        )
        obstacles = np.array(space.obstacles, dtype=float).reshape(-1, 6) / TENTHS
        room = cavity_box(obstacles, hull)
        self._obstacles, self._room = obstacles, room
        self._wishes = wishes_of(built, entry)
        self._guesses = list(lanes(built, entry, room))
        self._often = frozenset(
            wanted.need.name
            for wanted in self._wanted
            if any(access.often for access in accesses(wanted.need, wanted.part))
        )

    @property
    def built_in(self) -> set[str]:
        """What is built into the vehicle and wired."""
        return {wish.before for wish in self._wishes.clear if wish.before}

    @cached_property
    def necks(self) -> tuple[KeepClear, ...]:
        """Openings in the body's inner walls."""
        return necks(self._obstacles, self._room)

    def layout(
        self, number: int, learned: tuple[KeepClear, ...] = (), dear: frozenset[str] = frozenset()
    ) -> Packing | None:
        """Return one of many layouts; None when none is found.

        Parameters
        ----------
        learned, dear
            Where a bundle was squeezed before, and what had pins that were not reached: of what is built in
            a plate's height before these is kept where that leaves the parts any places.
        """
        guess = self._guesses[number % len(self._guesses)]
        asked = replace(self._wishes, clear=(*self._wishes.clear, *guess, *learned), dear=dear)
        kept = tuple(wish.least for wish in asked.clear if wish.least is not None and wish.before in dear)
        for boxes in (kept, ()) if kept else ((),):
            found = self._run.packer.pack_roomily(
                self._packing.vehicle,
                self._wanted,
                self._removed,
                replace(asked, kept=boxes),
                come_out=self._often,
                seed=self._run.options.seed + number,
            )
            if found is not None:
                return self._packing.placed(found.placements)
        return None

    def up_to(
        self, sound: Callable[[Packing], T | None], first: Sequence[Packing | None] = ()
    ) -> tuple[tuple[Packing | None, ...], T | None]:
        """Return the first few layouts up to one that is sound, and what is said of that; None: none is.

        Parameters
        ----------
        sound
            Returns what there is to say of a layout; None where it will not do.
        first
            The first layouts, where they were asked for already.
        """
        layouts: list[Packing | None] = []
        for number in range(ENOUGH + 1):
            if self._run.over("places laid loosely"):
                break
            layout = first[number] if number < len(first) else self.layout(number)
            layouts.append(layout)
            if layout is not None and (said := sound(layout)) is not None:
                return tuple(layouts), said
        return tuple(layouts), None


def laid_as_asked(
    run: PlanningRun, built: BuiltTrain, packing: Packing, train: Train, most: int
) -> Iterator[Packing]:
    """Yield up to ``most`` loose layouts of a vehicle as another train asks for them, within `SHARE`.

    Parameters
    ----------
    built
        The train as it stands; its harness is not looked at.
    train
        The same with other needs or preferences.
    """
    # A run of its own: the packer of the plan's remembers needs by name, and these ask for something else.
    alone = PlanningRun(train, PlanOptions(run.options.budget.part(SHARE), run.options.seed))
    layouts = LooseLayouts(alone, replace(built, train=train, fastenings=()), packing)
    for number in range(most):
        if run.over("better places"):
            return
        found = layouts.layout(number)
        if found is not None:
            yield found


def place_vehicle(
    run: PlanningRun,
    built: BuiltTrain,
    wired: WiredTrain,
    packing: Packing,
    first: Sequence[Packing | None] = (),
) -> PlacedVehicle | None:
    """Return better places for the parts of one vehicle; None when none are found.

    Parameters
    ----------
    built, wired
        The train as it stands, with this vehicle at fault.
    packing
        The vehicle as it is packed now.
    first
        The first loose layouts, where they were asked for already.
    """
    entry = built.train.vehicle(packing.vehicle)
    loose = LooseLayouts(run, built, packing)
    here = {place.need for place in packing.placements} | loose.built_in
    # On an open deck all sides are ways out: what is shut in there lies wrongly, and is laid again.
    counted = 3 if entry.vehicle.load_top else 2
    best: PlacedVehicle | None = None
    spare: _Judged | None = None
    learned: tuple[KeepClear, ...] = ()
    dear: frozenset[str] = frozenset()
    lost: set[tuple[str, str, str]] = set()
    idle = 0
    for number in range(MOST_TRIES):
        if run.over("better places"):
            break
        known = number < len(first) and not learned and not dear
        found = first[number] if known else loose.layout(number, learned, dear)
        judged = None if found is None else _judged(run, built, found)
        if judged is not None and judged.is_wrong:
            spare = judged if spare is None or judged.faults < spare.faults else spare
            judged = None
        enough = spare is not None and not any(spare.faults[:counted]) and number >= ENOUGH
        if judged is None and spare is not None and best is None and enough:
            judged, spare = spare, None
        if judged is not None:
            placed, tried = _wired(run, built, wired, judged)
            ends = {(one.net, one.owner, one.pin) for one in tried.lost}
            idle += ends <= lost and best is not None and placed.faults >= best.faults
            lost |= ends
            if best is None or placed.order < best.order:
                best = placed
            if not any(placed.faults) or (ends and idle >= ENOUGH):
                break
            dear |= {lost.owner for lost in tried.lost if lost.owner in here}
            learned = (*learned, *squeezed(box for squeeze in tried.squeezes for box in squeeze.boxes))
            if tried.lost and not tried.squeezes:
                # Where nothing was squeezed there is no way at all: none that leads through a wall is spared.
                learned = (*loose.necks, *(one for one in learned if one not in loose.necks))
        if best is not None and not any(best.faults[:counted]) and number >= ENOUGH:
            break
    if spare is not None and (best is None or spare.faults < best.faults):
        placed, _ = _wired(run, built, wired, spare)
        if best is None or placed.order < best.order:
            best = placed
    return best


@dataclass(frozen=True)
class _Judged:
    """A layout, and what is wrong with it before wires run: none of them counts as lost."""

    packing: Packing
    faults: Faults
    hidden: int
    awkward_mm: float

    @property
    def is_wrong(self) -> bool:
        """Whether something has no way in or would tip; to be hard to exchange may be all that can be had."""
        _, shut_out, _, tipping = self.faults
        return bool(shut_out or tipping)


def better_layout(
    run: PlanningRun,
    built: BuiltTrain,
    wired: WiredTrain,
    packing: Packing,
    first: Sequence[Packing | None] = (),
) -> PlacedVehicle:
    """Return the better of a vehicle as it is packed, where nothing is wrong, and as it is laid loosely.

    By straight lines from pin to pin it is guessed which. The other's wires are run only where the guess
    turns out worse: of fourteen vehicles of examples and starters that had both run, straight lines were
    wrong twice, by 5 and 71 mm.

    Parameters
    ----------
    first
        The first loose layouts, where they were asked for already.
    """
    packed = _judged(run, built, packing)
    layouts, likelier = _likelier(run, built, packed, first)
    found: PlacedVehicle | None = None
    if likelier is packed:
        found, _ = _wired(run, built, wired, packed)
        if not any(found.faults):
            return found
    placed = place_vehicle(run, built, wired, packing, layouts)
    if placed is not None and _guess(built, placed) <= _guess(built, packed):
        return placed
    if found is None:
        found, _ = _wired(run, built, wired, packed)
    return found if placed is None or found.order <= placed.order else placed


def likelier_layout(
    run: PlanningRun, built: BuiltTrain, packing: Packing, first: Sequence[Packing | None] = ()
) -> Packing:
    """Return the better of a vehicle as packed and as laid loosely, as straight lines guess it."""
    return _likelier(run, built, _judged(run, built, packing), first)[1].packing


def _likelier(
    run: PlanningRun, built: BuiltTrain, packed: _Judged, first: Sequence[Packing | None]
) -> tuple[tuple[Packing | None, ...], _Judged]:
    """Return the first loose layouts up to a sound one, and which of that and packed straight lines like."""

    def sound(layout: Packing) -> _Judged | None:
        judged = _judged(run, built, layout)
        return None if judged.is_wrong else judged

    layouts, loose = LooseLayouts(run, built, packed.packing).up_to(sound, first)
    return layouts, packed if loose is None or _guess(built, packed) < _guess(built, loose) else loose


def _guess(built: BuiltTrain, judged: _Judged | PlacedVehicle) -> tuple[Faults, int, float]:
    """Return what puts layouts in order as `PlacedVehicle.order` does, with straight lines for wires."""
    packing = judged.packing
    others = tuple(place for place in built.placements if place.vehicle != packing.vehicle)
    straight = wire_length(built.train, (*others, *packing.placements))
    return (judged.faults, judged.hidden, straight + judged.awkward_mm)


def _judged(run: PlanningRun, built: BuiltTrain, packing: Packing) -> _Judged:
    """Ask for ways in and out, and whether all stands."""
    name = packing.vehicle
    removed = frozenset(packing.rebuild.remove if packing.rebuild else ())
    inside = len(run.going_in(name, packing.placements, removed))
    needs = {place.need: built.train.need(place.need) for place in packing.placements}
    vehicle = built.train.vehicle(name).vehicle
    reached = exchanges_in(vehicle, needs, packing.placements, removed, filled=run.filled)
    shut = sum(one.often and not one.within(needs[one.need]) for one in reached)
    hidden = sum(not one.often and (not one.reached or (one.itself and not one.cells)) for one in reached)
    faults = (0, len(packing.placements) - inside, shut, len(tipping_in(built, packing)))
    return _Judged(packing, faults, hidden, _awkward(built, packing))


def _awkward(built: BuiltTrain, packing: Packing) -> float:
    """Return what a maker likes less about how parts lie, in mm of wire."""
    bare = replace(built, placements=packing.placements, harness=Harness(), fastenings=())
    stuck = [one for one in packing.placements if one.carried_by == ITS_MOUNT and in_the_air(bare, one)]
    on_edge = [one for one in packing.placements if _on_edge(built.train.need(one.need), one)]
    printed = [one for one in packing.placements if one.shelf is not None and one.shelf.kind == "block"]
    tipping = [one for one in packing.placements if not one.steady]
    told = ((IN_THE_AIR, stuck), (ON_EDGE, on_edge), (PRINTED, printed), (TIPPING, tipping))
    return sum(each * len(those) for each, those in told)


def _on_edge(need: Need, place: Placement) -> bool:
    """Tell whether a part that nothing else turns stands higher than it would lie."""
    free = place.part.mount.needs_support and not need.is_held
    return free and place.bounds.size[2] > min(place.part.bounds.size) + _AS_FLAT


def tipping_in(built: BuiltTrain, packing: Packing) -> tuple[Placement, ...]:
    """Return what would tip in a vehicle packed so, whatever wires take of the room for straps."""
    return standing_badly(replace(built, placements=packing.placements, harness=Harness(), fastenings=()))


def finish(run: PlanningRun, built: BuiltTrain, wired: WiredTrain, packing: Packing) -> None:
    """Work out what the wiring of a vehicle packed so leaves open, and in which order its parts go in."""
    removed = frozenset(packing.rebuild.remove if packing.rebuild else ())
    run.assembly(packing.vehicle, packing.placements, removed)
    moved = _with(built, packing)
    finish_vehicle(moved, wired, packing.vehicle, run.options.budget, run.wired_before)


def _with(built: BuiltTrain, packing: Packing) -> BuiltTrain:
    """Return the train with a vehicle packed so."""
    others = tuple(place for place in built.placements if place.vehicle != packing.vehicle)
    return replace(built, placements=(*others, *packing.placements), fastenings=())


def _wired(
    run: PlanningRun, built: BuiltTrain, wired: WiredTrain, judged: _Judged
) -> tuple[PlacedVehicle, VehicleTried]:
    """Run the wires of one vehicle."""
    packing = judged.packing
    moved = _with(built, packing)
    tried = try_vehicle(moved, wired, packing.vehicle, run.options.budget, run.wired_before)
    _, shut_out, shut, tipping = judged.faults
    faults = (len(tried.lost), shut_out, shut, tipping)
    return PlacedVehicle(packing, faults, tried.length_mm, judged.hidden, judged.awkward_mm), tried

"""Places and wires together: parts make way for wires and for each other's way in."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Conductor
from fitplan.model.pins_used import PinUse
from fitplan.model.placed import Placement, Rebuild
from fitplan.model.train import Train
from fitplan.model.ways_in import AssemblyStep
from fitplan.model.wired import Harness
from fitplan.packing.access.exchange import exchanges
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.seats import Wanted
from fitplan.pins.train_circuit import TrainCircuit
from fitplan.planning.chosen import Chosen
from fitplan.planning.fastenings import standing_badly, with_fastenings
from fitplan.planning.laid_loosely import Places, ToBeOpened, laid_loosely, nothing_to_be_opened
from fitplan.planning.lens_middles import with_lenses_in_the_middle
from fitplan.planning.lifting_loops import with_lifting_loops
from fitplan.planning.load_middles import packed_nearer_the_middle
from fitplan.planning.pairs_inside import with_pairs_inside
from fitplan.planning.ready_made import with_leads
from fitplan.planning.run_state import PlanningRun
from fitplan.planning.short_leads import packed_for_leads, too_short
from fitplan.planning.strap_room import straps_before_wires
from fitplan.planning.vehicle_places import (
    Faults,
    LooseLayouts,
    PlacedVehicle,
    place_vehicle,
    tipping_in,
)
from fitplan.processes import SecondProcess
from fitplan.routing.harness.harness import WiredTrain, wire_train
from fitplan.routing.negotiation.layout import Layout
from fitplan.workbench.as_built import as_cut

TRIES = 4
"""So often the parts may make way for wires and for each other's way in."""


@dataclass(frozen=True)
class Attempt:
    """One way to place and wire the train, and what is still wrong with it."""

    built: BuiltTrain
    steps: tuple[AssemblyStep, ...]
    blocked: tuple[str, ...]
    layout: Layout
    diameters: Mapping[str, float]
    """Outer diameter of each net's wire, in mm."""
    tipping: tuple[Placement, ...] = ()
    """What would tip where it lies and cannot be held there."""

    @property
    def faults(self) -> Faults:
        """What is not reached, has no way in, cannot be exchanged as allowed, and would tip; a count each."""
        built = self.built
        inside = sum(len(step.needs) for step in self.steps)
        shut = sum(
            entry.often and not entry.within(built.train.need(entry.need)) for entry in built.exchanged
        )
        return (len(built.unreached), len(built.placements) - inside, shut, len(self.tipping))


def place_parts(run: PlanningRun, chosen: Chosen, circuit: TrainCircuit) -> Places:
    """Look for places with a way in, with lenses in the middle of their windows, and where nothing tips.

    Parameters
    ----------
    run
        It learns what parts keep clear.
    chosen
        Which part goes into which vehicle, with places that hold without wires.
    """
    train = run.train_with(frozenset(place.vehicle for place in chosen.placements))
    # Pins of a controller without a place are nobody's.
    pin_map = tuple(use for use in circuit.pins.uses if use.controller in chosen.parts)
    packings = with_lenses_in_the_middle(run, train, _with_ways_in(run, chosen.packings))
    built = Places(train, packings, pin_map).built
    firm = {one.vehicle: _on_their_feet(run, built, one) for one in packings}
    moved = tuple(packing for packing, _ in firm.values())
    if moved != packings:
        packings = _with_ways_in(run, moved)
        built = Places(train, packings, pin_map).built
    tipping = frozenset(one.vehicle for one in packings if tipping_in(built, one))
    loose = {name: layouts for name, (_, layouts) in firm.items() if layouts}
    return Places(train, packings, pin_map, tipping, loose, _never_in(run, train, packings))


def _never_in(run: PlanningRun, train: Train, packings: tuple[Packing, ...]) -> frozenset[str]:
    """Return the parts without a way in that have none in any place of their vehicle, were they alone."""
    found = set()
    for place in _shut_out(run, packings):
        run.packer.demand_way_in(place.vehicle, place.need)
        alone = (Wanted(train.need(place.need), place.part),)
        if not run.pack(place.vehicle, alone).holds:
            found.add(place.need)
    return frozenset(found)


def _on_their_feet(
    run: PlanningRun, built: BuiltTrain, packing: Packing
) -> tuple[Packing, tuple[Packing | None, ...]]:
    """Return a vehicle packed so that nothing tips, or as it is; and the loose layouts of `_standing`."""
    over = tipping_in(built, packing)
    if not over or (layouts := _standing(run, built, packing)):
        return packing, layouts if over else ()
    for place in over:
        run.packer.demand_footing(place.vehicle, place.need)
    firm = run.again(packing)
    # Where no place has a footing, all is as it was.
    tips = firm != packing and tipping_in(built, firm)
    return firm, _standing(run, built, firm) if tips else ()


def _standing(run: PlanningRun, built: BuiltTrain, packing: Packing) -> tuple[Packing | None, ...]:
    """Return loose layouts of a vehicle up to the first in which nothing tips; none when all of them do."""
    layouts, stands = LooseLayouts(run, built, packing).up_to(
        lambda layout: None if tipping_in(built, layout) else layout
    )
    return layouts if stands is not None else ()


def place_and_wire(
    run: PlanningRun,
    places: Places,
    circuit: TrainCircuit,
    beside: SecondProcess | None = None,
    given_out: Callable[[], None] = lambda: None,
    to_be_opened: ToBeOpened = nothing_to_be_opened,
) -> Attempt:
    """Run the wires and look for a way in; where either fails, lay the parts elsewhere and try again.

    Of all tries the one with the fewest faults is kept, the first among equals.

    Parameters
    ----------
    run
        It learns what parts keep clear.
    places
        Places that hold without wires.
    beside, given_out
        Where some vehicles are laid loosely, and what is called when no more will be asked there.
    to_be_opened
        Tells which vehicles will be opened: none of their layouts is of use before.
    """
    train, pin_map = places.train, places.pin_map
    loosely, like = laid_loosely(run, places, circuit.currents, beside, given_out, to_be_opened)
    packings = tuple(
        found.packing or packing if (found := loosely.get(packing.vehicle)) else packing
        for packing in places.packings
    )
    shut = {name for name, one in loosely.items() if one.to_be_opened}
    tried = {name: one.placed for name, one in loosely.items() if one.late is None and name not in shut}
    laid, wired = _laid(run, train, packings, pin_map, circuit, like)
    if shut and not laid.built.unreached:
        return place_and_wire(run, places, circuit, beside, given_out)
    best, kept, thick = laid, packings, wired.gauges
    for number in range(1, TRIES):
        if any(best.faults) and run.over("better places"):
            break
        # What is shut in is asked about once; wires and ways in as long as it may help.
        at_fault = _at_fault(laid, wired, shut_too=number == 1) - shut
        moved = tuple(
            _elsewhere(run, laid, wired, packing, tried if number == 1 else None)
            if packing.vehicle in at_fault
            else packing
            for packing in packings
        )
        if moved == packings:
            break
        packings = moved
        laid, wired = _laid(run, train, packings, pin_map, circuit, wired.gauges)
        if laid.faults < best.faults:
            best, kept, thick = laid, packings, wired.gauges
    best, done = _laid_again(run, best, kept, pin_map, circuit, thick)
    built = with_fastenings(done)
    return replace(best, built=replace(built, pin_map=_of_placed(built)))


def _laid_again(
    run: PlanningRun,
    best: Attempt,
    packings: tuple[Packing, ...],
    pin_map: tuple[PinUse, ...],
    circuit: TrainCircuit,
    like: Mapping[str, Conductor],
) -> tuple[Attempt, BuiltTrain]:
    """Return what stands with its leads; laid again where a lead does not reach, or a deck leans aside.

    Whatever is laid again must have no more faults, and no more leads that do not reach.
    """
    done = _with_lengths(best)
    for candidates, fewer in ((packed_for_leads, 1), (packed_nearer_the_middle, 0)):
        most = len(too_short(done)) - fewer
        for packed in candidates(run, done, packings) if most >= 0 and not any(best.faults) else ():
            laid, _ = _laid(run, done.train, packed, pin_map, circuit, like)
            built = _with_lengths(laid)
            if laid.faults <= best.faults and len(too_short(built)) <= most:
                best, done, packings = laid, built, packed
                break
    return best, done


def _with_lengths(attempt: Attempt) -> BuiltTrain:
    """Return a train with its connectors drawn in, its wires as long as work asks, and its leads."""
    inside = with_pairs_inside(attempt.built)
    return with_leads(as_cut(with_lifting_loops(inside), inside))


def _of_placed(built: BuiltTrain) -> tuple[PinUse, ...]:
    """Return the pin map without what serves only parts that have no place: nobody programs these pins."""
    placed = {entry.need for entry in built.placements}
    return tuple(
        use
        for use in built.pin_map
        if not use.net or built.train.joins_others(use.net, use.controller, placed)
    )


def _with_ways_in(run: PlanningRun, packings: tuple[Packing, ...]) -> tuple[Packing, ...]:
    """Pack anew what does not go in: that is quicker to ask for than wires."""
    for _ in range(TRIES - 1):
        shut_out = _shut_out(run, packings)
        if shut_out and run.over("better places"):
            break
        for place in shut_out:
            run.packer.demand_way_in(place.vehicle, place.need)
        moved = tuple(run.again(packing) for packing in packings) if shut_out else packings
        if moved == packings:
            break
        packings = moved
    return packings


def _shut_out(run: PlanningRun, packings: tuple[Packing, ...]) -> list[Placement]:
    """Return what has no way in."""
    found: list[Placement] = []
    for packing in packings:
        removed = frozenset(packing.rebuild.remove if packing.rebuild else ())
        inside = run.going_in(packing.vehicle, packing.placements, removed)
        found += [place for place in packing.placements if place.need not in inside]
    return found


def _laid(
    run: PlanningRun,
    train: Train,
    packings: tuple[Packing, ...],
    pin_map: tuple[PinUse, ...],
    circuit: TrainCircuit,
    like: Mapping[str, Conductor] | None,
) -> tuple[Attempt, WiredTrain]:
    """Wire the train so; ``like``: what each net was wired with before."""
    placements = tuple(place for packing in packings for place in packing.placements)
    rebuilds = tuple(packing.rebuild for packing in packings if packing.rebuild is not None)
    placed = {place.need for place in placements}
    resistors = tuple(one for one in circuit.resistors if one.owner in placed)
    built = BuiltTrain(train, placements, Harness(), pin_map, rebuilds, resistors=resistors)
    steps, blocked = _assembly(run, built)
    built = replace(built, exchanged=exchanges(train, placements, _taken_out(rebuilds), run.filled))

    def wire(fastened: BuiltTrain) -> tuple[Attempt, WiredTrain]:
        budget, known = run.options.budget, run.wired_before
        wired = wire_train(fastened, circuit.currents, budget, known, like=like)
        done = replace(fastened, harness=wired.harness)
        tipping = standing_badly(done)
        return Attempt(done, steps, blocked, wired.layout, wired.diameters, tipping), wired

    best = first = wire(built)
    for straps in straps_before_wires(first[0].built, first[0].tipping):
        if not best[0].tipping or run.over("better places"):
            break
        found = wire(replace(built, fastenings=straps))
        if found[0].faults < best[0].faults:
            best = found
    return best


def _at_fault(laid: Attempt, wired: WiredTrain, *, shut_too: bool) -> frozenset[str]:
    """Return the vehicles in which something does not reach, does not go in, is shut in, or would tip."""
    inside = {need for step in laid.steps for need in step.needs}
    found = set(wired.layout.troubles)
    found |= {place.vehicle for place in laid.built.placements if place.need not in inside}
    found |= {place.vehicle for place in laid.tipping}
    found |= {
        entry.vehicle
        for entry in laid.built.exchanged
        if shut_too and entry.often and not entry.within(laid.built.train.need(entry.need))
    }
    return frozenset(found)


def _elsewhere(
    run: PlanningRun,
    laid: Attempt,
    wired: WiredTrain,
    packing: Packing,
    tried: Mapping[str, PlacedVehicle | None] | None,
) -> Packing:
    """Return other places for the parts of a vehicle, or the same when none are better.

    Loosely laid they are once (``tried`` holds what was laid so already); then parts that are packed tightly
    make way.
    """
    for place in laid.tipping:
        if place.vehicle == packing.vehicle:
            run.packer.demand_footing(place.vehicle, place.need)
    found = None
    if tried is not None:
        known = packing.vehicle in tried
        found = tried[packing.vehicle] if known else place_vehicle(run, laid.built, wired, packing)
    if found is not None and not any(found.faults):
        return found.packing
    now = len(wired.layout.troubles.get(packing.vehicle, ()))
    inside = {need for step in laid.steps for need in step.needs}
    for place in packing.placements:
        if place.need not in inside:
            run.packer.demand_way_in(place.vehicle, place.need)
    for squeeze in wired.squeezes:
        if squeeze.vehicle == packing.vehicle:
            run.packer.keep_for_wires(squeeze.vehicle, squeeze.boxes)
    if found is not None and found.faults[0] < max(now, 1):
        return found.packing
    return run.again(packing)


def _assembly(run: PlanningRun, built: BuiltTrain) -> tuple[tuple[AssemblyStep, ...], tuple[str, ...]]:
    """Return the order of assembly over all vehicles, numbered through, and what blocks what."""
    steps: list[AssemblyStep] = []
    blocked: list[str] = []
    removed = _taken_out(built.rebuilds)
    for entry in built.train.vehicles:
        inside = [place for place in built.placements if place.vehicle == entry.name]
        if not inside:
            continue
        order = run.assembly(entry.name, inside, removed.get(entry.name, frozenset()))
        steps += [replace(step, number=len(steps) + i) for i, step in enumerate(order.steps, 1)]
        blocked.extend(order.blocked)
    return tuple(steps), tuple(blocked)


def _taken_out(rebuilds: tuple[Rebuild, ...]) -> dict[str, frozenset[str]]:
    return {rebuild.vehicle: frozenset(rebuild.remove) for rebuild in rebuilds}

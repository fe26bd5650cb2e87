"""Places and wires together: parts make way for wires and for each other's way in."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fitplan.kernels import reused_memory
from fitplan.model.plan import AssemblyStep, BuiltTrain, Harness, Rebuild
from fitplan.packing.access.exchange import exchanges
from fitplan.packing.access.way_in import assembly_order
from fitplan.pins.train_circuit import TrainCircuit
from fitplan.planning.choice_search import Chosen
from fitplan.planning.run_state import Run
from fitplan.routing.harness.harness import wire_train
from fitplan.routing.negotiation.layout import Layout

TRIES = 4
"""So often the parts may make way for wires and for each other's way in."""


@dataclass(frozen=True)
class Laid:
    """One way to place and wire the train, and what is still wrong with it."""

    built: BuiltTrain
    steps: tuple[AssemblyStep, ...]
    blocked: tuple[str, ...]
    layout: Layout

    @property
    def faults(self) -> tuple[int, int, int]:
        """Nets that are not reached, parts that have no way in, and what cannot be exchanged as allowed."""
        built = self.built
        inside = sum(len(step.needs) for step in self.steps)
        shut = sum(
            entry.often and not entry.within(built.train.need(entry.need)) for entry in built.exchanged
        )
        return (len(built.harness.unreached), len(built.placements) - inside, shut)


def place_and_wire(run: Run, chosen: Chosen, circuit: TrainCircuit) -> Laid:
    """Run the wires and look for a way in; where either fails, let the parts make way and try again.

    Of all tries the one with the fewest faults is kept, the first among equals.

    Parameters
    ----------
    run
        It learns what parts keep clear.
    chosen
        Which part goes into which vehicle, with places that hold without wires.
    """
    train = run.train_with(frozenset(place.vehicle for place in chosen.placements))
    packings = chosen.packings
    # Pins of a controller without a place are nobody's.
    pin_map = tuple(use for use in circuit.pins.uses if use.controller in chosen.parts)
    best: Laid | None = None
    for number in range(TRIES):
        placements = tuple(place for packing in packings for place in packing.placements)
        rebuilds = tuple(packing.rebuild for packing in packings if packing.rebuild is not None)
        built = BuiltTrain(train, placements, Harness(), pin_map, rebuilds)
        steps, blocked = _assembly(built)
        inside = {need for step in steps for need in step.needs}
        shut_out = [place for place in placements if place.need not in inside]
        for place in shut_out:
            run.packer.demand_way_in(place.vehicle, place.need)
        if shut_out and number < TRIES - 1:
            # A way in is quicker to ask for than wires: those wait until the parts can go in.
            moved = tuple(run.again(packing) for packing in packings)
            if moved != packings:
                packings = moved
                continue
        built = replace(built, exchanged=exchanges(train, placements, _taken_out(rebuilds)))
        with reused_memory():
            wired = wire_train(built, circuit.currents)
        attempt = Laid(replace(built, harness=wired.harness), steps, blocked, wired.layout)
        if best is None or attempt.faults < best.faults:
            best = attempt
        if not wired.squeezes:
            break
        for squeeze in wired.squeezes:
            run.packer.keep_for_wires(squeeze.vehicle, squeeze.boxes)
        moved = tuple(run.again(packing) for packing in packings)
        if moved == packings:
            break
        packings = moved
    assert best is not None  # the last try is always wired
    return best


def _assembly(built: BuiltTrain) -> tuple[tuple[AssemblyStep, ...], tuple[str, ...]]:
    """Return the order of assembly over all vehicles, numbered through, and what blocks what."""
    steps: list[AssemblyStep] = []
    blocked: list[str] = []
    removed = _taken_out(built.rebuilds)
    for entry in built.train.vehicles:
        inside = [place for place in built.placements if place.vehicle == entry.name]
        if not inside:
            continue
        order = assembly_order(entry.vehicle, inside, removed=removed.get(entry.name, frozenset()))
        steps += [replace(step, number=len(steps) + i) for i, step in enumerate(order.steps, 1)]
        blocked.extend(order.blocked)
    return tuple(steps), tuple(blocked)


def _taken_out(rebuilds: tuple[Rebuild, ...]) -> dict[str, frozenset[str]]:
    return {rebuild.vehicle: frozenset(rebuild.remove) for rebuild in rebuilds}

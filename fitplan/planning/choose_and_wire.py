"""Choice, places and wires: where wires of a choice do not run, another choice is looked for.

The choice knows bodies and parts, not ways. What is found out by wiring is told to it as *not decided*: these
parts in this vehicle, these homes of all parts, or more conductors than ports are known to carry. That
proves nothing, so a best choice after it is not said to be proved, and nothing is left out for it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from fitplan.pins.train_circuit import TrainCircuit
from fitplan.planning.choice import Choosing
from fitplan.planning.crossing_room import CrossingRoom
from fitplan.planning.place_and_wire import Attempt, place_and_wire
from fitplan.planning.run_state import PlanningRun
from fitplan.planning.suitability import Suitability

OTHER_CHOICES = 2
"""So many other choices are wired at the most."""

Taken = Callable[[Choosing], None]
"""Told each choice that is kept, the first before its wires run."""


@dataclass(frozen=True)
class ChosenTrain:
    """The choice that was kept, its circuit, and how it is placed and wired."""

    choosing: Choosing
    circuit: TrainCircuit
    laid: Attempt


def choose_and_wire(
    run: PlanningRun, suitability: Suitability, choosing: Choosing, taken: Taken
) -> ChosenTrain:
    """Place and wire the best choice; while something is not reached, shut out or tips, try the next best.

    The first is kept unless another leaves out no more and has fewer faults.

    Parameters
    ----------
    taken
        Called with the first choice, and again when another is kept.
    """
    taken(choosing)
    kept = _laid(run, suitability, choosing)
    asked, last = choosing, kept
    for _ in range(OTHER_CHOICES):
        vehicles, ports = _vehicles_at_fault(last), _ports_at_fault(last)
        if not vehicles and not ports:
            break
        if run.over("better places"):
            break
        overfull = CrossingRoom(run.train, last.laid.diameters, run.added).overfull if ports else None
        other = asked.avoiding(vehicles, run.options.budget.share("choice"), overfull)
        if other is None or len(other.best.left_out) > len(kept.choosing.best.left_out):
            break
        asked, last = other, _laid(run, suitability, other)
        if _faults(last) < _faults(kept):
            kept = last
    if kept.choosing is not choosing:
        taken(kept.choosing)
    return kept


def _laid(run: PlanningRun, suitability: Suitability, choosing: Choosing) -> ChosenTrain:
    circuit = suitability.circuit(choosing.best.parts)
    return ChosenTrain(choosing, circuit, place_and_wire(run, choosing.best, circuit))


def _faults(one: ChosenTrain) -> tuple[int, ...]:
    return (len(one.choosing.best.left_out), *one.laid.faults)


def _vehicles_at_fault(one: ChosenTrain) -> frozenset[str]:
    """Return the vehicles in which something is not reached, has no way in, or would tip."""
    laid = one.laid
    inside = {need for step in laid.steps for need in step.needs}
    found = {place.vehicle for place in laid.built.placements if place.need not in inside}
    found |= {place.vehicle for place in laid.tipping}
    return frozenset(found | {name for name, lost in laid.layout.troubles.items() if lost})


def _ports_at_fault(one: ChosenTrain) -> bool:
    """Tell whether conductors found a coupling closed or full: then the homes of all parts are at fault."""
    vehicles = set(one.laid.layout.maps)
    return any(lost.owner in vehicles for lost in one.laid.layout.unreached)

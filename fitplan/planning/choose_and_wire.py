"""Choice, places and wires: where wires of a choice do not run, another choice is looked for.

The choice knows bodies and parts, not ways. What is found out by wiring is told to it as *not decided*: these
parts in this vehicle, these homes of all parts, or more conductors than ports are known to carry. That
proves nothing, so a best choice after it is not said to be proved, and nothing is left out for it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

from fitplan.pins.train_circuit import TrainCircuit
from fitplan.planning.choice import Choosing
from fitplan.planning.crossing_room import CrossingRoom
from fitplan.planning.laid_loosely import Places, ToBeOpened, nothing_to_be_opened
from fitplan.planning.place_and_wire import Attempt, place_and_wire, place_parts
from fitplan.planning.refusal import FAILS, weight_of
from fitplan.planning.run_state import PlanningRun
from fitplan.planning.suitability import Suitability
from fitplan.processes import SecondProcess

OTHER_CHOICES = 2
"""So many other choices are wired at the most."""

Taken = Callable[[Choosing], Callable[[], None]]
"""Told the first choice that is wired, before its wires run, and one that is kept in its stead.

What it returns is called when the second process has no more to do for the wires of that choice."""


_Faults: TypeAlias = tuple[int, int, int, int, int]


@dataclass(frozen=True)
class ChosenTrain:
    """The choice that was kept, its circuit, and how it is placed and wired."""

    choosing: Choosing
    circuit: TrainCircuit
    laid: Attempt


@dataclass(frozen=True)
class _PlacedChoice:
    """A choice that is not wired yet; ``number``: how many were looked at before it."""

    number: int
    choosing: Choosing
    circuit: TrainCircuit
    places: Places


def choose_and_wire(
    run: PlanningRun,
    suitability: Suitability,
    choosing: Choosing,
    taken: Taken,
    beside: SecondProcess | None = None,
    to_be_opened: ToBeOpened = nothing_to_be_opened,
) -> ChosenTrain:
    """Place and wire the best choice; while something is not reached, shut out or tips, try the next best.

    The first is kept unless another leaves out no more and has fewer faults; what a check stops by the parts
    alone is one of them. One in which something tips wherever it is laid, or has no way in wherever it lies,
    is wired last, and only when it may have fewer faults than those before it.

    Parameters
    ----------
    taken
        Called with the first choice that is wired, before its wires run, and again when another is kept.
    beside
        Where some vehicles are laid.
    to_be_opened
        Where wires do not run and it says that something will be opened, no other choice is wired, nor any
        that was to be wired last: what an opening does for the one it does not do for them.
    """
    wired: list[tuple[_Faults, int, ChosenTrain]] = []
    waiting: list[_PlacedChoice] = []

    def wire(one: _PlacedChoice) -> ChosenTrain:
        given_out = (lambda: None) if wired else taken(one.choosing)
        laid = place_and_wire(run, one.places, one.circuit, beside, given_out, to_be_opened)
        done = ChosenTrain(one.choosing, one.circuit, laid)
        wired.append((_faults(done, suitability), one.number, done))
        return done

    asked = choosing
    for number in range(1 + OTHER_CHOICES):
        one = _placed(run, suitability, asked, number)
        overfull = None
        vehicles, never_in = one.places.tipping_anyhow, one.places.never_in
        if (vehicles or never_in) and not run.over("places laid loosely"):
            waiting.append(one)
        else:
            last = wire(one)
            vehicles, ports = _vehicles_at_fault(last), _ports_at_fault(last)
            if not (vehicles or ports):
                break
            laid = last.laid
            if laid.built.unreached and to_be_opened(laid.built, laid.diameters) is not None:
                waiting.clear()
                break
            if ports:
                overfull = CrossingRoom(run.train, last.laid.diameters, run.added).overfull
        if number == OTHER_CHOICES or run.over("better places"):
            break
        other = asked.avoiding(vehicles, run.options.budget.share("choice"), overfull, never_in)
        if other is None or len(other.best.left_out) > len(choosing.best.left_out):
            break
        asked = other
    for one in waiting:
        if not wired or _least_faults(one, suitability) < min(faults for faults, _, _ in wired):
            wire(one)
    _, _, kept = min(wired, key=lambda done: done[:2])
    if kept.choosing is not wired[0][2].choosing:
        taken(kept.choosing)()
    return kept


def _placed(run: PlanningRun, suitability: Suitability, choosing: Choosing, number: int) -> _PlacedChoice:
    circuit = suitability.circuit(choosing.best.parts)
    return _PlacedChoice(number, choosing, circuit, place_parts(run, choosing.best, circuit))


def _faults(one: ChosenTrain, suitability: Suitability) -> _Faults:
    """Return what is left out, fails, is not reached and has no way in, and how many stops stand else."""
    unreached, shut_out, shut_in, tipping = one.laid.faults
    left_out, fails, stops = _of_parts(one.choosing, suitability)
    return (left_out, fails, unreached, shut_out, stops + shut_in + tipping)


def _least_faults(one: _PlacedChoice, suitability: Suitability) -> _Faults:
    """Return the faults that a choice has however it is laid and wired."""
    left_out, fails, stops = _of_parts(one.choosing, suitability)
    never_in, tipping = one.places.never_in, one.places.tipping_anyhow
    return (left_out, fails, 0, len(never_in), stops + len(tipping))


def _of_parts(choosing: Choosing, suitability: Suitability) -> tuple[int, int, int]:
    """Return how many needs a choice leaves out, whether its parts fail, and how many stops they earn."""
    best = choosing.best
    return len(best.left_out), int(weight_of(best.unsuitable) >= FAILS), suitability.stops(best.parts)


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

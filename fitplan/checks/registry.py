"""All checks, in the order in which their results are shown."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from fitplan.checks.access import check_access
from fitplan.checks.asked import check_asked
from fitplan.checks.balance import check_balance
from fitplan.checks.curves import check_curves
from fitplan.checks.heat import check_heat
from fitplan.checks.nets import check_nets
from fitplan.checks.pins import check_pins
from fitplan.checks.places import check_places, folded
from fitplan.checks.safety import check_safety
from fitplan.checks.settings import DEFAULTS, CheckSettings
from fitplan.checks.stopping import check_stopping
from fitplan.checks.supply import check_supply
from fitplan.checks.support import check_support
from fitplan.checks.view import check_view
from fitplan.checks.wire import check_wire
from fitplan.checks.wiring import check_wiring
from fitplan.model.plan import BuiltTrain, FitRow, Harness, Outcome
from fitplan.model.train import Train
from fitplan.pins.train_circuit import TrainCircuit


@dataclass(frozen=True)
class CheckInput:
    """What a check is asked about."""

    built: BuiltTrain
    fit: tuple[FitRow, ...]
    settings: CheckSettings
    circuit: TrainCircuit
    """What follows from nets and parts alone."""
    unplaced: tuple[tuple[str, str], ...] = ()
    """(need, why) of parts without a place."""


@dataclass(frozen=True)
class Check:
    """One check: its subject, how it is run, and whether it can say anything before parts have places."""

    subject: str
    run: Callable[[CheckInput], Outcome]
    needs_places: bool


CHECKS: tuple[Check, ...] = (
    Check("places", lambda asked: check_places(asked.built, asked.unplaced), True),
    Check("nets", lambda asked: check_nets(asked.built), False),
    Check("asked", lambda asked: check_asked(asked.built), False),
    Check("pins", lambda asked: check_pins(asked.built, asked.settings.pins), False),
    Check("supply", lambda asked: check_supply(asked.built, asked.fit, asked.settings.supply), False),
    Check("heat", lambda asked: check_heat(asked.built, asked.settings.heat), True),
    Check("view", lambda asked: check_view(asked.built, asked.settings.view), True),
    Check("stopping", lambda asked: check_stopping(asked.built, asked.settings.stopping), False),
    Check("curves", lambda asked: check_curves(asked.built, asked.settings.curves), False),
    Check("balance", lambda asked: check_balance(asked.built, asked.settings.balance), True),
    Check("support", lambda asked: check_support(asked.built, asked.settings.support), True),
    Check("wire", lambda asked: check_wire(asked.built, asked.settings.wire), True),
    Check("access", lambda asked: check_access(asked.built), True),
    Check("safety", lambda asked: check_safety(asked.built, asked.settings.safety), False),
    Check("wiring", lambda asked: check_wiring(asked.built), True),
)
"""Every check, in the order of a report."""


def run_checks(
    built: BuiltTrain,
    fit: tuple[FitRow, ...] = (),
    settings: CheckSettings = DEFAULTS,
    circuit: TrainCircuit | None = None,
    unplaced: tuple[tuple[str, str], ...] = (),
) -> tuple[Outcome, ...]:
    """Run every check on a placed and wired train.

    Parameters
    ----------
    fit
        Which part fits into which vehicle, for the comparison of supplies; may be left out.
    settings
        Limits that differ from the defaults.
    circuit
        The train's circuit with the parts placed, where it is known already.
    unplaced
        (need, why) of parts without a place. What follows from that alone is no finding of its own.
    """
    chosen = {place.need: place.part for place in built.placements}
    asked = CheckInput(built, fit, settings, circuit or TrainCircuit.of(built.train, chosen), unplaced)
    return folded(tuple(check.run(asked) for check in CHECKS), built)


def run_unplaced_checks(train: Train, settings: CheckSettings = DEFAULTS) -> tuple[Outcome, ...]:
    """Run those checks that need no places, with the first candidate of every need."""
    circuit = TrainCircuit.of(train, {})
    asked = CheckInput(BuiltTrain(train, (), Harness(), circuit.pins.uses), (), settings, circuit)
    return tuple(check.run(asked) for check in CHECKS if not check.needs_places)

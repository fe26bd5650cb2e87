"""All checks, in the order in which their results are shown."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from fitplan.checks.access import check_access
from fitplan.checks.balance import check_balance
from fitplan.checks.curves import check_curves
from fitplan.checks.heat import check_heat
from fitplan.checks.pins import check_pins
from fitplan.checks.safety import check_safety
from fitplan.checks.stopping import check_stopping
from fitplan.checks.supply import check_supply
from fitplan.checks.view import check_view
from fitplan.checks.wire import check_wire
from fitplan.model.plan import BuiltTrain, FitRow, Harness, Outcome
from fitplan.model.train import Train
from fitplan.pins.matching import match_pins

Run = Callable[[BuiltTrain, tuple[FitRow, ...]], Outcome]


@dataclass(frozen=True)
class Check:
    """One check: its subject, how it is run, and whether it can say anything before parts have places."""

    subject: str
    run: Run
    needs_places: bool


def _plain(check: Callable[[BuiltTrain], Outcome]) -> Run:
    return lambda built, fit: check(built)


CHECKS: tuple[Check, ...] = (
    Check("pins", _plain(check_pins), False),
    Check("supply", check_supply, False),
    Check("heat", _plain(check_heat), True),
    Check("view", _plain(check_view), True),
    Check("stopping", _plain(check_stopping), False),
    Check("curves", _plain(check_curves), False),
    Check("balance", _plain(check_balance), True),
    Check("wire", _plain(check_wire), True),
    Check("access", _plain(check_access), True),
    Check("safety", _plain(check_safety), False),
)
"""Every check, in the order of a report."""


def run_checks(built: BuiltTrain, fit: tuple[FitRow, ...] = ()) -> tuple[Outcome, ...]:
    """Run every check on a placed and wired train.

    Parameters
    ----------
    fit
        Which part fits into which vehicle, for the comparison of supplies; may be left out.
    """
    return tuple(check.run(built, fit) for check in CHECKS)


def run_unplaced_checks(train: Train) -> tuple[Outcome, ...]:
    """Run those checks that need no places, with the first candidate of every need."""
    built = BuiltTrain(train, (), Harness(), match_pins(train, {}).uses)
    return tuple(check.run(built, ()) for check in CHECKS if not check.needs_places)

"""All checks, in the order in which their results are shown."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from fitplan.checks.access import check_access
from fitplan.checks.asked import check_asked
from fitplan.checks.balance import check_balance
from fitplan.checks.curves import check_curves
from fitplan.checks.ends import circuit_of
from fitplan.checks.gaps import check_gaps
from fitplan.checks.heat import check_heat
from fitplan.checks.leads import check_leads
from fitplan.checks.measured import check_measured, told_as_measured
from fitplan.checks.nets import check_nets
from fitplan.checks.pins import check_pins
from fitplan.checks.places import check_places, folded
from fitplan.checks.preferences import check_preferences
from fitplan.checks.safety import check_safety
from fitplan.checks.settings import DEFAULTS, CheckSettings
from fitplan.checks.stopping import check_stopping
from fitplan.checks.supply import check_supply
from fitplan.checks.support import check_support
from fitplan.checks.view import check_view
from fitplan.checks.wire import check_wire
from fitplan.checks.wiring import check_wiring
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Outcome
from fitplan.model.proposed import FitRow
from fitplan.model.train import Train
from fitplan.model.wider_window import WiderWindow
from fitplan.model.wired import Harness
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
    wider_windows: tuple[WiderWindow, ...] = ()


@dataclass(frozen=True)
class Check:
    """One check: its subject, how it is run, and whether it can say anything before parts have places.

    ``needs_fit``: whether it tells which part fits into which vehicle.
    """

    subject: str
    run: Callable[[CheckInput], Outcome]
    needs_places: bool
    needs_fit: bool = False


CHECKS: tuple[Check, ...] = (
    Check("places", lambda of: check_places(of.built, of.unplaced, of.wider_windows), True),
    Check("preferences", lambda of: check_preferences(of.built), True),
    Check("nets", lambda of: check_nets(of.built, of.circuit), False),
    Check("asked", lambda of: check_asked(of.built, of.circuit), False),
    Check("pins", lambda of: check_pins(of.built, of.settings.pins, of.circuit), False),
    Check(
        "supply",
        lambda of: check_supply(of.built, of.fit, of.settings.supply, of.circuit),
        False,
        needs_fit=True,
    ),
    Check("heat", lambda of: check_heat(of.built, of.settings.heat, of.circuit), True),
    Check("gaps", lambda of: check_gaps(of.built), False),
    Check("view", lambda of: check_view(of.built, of.settings.view), True),
    Check("stopping", lambda of: check_stopping(of.built, of.settings.stopping), False),
    Check("measured", lambda of: check_measured(of.built), False),
    Check("curves", lambda of: check_curves(of.built, of.settings.curves), False),
    Check("balance", lambda of: check_balance(of.built, of.settings.balance), True),
    Check("support", lambda of: check_support(of.built, of.settings.support), True),
    Check("wire", lambda of: check_wire(of.built, of.settings.wire, of.circuit), True),
    Check("leads", lambda of: check_leads(of.built, of.circuit), True),
    Check("access", lambda of: check_access(of.built), True),
    Check("safety", lambda of: check_safety(of.built, of.settings.safety, of.circuit), False),
    Check("wiring", lambda of: check_wiring(of.built), True),
)
"""Every check, in the order of a report."""


def run_checks(
    built: BuiltTrain,
    fit: tuple[FitRow, ...] | Callable[[], tuple[FitRow, ...]] = (),
    settings: CheckSettings = DEFAULTS,
    circuit: TrainCircuit | None = None,
    unplaced: tuple[tuple[str, str], ...] = (),
    wider_windows: tuple[WiderWindow, ...] = (),
) -> tuple[Outcome, ...]:
    """Run every check on a placed and wired train.

    Parameters
    ----------
    fit
        Which part fits into which vehicle, for the comparison of supplies; may be left out. Where it is
        still being found out, it is asked for once all else is done.
    settings
        Limits that differ from the defaults.
    circuit
        The train's circuit with the parts placed, where it is known already.
    unplaced
        (need, why) of parts without a place. What follows from that alone is no finding of its own.
    wider_windows
        What would give some of them a place.
    """
    known = () if callable(fit) else fit
    asked = CheckInput(built, known, settings, circuit_of(built, circuit), unplaced, wider_windows)
    found = {check.subject: check.run(asked) for check in CHECKS}
    if callable(fit):
        # Rows are only told: what takes long to work out is remembered from the first time.
        asked = replace(asked, fit=fit())
        found |= {check.subject: check.run(asked) for check in CHECKS if check.needs_fit}
    return told_as_measured(folded(tuple(found[check.subject] for check in CHECKS), built), built)


MOST_TRIED = 24
"""So many other candidates of choices are looked at, one at a time, where the first ones are stopped."""


def run_unplaced_checks(train: Train, settings: CheckSettings = DEFAULTS) -> tuple[Outcome, ...]:
    """Run those checks that need no places, with a candidate of every need that nothing stops.

    A need takes its first candidate; where a stop stands, the others of its choices are tried one after the
    other, and one that leaves fewer stops is taken: a plan would choose it, too.
    """
    found = _unplaced(train, settings)
    tried = 0
    for place, need in enumerate(train.needs):
        for other in need.candidates[1:]:
            if not (stops := _stops(found)) or tried == MOST_TRIED:
                return found
            tried += 1
            first = replace(need, candidates=(other, *(one for one in need.candidates if one is not other)))
            asked = replace(train, needs=(*train.needs[:place], first, *train.needs[place + 1 :]))
            if _stops(outcomes := _unplaced(asked, settings)) < stops:
                train, found = asked, outcomes
    return found


def _unplaced(train: Train, settings: CheckSettings) -> tuple[Outcome, ...]:
    circuit = TrainCircuit.of(train, {})
    asked = CheckInput(BuiltTrain(train, (), Harness(), circuit.pins.uses), (), settings, circuit)
    return tuple(check.run(asked) for check in CHECKS if not check.needs_places)


def _stops(outcomes: tuple[Outcome, ...]) -> int:
    return sum(found.severity == "stop" for outcome in outcomes for found in outcome.findings)

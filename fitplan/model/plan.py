"""The plan: everything that was found out about a train."""

from __future__ import annotations

from dataclasses import dataclass

from fitplan.model.as_built import NO_REWORK, Rework
from fitplan.model.built import BuiltTrain
from fitplan.model.buying import Article
from fitplan.model.found import SEVERITIES, Finding, Outcome
from fitplan.model.meter import NO_METER, MeterPlan
from fitplan.model.proposed import FitRow, Option, Verdict
from fitplan.model.ways_in import AssemblyStep
from fitplan.model.wider_window import WiderWindow
from fitplan.model.wired import Unreached
from fitplan.model.work import NO_WORK, WorkPlan


@dataclass(frozen=True)
class Plan:
    """Everything that was found out about a train."""

    built: BuiltTrain
    verdict: Verdict
    fit: tuple[FitRow, ...]
    assembly: tuple[AssemblyStep, ...]
    assembly_blocked: tuple[str, ...]
    """Which part blocks which when there is no order."""
    options: tuple[Option, ...]
    outcomes: tuple[Outcome, ...]
    unplaced: tuple[tuple[str, str], ...] = ()
    """(need, why) for parts without a place."""
    seed: int = 0
    proved: bool = True
    """Whether it is proved that no other choice of parts and vehicles costs less."""
    cut_short: tuple[str, ...] = ()
    """Stages that a deadline cut short; what they left open is not decided."""
    meter: MeterPlan = NO_METER
    """What is measured before and at the first switching on."""
    buying: tuple[Article, ...] = ()
    """What must be had to build it, by where one buys it."""
    wider_windows: tuple[WiderWindow, ...] = ()
    """What bricks must go round a window so that a part without a place looks out of it."""
    work: WorkPlan = NO_WORK
    """What is done at the bench, step by step."""
    rework: Rework = NO_REWORK
    """What is not as it was built, where something was."""

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings, stops first, then cautions, then notes."""
        every = [finding for outcome in self.outcomes for finding in outcome.findings]
        return tuple(sorted(every, key=lambda finding: SEVERITIES.index(finding.severity)))

    @property
    def works(self) -> bool:
        """True when all of it can be built and run: all placed, wired, assembled, and nothing a stop."""
        return (
            self.complete
            and not self.assembly_blocked
            and not self.work.blocked
            and not any(finding.severity == "stop" for finding in self.findings)
        )

    @property
    def unreached(self) -> tuple[Unreached, ...]:
        """Pins that no wire reaches though their part has a place, and nets that are not laid."""
        return self.built.unreached

    @property
    def complete(self) -> bool:
        """True when every part has a place and every net is wired."""
        return not self.unplaced and not self.built.harness.unreached

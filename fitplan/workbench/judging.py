"""Readings held against the sequence: which are wrong, which are missing, and which wires that points to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fitplan.model.meter import MeterPlan, MeterTest


@dataclass(frozen=True)
class Judged:
    """What the readings say.

    Attributes
    ----------
    wrong
        Readings outside their bounds, with what was read (an open circuit is infinite).
    missing
        Tests without a reading.
    suspects
        Wires in every continuity reading that was too high and in none that was right.
    """

    right: int
    wrong: tuple[tuple[MeterTest, float], ...]
    missing: tuple[MeterTest, ...]
    suspects: tuple[int, ...] = ()

    @property
    def passed(self) -> bool:
        """Whether every reading is there and right."""
        return not self.wrong and not self.missing


def judge(plan: MeterPlan, readings: Mapping[int, float]) -> Judged:
    """Hold readings, by the number of their test, against what they must be."""
    wrong = tuple(
        (test, readings[test.number])
        for test in plan.tests
        if test.number in readings and not test.passes(readings[test.number])
    )
    right = [test for test in plan.tests if test.number in readings and test.passes(readings[test.number])]
    missing = tuple(test for test in plan.tests if test.number not in readings)
    broken = [set(test.wires) for test, value in wrong if test.wires and value > (test.high or 0.0)]
    whole = {number for test in right for number in test.wires}
    suspects = set.intersection(*broken) - whole if broken else set()
    return Judged(len(right), wrong, missing, tuple(sorted(suspects)))

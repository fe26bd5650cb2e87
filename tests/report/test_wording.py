"""What a plan says of itself in one line."""

from __future__ import annotations

from dataclasses import replace

from fitplan.model.plan import Finding, Outcome, Plan, Severity
from fitplan.report.lists.wording import headline


def with_finding(plan: Plan, severity: Severity) -> Plan:
    """Return a plan whose only outcome has one finding of this weight."""
    finding = Finding("view", severity, "front eyes", "sees the floor", 1.0, 0.0, "mm", "raise it", "ours")
    return replace(plan, outcomes=(Outcome("view", (finding,)),))


def test_a_plan_in_order_bears_the_sign_of_its_verdict(harbour_plan: Plan) -> None:
    """With nothing to mend the headline is the verdict."""
    assert headline(with_finding(harbour_plan, "caution")) == ("fits", "fits")


def test_a_plan_that_fits_but_must_be_mended_bears_the_sign_to_stop(harbour_plan: Plan) -> None:
    """A stop finding, a part that does not go in, or one without a place takes the sign of *fits* away."""
    whole = with_finding(harbour_plan, "note")
    for plan in (
        with_finding(harbour_plan, "stop"),
        replace(whole, assembly_blocked=("a blocks b",)),
        replace(whole, unplaced=(("horn", "too tall"),)),
    ):
        assert headline(plan) == ("cannot fit", "fits, but not everything is in order")

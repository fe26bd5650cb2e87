"""What a plan says of itself in one line."""

from __future__ import annotations

from dataclasses import replace

from fitplan.model.found import Finding, Outcome, Severity
from fitplan.model.plan import Plan
from fitplan.model.verdict import grade
from fitplan.model.wired import Unreached
from fitplan.report.lists.verdict_words import summarise, verdict_words
from fitplan.report.lists.wording import headline


def with_finding(plan: Plan, severity: Severity) -> Plan:
    """Return a plan whose only outcome has one finding of this weight."""
    finding = Finding("view", severity, "front eyes", "sees the floor", 1.0, 0.0, "mm", "raise it", "ours")
    return replace(plan, outcomes=(Outcome("view", (finding,)),))


def test_a_plan_in_order_bears_the_sign_of_its_verdict(harbour_plan: Plan) -> None:
    """With nothing to mend the headline is the verdict."""
    assert headline(with_finding(harbour_plan, "caution")) == ("fits", "fits")


def test_a_plan_that_fits_but_must_be_mended_bears_the_sign_to_stop(harbour_plan: Plan) -> None:
    """A stop finding, a part that does not go in, or a net that ends nowhere is told beside *fits*."""
    whole = with_finding(harbour_plan, "note")
    lost = replace(whole.built.harness, unreached=(Unreached("beam", "beacon", "A", "walled in"),))
    for plan, words in (
        (with_finding(harbour_plan, "stop"), "fits, but front eyes: sees the floor"),
        (
            replace(whole, assembly_blocked=("a blocks b",)),
            "fits, but it cannot be assembled as it lies: a blocks b",
        ),
        (
            replace(whole, built=replace(whole.built, harness=lost)),
            "fits, but beam does not reach beacon: walled in",
        ),
        (
            replace(with_finding(harbour_plan, "stop"), verdict="fits after a rebuild"),
            "fits after a rebuild, but front eyes: sees the floor",
        ),
    ):
        assert headline(plan) == ("cannot fit", words)
        assert grade(plan) == "fits, but"
        assert not plan.works


def test_what_can_hurt_is_named_first(harbour_plan: Plan) -> None:
    """Of two stops the one about safety is in the headline, whatever their order."""
    stops = tuple(
        Outcome(
            subject, (Finding(subject, "stop", "wagon", f"{subject} is wrong", 1, 0, "mm", "mend", "ours"),)
        )
        for subject in ("view", "safety")
    )
    plan = replace(harbour_plan, outcomes=stops)
    assert verdict_words(plan) == "fits, but wagon: safety is wrong"
    assert "2 things must be mended" in summarise(plan)


def test_a_part_without_a_place_is_no_fit_and_a_deadline_is_told(harbour_plan: Plan) -> None:
    """What is left out makes *cannot fit* or *not decided*; a deadline is told where it bit, nowhere else."""
    plan = with_finding(harbour_plan, "note")
    assert "deadline" not in summarise(plan)
    out = replace(plan, unplaced=(("horn", "too tall"),), verdict="cannot fit")
    assert headline(out) == ("cannot fit", "cannot fit")
    open_ = replace(out, verdict="not decided")
    assert verdict_words(open_) == "not decided"
    late = replace(open_, cut_short=("the best choice",))
    told = "the deadline was reached before all was done (the best choice)"
    assert verdict_words(late) == f"not decided: {told}"
    assert verdict_words(replace(plan, cut_short=("the best choice",))).endswith(f"; {told}")
    assert "deadline was reached (the best choice)" in summarise(late)

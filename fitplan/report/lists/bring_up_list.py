"""The checklist of the first run: what the test program does, and what one should see."""

from __future__ import annotations

from fitplan.model.bring_up import bring_up_tests
from fitplan.model.plan import Plan
from fitplan.report.lists.plan_list import PlanList


def bring_up_list(plan: Plan) -> PlanList:
    """Return one row a test, with an empty column to write what was seen."""
    rows = []
    counts: dict[str, int] = {}
    for test in bring_up_tests(plan.built):
        counts[test.controller] = counts.get(test.controller, 0) + 1
        pins = ", ".join(use.pin for use in test.uses)
        rows.append((counts[test.controller], test.controller, test.kind, test.serves, pins, test.see, ""))
    columns = ("no.", "controller", "what", "part", "pins", "should be seen", "seen")
    note = "Numbers as the test program prints them." if rows else ""
    return PlanList("bring-up", "First run, thing by thing", columns, tuple(rows), note)

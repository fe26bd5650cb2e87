"""The example that is made from a mesh alone, planned to the end."""

from fitplan.verify import verify
from tests.conftest import Planned


def test_the_boiler_loco_is_planned_to_the_end(planned: Planned) -> None:
    """Every part lies in the round cavity, every net is wired, nothing must be mended, the check agrees."""
    plan = planned("boiler-loco")
    assert plan.complete
    assert plan.verdict == "fits"
    assert [finding.message for finding in plan.findings if finding.severity == "stop"] == []
    assert {placement.vehicle for placement in plan.built.placements} == {"loco"}
    assert verify(plan).holds

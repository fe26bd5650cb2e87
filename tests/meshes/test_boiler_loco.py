"""The example that is made from a mesh alone, planned to the end."""

from pathlib import Path

from fitplan.files.read import read_train
from fitplan.planning.run import plan_train
from fitplan.verify import verify

EXAMPLE = Path(__file__).parents[2] / "examples" / "boiler-loco" / "train.yaml"


def test_the_boiler_loco_is_planned_to_the_end():
    """Every part lies in the round cavity, every net is wired, nothing must be mended, the check agrees."""
    plan = plan_train(read_train(EXAMPLE))
    assert plan.complete
    assert plan.verdict == "fits"
    assert [finding.message for finding in plan.findings if finding.severity == "stop"] == []
    assert {placement.vehicle for placement in plan.built.placements} == {"loco"}
    assert verify(plan).holds

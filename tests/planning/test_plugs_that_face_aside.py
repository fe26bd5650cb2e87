"""What is plugged in every day under a lid, though its socket faces aside: room is kept to draw the plug."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from fitplan.files.read import read_train
from fitplan.planning.run import PlanOptions, plan_train
from fitplan.verify import verify

TRAIN = """
train: Lit coach
vehicles: [{name: coach, file: coach.yaml}]
needs:
  - {name: brain, part: controller-compact-5v}
  - {name: cells, part: pouch-103450}
  - {name: lift, part: regulator-step-up-5v}
usual nets: yes
track: {radius: 40 studs}
running: {speed: 200, hours: 1, push pull: no}
"""


def test_a_charging_lead_is_reached_under_the_roof(tmp_path: Path) -> None:
    """In an empty coach a pouch, a board and a regulator lie on the floor, with room before the lead."""
    coach = resources.files("fitplan.files") / "gallery" / "coach" / "coach.yaml"
    (tmp_path / "coach.yaml").write_text(coach.read_text(encoding="utf-8"), encoding="utf-8")
    (tmp_path / "train.yaml").write_text(TRAIN, encoding="utf-8")
    plan = plan_train(read_train(tmp_path / "train.yaml"), PlanOptions())
    assert not [found for found in plan.findings if found.severity == "stop"]
    (lead,) = [one for one in plan.built.exchanged if one.access == "charging lead"]
    assert lead.reached
    assert not lead.first
    assert verify(plan).holds

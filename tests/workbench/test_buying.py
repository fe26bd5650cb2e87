"""The list that is bought from: what joints and findings ask for is in it, and each article serves."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.buying import Article
from fitplan.model.plan import Plan
from fitplan.verify import verify
from fitplan.verify.buying import check_buying
from fitplan.verify.result import Tally
from fitplan.workbench.heat_shrink import least_size, resistor_sleeve, sleeve_for
from tests.conftest import Planned

EXAMPLES = ("harbour-line", "market-tram", "clay-run", "narrow-crane-wagon", "boiler-loco", "peat-railcar")


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_joint_and_finding_is_in_the_list_and_back(planned: Planned, name: str) -> None:
    """Both ways: each end of a wire, splice, resistor and remedy has its article; each article serves one."""
    plan = planned(name)
    built, harness = plan.built, plan.built.harness
    serves = [word for one in plan.buying for word in one.serves]
    for wire in harness.wires:
        assert f"wire {wire.number}" in serves
    for splice in harness.splices:
        assert serves.count(f"splice {splice.name}") == 1
    for found in plan.findings:
        for asked in found.add:
            assert any(one.name == asked.name and found.where in one.serves for one in plan.buying)
    cavities = {
        (end.owner, end.pin, end.vehicle)
        for wire in harness.wires
        for end in (wire.start, wire.end)
        if end.kind == "connector"
    }
    contacts = [one for one in plan.buying if "contact for" in one.name]
    assert sum(one.needed for one in contacts) == len(cavities)
    known = {placement.need for placement in built.placements}
    known |= {f"coupling {one.name}" for one in harness.crossings}
    known |= {f"wire {one.number}" for one in harness.wires} | {
        f"splice {one.name}" for one in harness.splices
    }
    known |= {found.where for found in plan.findings} | {one.vehicle for one in built.rebuilds}
    for one in plan.buying:
        assert one.serves
        for word in one.serves:
            ends = word.removesuffix(" resistor").rpartition(".")[0]
            assert word in known or ends in known or word.endswith(" joints"), word
    assert verify(plan).holds


def test_verify_misses_what_is_left_out(harbour_plan: Plan) -> None:
    """Each article of the demo left out or doubled is noticed, but for solder and pads of foam."""

    def misses(articles: tuple[Article, ...]) -> bool:
        sheet = Tally()
        check_buying(replace(harbour_plan, buying=articles), sheet)
        return bool(sheet.report().problems)

    assert not misses(harbour_plan.buying)
    for place, one in enumerate(harbour_plan.buying):
        less = harbour_plan.buying[:place] + harbour_plan.buying[place + 1 :]
        more = (*less, replace(one, needed=one.needed + 1))
        if one.name.startswith("solder wire") or (
            not one.part and "mm before shrinking, cut to 12" in one.name
        ):
            continue
        assert misses(less), one.name
        if not one.name.startswith("heat-shrink"):
            assert misses(more), one.name


def test_heat_shrink_slides_over_what_it_covers() -> None:
    """Two wires of 1.6 mm side by side are 3.2 mm: the 3.2 mm sleeve is too tight, the next one goes on."""
    assert sleeve_for((1.6, 1.6, 1.6)) == 4.8
    assert sleeve_for((1.2,)) == 1.6
    assert least_size(50.0) == 12.7
    assert resistor_sleeve(0.25) == (3.2, 25.0)

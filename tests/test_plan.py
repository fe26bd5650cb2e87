"""The whole road on the demo train, re-checked by code that knows no solver."""

from __future__ import annotations

from collections import Counter

import pytest

from fitplan.files.plan_json import plan_from_json, plan_to_json
from fitplan.model.needed import Need
from fitplan.model.plan import Plan
from fitplan.planning.run import fit_table, plan_train
from fitplan.report.lists.verdict_words import summarise
from fitplan.report.plan_folder import plan_files
from fitplan.verify import verify
from tests.conftest import Planned
from tests.packing.small_trains import block, hollow, train_of


def test_the_demo_is_planned_whole(harbour_plan: Plan) -> None:
    """Every part has a place, every net is wired, and the best choice is proved best."""
    assert harbour_plan.complete
    assert harbour_plan.verdict == "fits"
    assert "A better choice may exist" not in summarise(harbour_plan)


def test_the_demo_plan_holds_when_checked_again(harbour_plan: Plan) -> None:
    """The independent checker finds no overlap, no wire outside free space and no count that is off."""
    assert verify(harbour_plan).problems == ()


def test_the_small_board_goes_into_the_loco_and_larger_ones_do_not(harbour_plan: Plan) -> None:
    """The choice matters: one board fits the loco, one only after a rebuild, the largest never."""
    rows = {(row.part_id, row.vehicle): row for row in harbour_plan.fit if row.need == "brain"}
    assert rows["controller-compact-5v", "shunter"].verdict == "fits"
    assert rows["controller-mid-5v", "shunter"].verdict == "fits after a rebuild"
    assert rows["controller-mid-5v", "shunter"].remove == ("inner wall",)
    assert rows["controller-large-54", "shunter"].verdict == "cannot fit"
    assert rows["controller-large-54", "shunter"].missing_mm == pytest.approx(3.8)
    assert "confirmed" in rows["controller-large-54", "shunter"].proof
    assert rows["controller-large-54", "ice wagon"].verdict == "fits"
    placement = harbour_plan.built.placement("brain")
    assert placement is not None
    assert (placement.part.id, placement.vehicle) == ("controller-compact-5v", "shunter")


def test_cells_and_switch_of_the_demo_are_got_at_by_lifting_a_lid(harbour_plan: Plan) -> None:
    """What the demo exchanges often comes out with nothing else, through lids that lift every day."""
    often = {entry.need: entry for entry in harbour_plan.built.exchanged if entry.often}
    assert set(often) >= {"cells", "switch"}
    for entry in often.values():
        assert entry.within(harbour_plan.built.train.need(entry.need))
    for entry in (often["cells"], often["switch"]):
        assert (entry.parts_out, entry.bricks, entry.openings) == ((), (), ("wagon roof",))


def test_what_crosses_a_coupling_is_counted(harbour_plan: Plan) -> None:
    """The conductors of each crossing are those of the nets that have pins on both sides."""
    built = harbour_plan.built
    order = {entry.name: i for i, entry in enumerate(built.train.vehicles)}
    homes = {place.need: order[place.vehicle] for place in built.placements}
    for crossing in built.harness.crossings:
        here = order[crossing.ahead]
        expected = sum(
            min(places) <= here < max(places)
            for net in built.train.nets
            if (places := [homes[ref.owner] for ref in net.joins if ref.owner in homes])
        )
        assert crossing.conductors == expected


def test_no_controller_pin_serves_two_nets(harbour_plan: Plan) -> None:
    """The pin map uses each pin once; the demo has no bus."""
    uses = Counter((use.controller, use.pin) for use in harbour_plan.built.pin_map if use.net)
    assert max(uses.values()) == 1


def test_cut_lengths_cover_the_way_and_every_allowance(harbour_plan: Plan) -> None:
    """Cut length is bare way plus allowances, rounded up to the next 5 mm and no further."""
    for wire in harbour_plan.built.harness.wires:
        total = wire.bare_mm + sum(amount for _, amount in wire.allowances)
        assert total <= wire.cut_mm + 0.1
        assert wire.cut_mm < total + 5.1


def test_the_plan_survives_its_file(harbour_plan: Plan) -> None:
    """Written as JSON and read back, the plan gives the same bytes again."""
    written = plan_to_json(harbour_plan)
    assert plan_to_json(plan_from_json(written)) == written


@pytest.mark.parametrize("name", ["market-tram", "clay-run"])
def test_other_examples_are_planned_whole(name: str, planned: Planned) -> None:
    """The second example plans and holds."""
    plan = planned(name)
    assert plan.complete
    assert verify(plan).problems == ()


def test_the_train_that_cannot_work_says_why(planned: Planned) -> None:
    """The narrow wagon's plan leaves a part out and names the missing millimetres."""
    plan = planned("narrow-crane-wagon")
    assert not plan.complete
    assert plan.verdict == "cannot fit"
    assert any("mm" in why for _, why in plan.unplaced)
    assert summarise(plan).startswith("Not everything fits")


def test_plan_and_fit_bear_the_same_verdict_where_nothing_is_proved() -> None:
    """A part of 16.1 mm in a slot of two studs: between the bricks' 16.0 and 16.2 mm nobody can say."""
    need = Need("odd", (block("odd", (20.0, 16.1, 8.0)),))
    train = train_of((hollow("slot", 10, 4, 5, kind="loco"),), (need,))
    (row,) = fit_table(train)
    plan = plan_train(train)
    assert row.verdict == "not decided"
    assert plan.verdict == "not decided"
    assert summarise(plan).startswith("Not decided")
    assert "0.1 mm of width are missing" in summarise(plan)


def test_what_failed_is_not_handed_on(planned: Planned) -> None:
    """Of parts without a place there is no wire, no pin and no finding but the one that tells it."""
    plan = planned("narrow-crane-wagon")
    lost = {need for need, _ in plan.unplaced}
    assert lost == {"brain", "eyes"}
    placed = {place.need for place in plan.built.placements}
    for wire in plan.built.harness.wires:
        assert {wire.start.owner, wire.end.owner} <= placed | {one.name for one in plan.built.harness.splices}
    assert not [use for use in plan.built.pin_map if use.controller in lost]
    assert plan.unreached == ()
    named = [finding.where.partition(".")[0] for finding in plan.findings]
    assert sorted(name for name in named if name in lost) == ["brain", "eyes"]
    assert "train_pins.h" not in plan_files(plan)

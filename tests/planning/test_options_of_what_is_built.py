"""Options of a train that is built: how far parts stand down their lists is told by the file, held or not."""

from __future__ import annotations

from dataclasses import replace

from fitplan.model.as_built import AsBuilt, BuiltPart
from fitplan.model.needed import Choice, Need
from fitplan.planning.run import plan_train
from fitplan.verify import verify
from tests.packing.small_trains import block, hollow, train_of


def test_a_part_that_is_built_stands_where_its_list_has_it() -> None:
    """The third of three that might serve is built: the plan keeps it, and the second check agrees.

    Before, it was held as the only one of its list, and the plan was refused.
    """
    parts = tuple(
        block(f"board{letter}", (20.0, 16.0 + 2 * number, 10.0)) for number, letter in enumerate("abc")
    )
    needs = (
        Need("brain", parts, choice=Choice("controller")),
        Need("other", (block("other", (10.0, 10.0, 8.0)),)),
    )
    train = train_of((hollow("van", 14, 6, 8),), needs)
    train = replace(train, catalogue={part.id: part for need in needs for part in need.candidates})
    plan = plan_train(train)
    assert [option.later_in_list for option in plan.options if option.chosen] == [0]
    there = BuiltPart("brain", "boardc", "van", "+x+y+z", (40.0, 12.0, 19.2))
    kept = plan_train(replace(train, as_built=AsBuilt(parts=(there,))))
    assert verify(kept).problems == ()
    placement = kept.built.placement("brain")
    assert placement is not None
    assert placement.part.id == "boardc"
    (chosen,) = [option for option in kept.options if option.chosen]
    assert chosen.later_in_list == 2

"""What is bought for a change of what is built: nothing that stands, and all that is new."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.as_built import AsBuilt
from fitplan.model.buying import Article
from fitplan.model.plan import Plan
from fitplan.verify.buying import check_buying
from fitplan.verify.result import Tally
from fitplan.workbench.as_built import as_built_of, rework_of
from fitplan.workbench.buying import buying_list
from fitplan.workbench.standing import standing_train
from tests.conftest import Planned

EXAMPLES = ("harbour-line", "market-tram", "clay-run")


def found_built(plan: Plan, there: AsBuilt) -> Plan:
    """Return the plan as one that finds this built."""
    built = replace(plan.built, train=replace(plan.built.train, as_built=there))
    return replace(plan, built=built, rework=rework_of(built), buying=buying_list(built, plan.outcomes))


def held(plan: Plan) -> bool:
    sheet = Tally()
    check_buying(plan, sheet)
    return not sheet.report().problems


def bought(articles: tuple[Article, ...]) -> dict[str, float]:
    """Return what is bought by name, but what findings ask for, what comes out, and connector pairs."""
    return {
        one.name: one.buy
        for one in articles
        if one.shop not in ("findings ask for", "comes out") and one.unit != "pair" and one.buy > 1e-6
    }


@pytest.mark.parametrize("name", EXAMPLES)
def test_of_a_train_that_is_built_nothing_is_bought(planned: Planned, name: str) -> None:
    """Only a connector pair, of which it is not written down which it is, stands with a note."""
    new = planned(name)
    plan = found_built(new, as_built_of(new))
    assert bought(plan.buying) == {}
    pairs = [one for one in plan.buying if one.unit == "pair"]
    assert all("one is built in" in one.note for one in pairs)
    assert held(plan)
    assert standing_train(new.built) is None


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_wire_that_is_not_built_is_bought_and_no_other(planned: Planned, name: str) -> None:
    """Of wire just as much as its cut length and a tenth; of parts none."""
    new = planned(name)
    whole = as_built_of(new)
    for wire in new.built.harness.wires:
        if wire.lead is not None or any(end.kind != "pin" for end in (wire.start, wire.end)):
            continue
        there = replace(whole, wires=tuple(one for one in whole.wires if one.number != wire.number))
        plan = found_built(new, there)
        found = bought(plan.buying)
        spool = f"stranded wire, AWG {wire.awg}, {wire.colour}"
        assert {one for one in found if one.startswith("stranded wire")} <= {spool}
        assert found.get(spool, 0.0) <= wire.cut_mm / 1000 * 1.1 + 1e-6
        assert not [one for one in plan.buying if one.part and one.unit != "pair" and one.buy > 1e-6]
        assert held(plan)


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_part_that_is_not_built_is_bought_alone(planned: Planned, name: str) -> None:
    """Each part in turn; the others stand."""
    new = planned(name)
    whole = as_built_of(new)
    for placement in new.built.placements:
        there = replace(whole, parts=tuple(one for one in whole.parts if one.need != placement.need))
        plan = found_built(new, there)
        parts = {one.part: one.buy for one in plan.buying if one.part and one.unit != "pair" and one.buy}
        assert parts == {placement.part.id: 1.0}
        assert held(plan)


def test_more_than_is_built_in_is_noticed(planned: Planned) -> None:
    """Each article that is told to be there wholly, with one of its kind missing."""
    new = planned("market-tram")
    whole = as_built_of(new)
    first = whole.parts[0]
    plan = found_built(new, replace(whole, parts=whole.parts[1:]))
    told = tuple(replace(one, owned=one.needed) if one.part == first.part else one for one in plan.buying)
    assert held(plan)
    assert not held(replace(plan, buying=told))
    sleeve = next(one for one in plan.buying if one.name.startswith("heat-shrink"))
    more = tuple(
        replace(one, owned=one.needed + 1, spare=1.0) if one is sleeve else one for one in plan.buying
    )
    assert not held(replace(plan, buying=more))
    nothing = tuple(replace(one, owned=one.needed) if one.name == sleeve.name else one for one in new.buying)
    assert not held(replace(new, buying=nothing))

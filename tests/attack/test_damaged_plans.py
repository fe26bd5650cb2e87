"""Verify notices damages to plans; what it cannot notice stands among what it takes on trust."""

from __future__ import annotations

import json

import pytest

from fitplan.files.find import find_train
from fitplan.files.plan_json import plan_from_json, plan_to_json
from fitplan.files.read import read_train
from fitplan.model.plan import Plan
from fitplan.model.train import Train
from fitplan.recheck import recheck
from tests.attack.damage_table import noticed
from tests.attack.damaged_plans import DAMAGES, Json
from tests.attack.leaves import TRUSTED, changed, changes, excused, noticed_by
from tests.conftest import Planned

SAMPLE = DAMAGES[::3]
"""Every third damage: a check takes a second or more; the benchmark tries them all on every example."""


@pytest.fixture(scope="module")
def crane_train() -> Train:
    return read_train(find_train("narrow-crane-wagon"))


@pytest.fixture(scope="module")
def crane_plan(planned: Planned) -> Plan:
    """A plan in which two parts have no place; it is small and quick to check."""
    return planned("narrow-crane-wagon")


@pytest.fixture(scope="module")
def coupled_train() -> Train:
    return read_train(find_train("clay-run"))


@pytest.fixture(scope="module")
def coupled_plan(planned: Planned) -> Plan:
    """A plan of two vehicles with wires over their coupling."""
    return planned("clay-run")


@pytest.fixture(scope="module")
def documents(crane_plan: Plan, coupled_plan: Plan) -> dict[str, Json]:
    """The written plans: a small one in which something is left out, and one of two vehicles."""
    return {
        "narrow-crane-wagon": json.loads(plan_to_json(crane_plan)),
        "clay-run": json.loads(plan_to_json(coupled_plan)),
    }


def test_there_are_damages_of_every_kind() -> None:
    """At least 156, no name twice."""
    names = [(damage.kind, damage.name) for damage in DAMAGES]
    assert len(names) >= 156
    assert len(set(names)) == len(names)


def test_untouched_plans_hold(
    crane_plan: Plan, coupled_plan: Plan, crane_train: Train, coupled_train: Train
) -> None:
    """No false alarm, in memory and as written, with checks and files at hand."""
    for plan, train in ((crane_plan, crane_train), (coupled_plan, coupled_train)):
        assert recheck(plan, train).problems == ()
        assert recheck(plan_from_json(plan_to_json(plan)), train).problems == ()


@pytest.mark.parametrize("part", range(4))
def test_damages_to_a_small_plan_are_noticed(
    documents: dict[str, Json], crane_train: Train, part: int
) -> None:
    """Every damage that finds something to change is noticed, but for those marked as taken on trust."""
    results = list(noticed(documents["narrow-crane-wagon"], crane_train, SAMPLE[part::4]))
    assert len(results) > 10
    assert [r.damage.name for r in results if not r.by and not r.damage.trusted] == []


def test_damages_to_harness_and_couplings_are_noticed(
    documents: dict[str, Json], coupled_train: Train
) -> None:
    """Those of couplings, colours and the pin map, of which the small plan has none."""
    kinds = ("coupling", "colour", "pin map")
    results = list(noticed(documents["clay-run"], coupled_train, [d for d in SAMPLE if d.kind in kinds]))
    assert len(results) > 10
    assert [r.damage.name for r in results if not r.by and not r.damage.trusted] == []


def test_what_cannot_be_noticed_is_named(documents: dict[str, Json]) -> None:
    """A plan whose unnoticed damage would pass says what it took on trust."""
    trusted = [damage for damage in SAMPLE if damage.trusted]
    for result in noticed(documents["narrow-crane-wagon"], None, trusted):
        assert result.by or result.trusted, result.damage.name


def test_every_leaf_is_noticed_or_taken_on_trust(documents: dict[str, Json], crane_train: Train) -> None:
    """Of leaves drawn all over the small plan each is noticed when it changes, or its name is on the list."""
    document = documents["narrow-crane-wagon"]
    wanted = (
        "plan.assembly",
        "plan.built.harness",
        "plan.built.pl",
        "plan.built.exch",
        "plan.options",
        "plan.fit",
    )
    drawn = [one for one in changes(document, each=1, seed=3) if one.pattern.startswith(wanted)]
    assert len(drawn) > 100
    missed = [
        f"{one.where}: {one.what}"
        for one in drawn[::6]
        if not noticed_by(changed(document, one), crane_train) and not excused(one.pattern)
    ]
    assert missed == []


def test_what_leaves_take_on_trust_is_told(harbour_plan: Plan) -> None:
    """Each name on that list is one that the checker gives for some plan of the examples."""
    told = {entry.what for entry in recheck(harbour_plan).trusted}
    assert "wire and balance of options" in told  # of both figures changed at once, score and all
    # Of plans with a rebuild, or with parts left out.
    told |= {"bounds of rebuilds", "reasons for parts left out", "reasons of what no wire reaches"}
    assert set(TRUSTED.values()) <= told

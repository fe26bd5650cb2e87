"""The order of work of a change: what stands is marked, and of the other steps only what is new is told."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.as_built import AsBuilt, Standing
from fitplan.model.plan import Plan
from fitplan.report.lists.build_sequence import BuildStep, build_sequence
from fitplan.report.lists.order_words import order_words
from fitplan.report.lists.standing import AS_BUILT, standing_of
from fitplan.workbench.as_built import as_built_of, rework_of
from tests.report.sample import sample_plan

EACH_TIME = {"open", "take out", "measure", "couple", "close", "run"}


def changed(there: AsBuilt) -> Plan:
    """Return the sample plan as one that finds this built."""
    plan = sample_plan()
    built = replace(plan.built, train=replace(plan.built.train, as_built=there))
    return replace(plan, built=built, rework=rework_of(built))


def steps_of(plan: Plan) -> dict[int, BuildStep]:
    return {step.number: step for step in build_sequence(plan)}


def test_of_a_new_train_nothing_stands() -> None:
    """Every step is to do, and nothing is said of what is built."""
    plan = sample_plan()
    assert not any(step.stands for step in build_sequence(plan))
    assert "as built" not in order_words(plan)
    assert standing_of(plan) == Standing()


def test_of_a_train_that_is_built_all_stands_but_what_is_done_each_time() -> None:
    """With everything built only lids, readings and the first run are left."""
    plan = changed(as_built_of(sample_plan()))
    assert plan.rework.changes == ()
    for step in build_sequence(plan):
        assert step.stands is (step.act not in EACH_TIME), step
        assert step.words.startswith(AS_BUILT) is step.stands
    assert "First undo" not in order_words(plan)
    assert "what stands is marked" in order_words(plan)


@pytest.mark.parametrize(
    "number", [wire.number for wire in sample_plan().built.harness.wires if not wire.inside]
)
def test_a_wire_that_is_new_is_told_alone(number: int) -> None:
    """In its steps, and in no other, it stands to be done; the wires beside it are told as built."""
    whole = as_built_of(sample_plan())
    plan = changed(replace(whole, wires=tuple(one for one in whole.wires if one.number != number)))
    before = {step.number: step for step in sample_plan().work.steps}
    for step in build_sequence(plan):
        work = before[step.number]
        worked = {*work.wires, *(wire for wire, _ in work.ends)}
        if step.act in EACH_TIME | {"place", "fasten"}:
            continue
        touched = number in worked or (step.act == "splice" and not step.stands)
        assert step.stands is not touched, step
        if number in worked and step.act not in ("splice", "thread") and len(worked) > 1:
            assert "as built)" in step.words
    new = {one.name for one in plan.rework.changes if one.change == "new"}
    assert str(number) in new


def test_a_part_that_is_new_is_placed_and_joined() -> None:
    """All wires at it are joined, whether they are built or not: they hung on nothing."""
    whole = as_built_of(sample_plan())
    need = next(step.parts[0] for step in sample_plan().work.steps if step.act == "join")
    plan = changed(replace(whole, parts=tuple(one for one in whole.parts if one.need != need)))
    before = {step.number: step for step in sample_plan().work.steps}
    for number, step in steps_of(plan).items():
        if step.act in ("join", "place", "fasten") and need in before[number].parts:
            assert not step.stands
            assert "as built" not in step.words


def test_what_must_go_comes_first() -> None:
    """A wire of a net that is gone is undone before the first step, as the sentence over the steps says."""
    whole = as_built_of(sample_plan())
    lost = replace(whole.wires[0], number=whole.highest + 1, net="gone")
    plan = changed(replace(whole, wires=(*whole.wires, lost)))
    assert plan.rework.undone == 1
    assert "First undo what the list of changes names (1 thing)." in order_words(plan)

"""The second check, and wires in a hole that is closed all round: right orders hold, lies are told."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Vec
from fitplan.model.vehicle import BodySolid
from fitplan.model.work import WorkStep
from fitplan.verify.closed_round import Cuts, once
from fitplan.verify.result import Problem
from fitplan.verify.scene import Site, sites_of
from fitplan.verify.work import check_work
from fitplan.verify.work_ways import JoinedWay, WayTip, runs_of
from tests.workbench.led_train import (
    DOOR,
    HOLE,
    planned_with,
    planned_with_a_brick_taken_out,
    planned_with_an_end_opened,
    two_rooms,
)

from .lies import problems

Steps = tuple[WorkStep, ...]


@pytest.fixture(scope="module")
def narrow() -> Plan:
    """The plan in which no block passes the hole."""
    return planned_with(HOLE)


@pytest.fixture(scope="module")
def wide() -> Plan:
    """The plan in which one is led through."""
    return planned_with(DOOR)


def told(plan: Plan, steps: Steps) -> tuple[Problem, ...]:
    numbered = tuple(replace(step, number=number) for number, step in enumerate(steps, 1))
    joined = [s for s in numbered if s.act == "join" and s.spot == "inside" and s.joint == "solder"]
    iron = sum(len(step.ends) for step in joined)
    made = replace(plan, work=replace(plan.work, steps=numbered, iron_inside=iron))
    return problems(check_work, made, sites_of(made.built))


def words(plan: Plan, steps: Steps) -> str:
    return "; ".join(problem.message for problem in told(plan, steps))


def on_the_table(steps: Steps) -> Steps:
    """Both ends of all wires joined on the table, as if the hole were open, and none led."""
    kept = [step for step in steps if step.hole is None and not (step.act == "join" and step.spot != "table")]
    late = [step for step in steps if step.act == "join" and step.spot != "table"]
    first = next(place for place, step in enumerate(kept) if step.spot != "table")
    made = [replace(s, spot="table", vehicle="", opening="", blind=False) for s in late]
    return (*kept[:first], *made, *kept[first:])


def without_leading(steps: Steps) -> Steps:
    return tuple(step for step in steps if step.hole is None)


def led_too_late(steps: Steps) -> Steps:
    led = [step for step in steps if step.hole is not None]
    rest = list(without_leading(steps))
    place = max(place for place, step in enumerate(rest) if step.act == "join") + 1
    return (*rest[:place], *led, *rest[place:])


def elsewhere(steps: Steps) -> Steps:
    box = Box((60.0, 12.0, 44.0), (68.0, 16.0, 49.6))
    return tuple(replace(s, hole=replace(s.hole, box=box)) if s.hole is not None else s for s in steps)


def test_orders_that_lead_wires_and_parts_hold(narrow: Plan, wide: Plan) -> None:
    """As they were planned."""
    assert any(step.hole is not None and not step.parts for step in narrow.work.steps)
    assert any(step.hole is not None and step.parts for step in wide.work.steps)
    assert told(narrow, narrow.work.steps) == ()
    assert told(wide, wide.work.steps) == ()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (on_the_table, "on the table, and they pass a hole that is closed round"),
        (without_leading, "was not led through a hole 5.6 mm wide"),
        (led_too_late, "hangs on something that does not go through the hole"),
        (elsewhere, "leads through a hole where the body is"),
    ],
)
def test_each_lie_about_a_hole_is_told(narrow: Plan, change: Callable[[Steps], Steps], said: str) -> None:
    """Solder both ends before threading; lead nothing; lead what hangs fast; lead through brick."""
    assert said in words(narrow, change(narrow.work.steps))


def test_a_part_is_led_only_where_it_passes(narrow: Plan, wide: Plan) -> None:
    """A block that is said to be led through a hole of 5.6 mm; one that is led once it is in; none led."""
    steps = wide.work.steps
    led = next(step for step in steps if step.hole is not None)
    assert "hangs" in words(wide, without_leading(steps))
    place = next(n for n, s in enumerate(steps) if s.act == "place" and s.parts == led.parts)
    late = [step for step in steps if step is not led]
    late.insert(place, led)
    assert "hangs on no wire beside the vehicle" in words(wide, tuple(late))
    tabled = on_the_table(narrow.work.steps)
    entry = next(n for n, step in enumerate(tabled) if step.act == "place")
    (part,) = tabled[entry].parts
    ends = tuple(end for s in tabled if s.act == "join" and s.parts == (part,) for end in s.ends)
    hole = next(step.hole for step in narrow.work.steps if step.hole is not None)
    numbers = tuple(dict.fromkeys(number for number, _ in ends))
    name = tabled[entry].vehicle
    lie = WorkStep(0, "thread", "inside", name, (part,), numbers, ends, hole=hole, opening="roof")
    assert "they pass a hole that is closed round" in words(narrow, (*tabled[:entry], lie, *tabled[entry:]))


def test_a_lid_that_wires_come_in_by_is_off_when_they_are_joined() -> None:
    """Two rooms with a lid each: both are off when wires are led from one to the other, each once."""
    plan = planned_with(HOLE, lids=2)
    steps = plan.work.steps
    assert told(plan, steps) == ()
    opened = [step for step in steps if step.act == "open"]
    assert sorted(step.opening for step in opened) == ["front roof", "rear roof"]
    closed = [step.opening for step in steps if step.act == "close"]
    assert sorted(closed) == ["front roof", "rear roof"]
    led = [step for step in steps if step.hole is not None]
    assert all(step.number < led[0].number for step in opened)
    first = opened[0]
    late = [step for step in steps if step is not first]
    place = next(n for n, step in enumerate(late) if step.act == "measure")
    assert "is on, by which" in words(plan, (*late[:place], first, *late[place:]))


def test_holes_that_a_plan_opens_are_holes() -> None:
    """A brick that is taken out of the wall inside, and one in the end wall: wires are led, or it is told."""
    out = planned_with_a_brick_taken_out()
    assert told(out, out.work.steps) == ()
    assert "on the table, and they pass a hole that is closed round" in words(
        out, on_the_table(out.work.steps)
    )
    end = planned_with_an_end_opened()
    assert told(end, end.work.steps) == ()
    assert "was not led through a hole 5.6 mm wide" in words(end, without_leading(end.work.steps))


def test_each_of_two_holes_in_a_row_counts() -> None:
    """Of two walls with a closed room between them, leading through the first hole alone is not enough."""
    train = planned_with(HOLE).built.train
    second = HOLE.with_span(0, 84.0, 92.0)
    body = two_rooms(HOLE)
    wall = BodySolid(Box((84.0, 8.0, 19.2), (92.0, 40.0, 57.6)), "fixed")
    lid = replace(body.openings[0], box=body.openings[0].box.with_span(0, 8.0, 60.0))
    body = replace(body, body=(*body.body, wall, BodySolid(second, "free")), openings=(lid,))
    cuts = Cuts(Site(replace(train.vehicles[0], vehicle=body), frozenset(), ()).opened_by(("roof",)))
    way: tuple[Vec, ...] = ((30, 23.6, 80), (30, 23.6, 46.8), (110, 23.6, 46.8))
    run = [one for one in once(list(cuts.passed(way))) if one.room[0] == 0]
    parts = list(cuts.narrow(run, 6.4))
    assert [width for width, _ in parts] == pytest.approx([5.6, 5.6])
    for hole, (_, part) in zip((HOLE, second), parts, strict=True):
        assert all(hole.low[0] < one.at[0] < hole.high[0] for one in part)


def test_a_hole_is_one_also_where_its_wire_turns_back_to_the_rear() -> None:
    """What is passed is told in that order on every piece of a way: with a corner inside it is one run."""
    train = planned_with(HOLE).built.train
    body = two_rooms(HOLE)
    step = (BodySolid(HOLE.with_span(0, 62.0, 64.0).with_span(2, 44.4, 49.6), "free"),)
    solid = BodySolid(HOLE.with_span(0, 62.0, 64.0), "fixed")
    body = replace(body, body=(*body.body, solid, *step))
    cuts = Cuts(Site(replace(train.vehicles[0], vehicle=body), frozenset(), ()).opened_by(("roof",)))
    way: tuple[Vec, ...] = ((90, 23, 80), (90, 23, 46), (63.5, 23.5, 46.5), (30, 23, 46), (30, 23, 80))
    numbers = []
    for points in (way, way[::-1]):
        passed = [one for one in cuts.passed(points) if one.room[0] == 0]
        assert [one.along for one in passed] == sorted(one.along for one in passed)
        path = JoinedWay((WayTip((1, "start"), "", "", way[0]),) * 2, ((1, points),), (), 0)
        ((_, run),) = runs_of(path, once(passed))
        assert len(list(cuts.narrow(run, 6.4))) == 1
        numbers.append([one.room for one in run])
    assert numbers[0] == numbers[1][::-1]
    assert len(numbers[0]) > 2


def test_what_is_said_to_be_blocked_is_noted_and_must_be_so(narrow: Plan) -> None:
    """A plan that says of a wire that no order leads it is not refused for it, and may not say so in vain."""
    label = next(wire.label for wire in narrow.built.harness.wires if wire.number == 1)
    other = next(wire.label for wire in narrow.built.harness.wires if wire.number == 2)
    said = tuple(f"{name} in loco is not led through the hole" for name in (label, other))
    plan = replace(narrow, work=replace(narrow.work, blocked=said))
    assert "all wires that this names are led" in words(plan, plan.work.steps)
    assert "closed round" not in words(plan, on_the_table(plan.work.steps))


@pytest.mark.parametrize(
    ("edges", "kept_out"), [(((5.0, 5.5), (8.0, 8.0)), False), (((5.0, 6.0),) * 2, True)]
)
def test_a_lead_of_which_no_plug_passes_is_not_led(
    narrow: Plan, monkeypatch: pytest.MonkeyPatch, edges: tuple[tuple[float, float], ...], kept_out: bool
) -> None:
    """The hole is 5.6 mm wide and high: one plug that goes through is enough."""
    monkeypatch.setattr("fitplan.verify.work_holes.plugs_on", lambda built, wire: edges)
    said = words(narrow, narrow.work.steps)
    assert ("no plug of wire 1 passes a hole 5.6 mm wide" in said) == kept_out
    label = next(wire.label for wire in narrow.built.harness.wires if wire.number == 1)
    text = f"{label} in loco is not led through the hole: neither of its plugs passes"
    plan = replace(narrow, work=replace(narrow.work, blocked=(text,)))
    assert ("all wires that this names are led" in words(plan, plan.work.steps)) != kept_out


def test_rooms_of_a_cut_by_hand() -> None:
    """A slit of 5.6 mm over the hole lets it out at the open top; its width is that of the largest square."""
    train = planned_with(HOLE).built.train
    way: tuple[Vec, ...] = ((30, 23.6, 80), (30, 23.6, 46.8), (90, 23.6, 46.8), (90, 23.6, 80))
    for top, closed in ((HOLE.high[2], True), (57.6, False)):
        body = two_rooms(Box(HOLE.low, (HOLE.high[0], HOLE.high[1], top)))
        cuts = Cuts(Site(replace(train.vehicles[0], vehicle=body), frozenset(), ()).opened_by(("roof",)))
        passed = [one for one in once(list(cuts.passed(way))) if one.room[0] == 0]
        assert bool(passed) == closed
        for one in passed:
            assert cuts.width(one.room) == pytest.approx(5.6)
            assert cuts.lets_through(one.room, (5.5, 5.5))
            assert not cuts.lets_through(one.room, (5.5, 5.7))
    twice = replace(body, body=(*body.body, BodySolid(Box((60, 8, 44), (68, 40, 57.6)), "fixed")))
    shut = Cuts(Site(replace(train.vehicles[0], vehicle=twice), frozenset(), ()).opened_by(("roof",)))
    assert shut.same(((30, 23.6, 46), (30, 23.6, 80)), ((30, 23.6, 46), (34, 23.6, 60), (30, 23.6, 80)))

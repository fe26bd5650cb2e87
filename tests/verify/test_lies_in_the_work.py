"""The order of work of the small plan, drawn up by hand: it holds, and one lie at a time is told."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from fitplan.model.plan import Plan
from fitplan.model.solids import Vec
from fitplan.model.work import Lifted, WorkPlan, WorkStep
from fitplan.verify.result import Problem
from fitplan.verify.scene import sites_of
from fitplan.verify.work import check_work
from fitplan.verify.work_shape import said_amiss

from .lies import notes, problems, wire_with
from .two_vehicles import LAMP_GND, LAMP_IN, STEPS, plan, straight_down

FALL = 20.0
LEAVES: Vec = (70.0, 24.0, 22.0)
"""Where the wires of the lamp are lifted off their way: 9.6 mm before the port that holds them."""


def hanging(number: int) -> Lifted:
    return Lifted((number, "end"), (number,), "front hole", (LEAVES,))


ORDER = (
    WorkStep(1, "cut", "table", wires=(1,)),
    WorkStep(2, "cut", "table", wires=(2, 3, 4)),
    WorkStep(3, "splice", "table", wires=(2, 3, 4), ends=((2, "end"), (3, "start"), (4, "end")), splice="S1"),
    WorkStep(4, "join", "table", "", ("board",), (1, 2), ((1, "start"), (2, "start"))),
    WorkStep(5, "open", "inside", "loco", opening="roof"),
    WorkStep(
        6, "thread", "inside", "loco", (), (1, 3), ((1, "end"), (3, "end")), port="rear hole", opening="roof"
    ),
    WorkStep(7, "place", "inside", "loco", ("board",), opening="roof"),
    WorkStep(8, "place", "inside", "loco", ("cell",), opening="roof"),
    WorkStep(9, "join", "inside", "loco", ("cell",), (4,), ((4, "start"),), opening="roof", blind=True),
    WorkStep(10, "place", "inside", "loco", ("emitter",), opening="roof"),
    WorkStep(11, "open", "inside", "wagon", opening="roof"),
    WorkStep(
        12, "thread", "inside", "wagon", (), (1, 3), ((1, "end"), (3, "end")), port="front hole",
        opening="roof",
    ),
    WorkStep(13, "join", "beside", "wagon", ("lamp",), (1, 3), ((1, "end"), (3, "end"))),
    WorkStep(14, "place", "inside", "wagon", ("lamp",), opening="roof", lifted=(hanging(1), hanging(3))),
    WorkStep(15, "place", "inside", "wagon", ("eye",), opening="roof"),
    WorkStep(16, "close", "inside", "loco", opening="roof"),
    WorkStep(17, "close", "inside", "wagon", opening="roof"),
    WorkStep(18, "run", "beside"),
)  # fmt: skip


def needed(at: Vec) -> float:
    """Return how much wire hangs while the lamp is outside: the piece that lies, then straight up."""
    x, y, z = at
    return 9.6 + math.dist(LEAVES, (x, y, z + FALL))


def worked(steps: tuple[WorkStep, ...] = ORDER, **more: Any) -> Plan:
    """The plan with this order, its wires to the lamp just long enough to hang as it goes in."""
    old = plan()
    assembly = (*STEPS[:3], straight_down(4, "lamp", "wagon", FALL), STEPS[4])
    made = replace(old, assembly=assembly, work=WorkPlan(steps, **{"undone": 0, "iron_inside": 1, **more}))
    for number, at in ((1, LAMP_IN), (3, LAMP_GND)):
        made = wire_with(made, number, cut_mm=just(made, number, at))
    return made


def just(made: Plan, number: int, at: Vec) -> float:
    wire = next(one for one in made.built.harness.wires if one.number == number)
    points = (at, *wire.legs[-1].points[-2::-1])
    own = sum(math.dist(a, b) for a, b in pairwise(points))
    stays = ("stripping", "splice overlap", "slack at couplings")
    held = sum(mm for what, mm in wire.allowances if what in stays)
    return needed(at) - own + wire.bare_mm + held


def told(made: Plan) -> tuple[Problem, ...]:
    return problems(check_work, made, sites_of(made.built))


def test_an_order_drawn_up_by_hand_holds() -> None:
    """Every step follows from those before; what is felt for is told, and what no search looked at."""
    made = worked()
    assert told(made) == ()
    (note,) = notes(check_work, made, sites_of(made.built))
    assert (note.where, note.message) == ("step 9", "cell.minus is felt for")


def changed(step: int, /, **values: Any) -> Callable[[], tuple[WorkStep, ...]]:
    return lambda: tuple(replace(s, **values) if s.number == step else s for s in ORDER)


def without(*numbers: int) -> Callable[[], tuple[WorkStep, ...]]:
    left = [step for step in ORDER if step.number not in numbers]
    return lambda: tuple(replace(step, number=place) for place, step in enumerate(left, 1))


def moved(number: int, behind: int) -> Callable[[], tuple[WorkStep, ...]]:
    """The order with one step put behind another."""
    one = next(step for step in ORDER if step.number == number)
    rest = [step for step in ORDER if step.number != number]
    at = next(place for place, step in enumerate(rest) if step.number == behind) + 1
    rest.insert(at, one)
    return lambda: tuple(replace(step, number=place) for place, step in enumerate(rest, 1))


def twice(number: int) -> Callable[[], tuple[WorkStep, ...]]:
    one = next(step for step in ORDER if step.number == number)
    rest = [*ORDER[:number], one, *ORDER[number:]]
    return lambda: tuple(replace(step, number=place) for place, step in enumerate(rest, 1))


@pytest.mark.parametrize(
    ("order", "where", "words"),
    [
        (changed(4, number=5), "order", "is not numbered through"),
        (moved(2, 5), "order", "goes back to the table"),
        (moved(18, 15), "step 17", "comes after the first run"),
        (changed(1, wires=(7,)), "step 1", "works at a wire that there is not"),
        (changed(5, vehicle="van"), "step 5", "is in van, which is no vehicle"),
        (moved(2, 3), "step 2", "works at a wire that is not cut yet"),
        (changed(4, wires=(1,)), "step 4", "names other wires than it works at"),
        (changed(1, wires=(1, 2)), "step 1", "cuts wires of several kinds"),
        (changed(1, spot="beside", vehicle="loco"), "step 1", "or not on the table"),
        (twice(1), "step 2", "cuts a wire again"),
        (changed(3, wires=(2, 3), ends=((2, "end"), (3, "start"))), "step 3", "splice S1 joins other ends"),
        (changed(3, spot="beside", vehicle="loco"), "step 3", "splice S1 joins other ends"),
        (changed(3, spot="inside", vehicle="wagon", opening="roof"), "step 3", "splice S1 is not in wagon"),
        (twice(3), "step 4", "joins an end that is joined already"),
        (twice(3), "order", "makes, or makes twice, some splices"),
        (changed(4, parts=("lamp",)), "step 4", "wire 1 does not end at lamp"),
        (changed(4, joint="plug"), "step 4", "fastens wire 1 otherwise than its pin says"),
        (moved(4, 7), "step 7", "joins board table, where it is not"),
        (moved(9, 7), "step 8", "joins cell inside, where it is not"),
        (changed(9, blind=False), "step 9", "no tool gets to cell.minus"),
        (changed(9, opening=""), "step 9", "felt"),
        (changed(5, opening="door"), "step 5", "opens 'door', which is no opening"),
        (changed(6, port="front hole"), "step 6", "wire 1 does not go through front hole"),
        (changed(6, ends=((1, "start"), (3, "end"))), "step 6", "the wrong end of wire 1 goes first"),
        (changed(12, ends=((1, "start"), (3, "end"))), "step 12", "the wrong end of wire 1 goes first"),
        (moved(13, 11), "step 13", "wire 1 hangs on something that does not go through front hole"),
        (twice(6), "step 7", "wire 1 is led through rear hole twice"),
        (changed(8, parts=("emitter",)), "step 8", "brings in other parts than the assembly does next"),
        (changed(8, vehicle="wagon"), "step 8", "does not go the way that the assembly names"),
        (moved(5, 7), "step 5", "roof is not open"),
        (changed(14, lifted=(hanging(1),)), "step 14", "wire 3 hangs on lamp and is held in the vehicle"),
        (changed(14, lifted=(hanging(1), hanging(3), hanging(3))), "step 14", "a wire that does not hang"),
        (
            changed(14, lifted=(hanging(1), replace(hanging(3), wires=(1,)))),
            "step 14", "wire 3 does not run as it hangs",
        ),
        (
            changed(14, lifted=(hanging(1), replace(hanging(3), leaves=()))),
            "step 14", "wire 3 is not said to reach after each move",
        ),
        (
            changed(14, lifted=(hanging(1), replace(hanging(3), leaves=((60.0, 30.0, 22.0),)))),
            "step 14", "wire 3 leaves its way where it does not run",
        ),
        (
            changed(14, lifted=(hanging(1), replace(hanging(3), leaves=((79.6, 24.0, 22.0),)))),
            "step 14", "wire 3 would hang through something solid",
        ),
        (
            changed(14, lifted=(hanging(1), replace(hanging(3), leaves=(LAMP_GND,)))),
            "step 14", "mm too short to hang",
        ),
        (changed(16, opening="door"), "step 16", "closes door, which was not opened"),
        (without(16), "step 17", "roof of loco is still open"),
        (without(1), "order", "never cuts some wires"),
        (without(9), "order", "never joins some ends at pins"),
        (without(6), "order", "never leads some wires through their ports"),
        (without(15), "order", "never brings some parts in"),
        (without(3), "order", "never makes, or makes twice, some splices"),
        (without(18), "order", "never runs the train"),
    ],
)  # fmt: skip
def test_each_lie_about_the_order_is_told(
    order: Callable[[], tuple[WorkStep, ...]], where: str, words: str
) -> None:
    """A step left out, doubled, moved, or one that says something else."""
    said = told(worked(order()))
    if words != "felt":
        assert any(p.where == where and words in p.message for p in said), said


@pytest.mark.parametrize(("number", "at"), [(1, LAMP_IN), (3, LAMP_GND)])
def test_a_wire_hangs_as_long_as_it_is(number: int, at: Vec) -> None:
    """Just long enough it holds; 2 mm shorter it is 2 mm too short."""
    made = worked()
    long = just(made, number, at)
    assert told(wire_with(made, number, cut_mm=long + 30.0)) == ()
    (problem,) = told(wire_with(made, number, cut_mm=long - 2.0))
    assert problem.where == "step 14"
    assert problem.message == f"wire {number} is 2.0 mm too short to hang"
    assert problem.figure == pytest.approx(2.0)


def test_a_wire_that_lies_to_its_pin_goes_straight_from_there() -> None:
    """Out by 20 mm up and 4 mm along: from where its pin was a wire wants the straight way only."""
    aside = Lifted((3, "end"), (3,), "front hole", (LAMP_GND, LEAVES))
    lifted = (replace(hanging(1), leaves=(LEAVES, LEAVES)), aside)
    made = worked(changed(14, lifted=lifted)())
    down = made.assembly[3]
    step = replace(down, moves=(("-x", 4.0), *down.moves))
    made = replace(made, assembly=(*made.assembly[:3], step, made.assembly[4]))
    wire = next(one for one in made.built.harness.wires if one.number == 3)
    points = (LAMP_GND, *wire.legs[-1].points[-2::-1])
    own = sum(math.dist(a, b) for a, b in pairwise(points))
    more = own + math.hypot(FALL, 4.0) - needed(LAMP_GND)
    made = wire_with(made, 1, cut_mm=just(made, 1, LAMP_IN) + 30.0)
    assert told(wire_with(made, 3, cut_mm=just(made, 3, LAMP_GND) + more)) == ()
    (problem,) = told(wire_with(made, 3, cut_mm=just(made, 3, LAMP_GND) + more - 2.0))
    assert problem.message == "wire 3 is 2.0 mm too short to hang"


def test_what_is_undone_and_soldered_inside_is_counted() -> None:
    """A lid that is opened again, wires that are too short in any order, and joints inside."""
    again = twice(5)()
    assert any("roof of" not in p.message and "says that 0 steps are undone; 1 are" in p.message
               for p in told(worked(again)))  # fmt: skip
    assert told(worked(again, undone=1)) == ()
    short = {"short": ((3, 12.0), (4, 2.0))}
    assert told(worked(again, undone=3, **short)) == ()
    (problem,) = told(worked(again, undone=1, **short))
    assert problem.message == "says that 1 steps are undone; 3 are"
    (problem,) = told(worked(iron_inside=2))
    assert problem.message == "says that 2 joints are soldered inside; 1 are"


def test_without_any_step_all_is_left() -> None:
    """What is never done is counted: wires, ends at pins, ports, parts; the splice is missing."""
    said = {p.message: p.figure for p in told(worked((replace(ORDER[-1], number=1),), iron_inside=0))}
    assert said == {
        "never cuts some wires": 4,
        "never joins some ends at pins": 5,
        "never leads some wires through their ports": 4,
        "never brings some parts in": 5,
        "never makes, or makes twice, some splices": 1,
    }
    empty = replace(worked(), work=WorkPlan(()))
    assert told(empty) == ()
    assert [n.message for n in notes(check_work, empty, sites_of(empty.built))] == ["has no steps"]


def test_a_splice_is_made_inside_its_own_vehicle() -> None:
    """In the loco, where it lies; in the wagon it is told; three ends more are soldered inside."""
    words = "splice S1 is not in"
    for vehicle, wrong in (("loco", False), ("wagon", True)):
        made = worked(changed(3, spot="inside", vehicle=vehicle, opening="roof")())
        assert any(words in p.message for p in told(made)) == wrong
    inside = worked(changed(3, spot="inside", vehicle="loco", opening="roof")(), iron_inside=4)
    assert not any("iron" in p.message for p in told(inside))
    fewer = worked(changed(3, spot="inside", vehicle="loco", opening="roof")(), iron_inside=3)
    assert len(told(fewer)) == len(told(inside)) + 1


NEITHER = "is on the table and in a vehicle, or in neither"
STEP = WorkStep(1, "join", "beside", "loco", ("board",), (1,), ((1, "start"),))


@pytest.mark.parametrize(
    ("step", "words"),
    [
        (STEP, ()),
        (replace(STEP, opening="roof"), ("names roof, and is done outside",)),
        (replace(STEP, opening="roof", spot="inside"), ()),
        (replace(STEP, spot="inside"), ()),
        (replace(STEP, spot="table"), (NEITHER,)),
        (replace(STEP, spot="table", vehicle=""), ()),
        (replace(STEP, vehicle=""), (NEITHER,)),
        (replace(STEP, wires=(1, 1)), ("names one of its wires twice",)),
        (replace(STEP, bricks=("beam",)), ("to join, and tells of bricks",)),
        (replace(STEP, splice="S1"), ("to join, and tells of splice",)),
        (WorkStep(1, "run", "beside"), ()),
        (WorkStep(1, "couple", "beside", wires=(1,), crossing="a"), ()),
        (WorkStep(1, "measure", "beside", readings=(1,)), ()),
        (WorkStep(1, "measure", "beside", readings=(1, 1)), ("names one of its readings twice",)),
        (WorkStep(1, "open", "inside", "loco", opening="roof"), ()),
        (
            WorkStep(1, "open", "inside", "", opening="roof"),
            (NEITHER,),
        ),
        (WorkStep(1, "open", "beside", "loco", opening="roof"), ("names roof, and is done outside",)),
    ],
)
def test_each_kind_of_step_says_what_belongs_to_it(step: WorkStep, words: tuple[str, ...]) -> None:
    assert said_amiss(step, plan().built) == words


def test_wires_hang_from_what_holds_their_far_ends() -> None:
    """A port of the vehicle, a splice or a pin at an end of one of the wires named; nothing else does."""
    for held, wires, fits in (
        ("front hole", (1,), True),
        ("rear hole", (1,), True),
        ("side hole", (1,), False),
        ("S1", (3,), True),
        ("S1", (1,), False),
        ("board.OUT", (1,), True),
        ("board.OUT", (3,), False),
        ("board.GND", (3, 2), True),
        ("", (1,), False),
    ):
        one = replace(hanging(1), held=held, wires=wires)
        step = WorkStep(1, "place", "inside", "wagon", ("lamp",), opening="roof", lifted=(one,))
        words = f"wire 1 hangs from {held or 'nothing'}, which does not hold it"
        assert said_amiss(step, plan().built) == (() if fits else (words,))

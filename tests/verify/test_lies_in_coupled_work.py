"""The order of work over a coupling that comes apart: it holds, and one lie at a time is told.

Two wires of the small plan meet in a connector; a brick comes out, a part is taped, two readings are taken.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from fitplan.model.meter import MeterPlan, MeterTest, Probe
from fitplan.model.part import Mount
from fitplan.model.placed import Fastening, Rebuild
from fitplan.model.plan import Plan
from fitplan.model.solids import Box
from fitplan.model.wired import BoughtLead, Leg, WireEnd
from fitplan.model.work import WorkPlan, WorkStep
from fitplan.verify.result import Problem
from fitplan.verify.scene import sites_of
from fitplan.verify.work import check_work

from .lies import built_with, harness_with, problems, train_with, wire_with
from .two_vehicles import LAMP_IN, OUT_AT, STEPS, WIRES, part, pin, plan, wire

NAME, CONTACTS = "loco to wagon", "contacts"
PORT = (0.4, 24.0, 22.0)
AHEAD = WireEnd("connector", NAME, "1", "loco", PORT, 4.0)
BEHIND = WireEnd("connector", NAME, "1", "wagon", (79.6, 24.0, 22.0), 4.0)
ONE = wire(
    1, "light", "signal", pin("board", "OUT", "loco", OUT_AT), AHEAD, 2,
    Leg("loco", (OUT_AT, (44.0, 24.0, 22.0), PORT), leaves="rear hole"),
)  # fmt: skip
TWO = wire(
    5, "light", "signal", BEHIND, pin("lamp", "IN", "wagon", LAMP_IN), 2,
    Leg("wagon", (BEHIND.at, (30.0, 24.0, 22.2), LAMP_IN), enters="front hole"),
)  # fmt: skip
PIN = (Probe("pin", "board", "OUT", "loco"), Probe("pin", "board", "GND", "loco"))
TESTS = (
    MeterTest(1, "coupled", "", "", "Ω", (PIN,), 0.0, 2.0, (), ""),
    MeterTest(2, "source", "loco", "", "V", (PIN,), 1.0, 2.0, (), ""),
)  # fmt: skip

ORDER = (
    WorkStep(1, "cut", "table", wires=(1, 5)),
    WorkStep(2, "join", "table", "", ("board",), (1,), ((1, "start"),)),
    WorkStep(3, "join", "table", "", ("lamp",), (5,), ((5, "end"),)),
    WorkStep(4, "crimp", "table", wires=(1,), ends=((1, "end"),), crossing=NAME),
    WorkStep(5, "crimp", "table", wires=(5,), ends=((5, "start"),), crossing=NAME),
    WorkStep(6, "take out", "inside", "loco", bricks=("shelf brick",)),
    WorkStep(7, "open", "inside", "loco", opening="roof"),
    WorkStep(8, "place", "inside", "loco", ("board",), opening="roof"),
    WorkStep(9, "thread", "inside", "loco", (), (1,), ((1, "end"),), port="rear hole", opening="roof"),
    WorkStep(10, "house", "beside", "loco", (), (1,), ((1, "end"),), crossing=NAME),
    WorkStep(11, "place", "inside", "loco", ("cell",), opening="roof"),
    WorkStep(12, "place", "inside", "loco", ("emitter",), opening="roof"),
    WorkStep(13, "open", "inside", "wagon", opening="roof"),
    WorkStep(14, "place", "inside", "wagon", ("lamp",), opening="roof"),
    WorkStep(15, "fasten", "inside", "wagon", ("lamp",), opening="roof"),
    WorkStep(16, "thread", "inside", "wagon", (), (5,), ((5, "start"),), port="front hole", opening="roof"),
    WorkStep(17, "house", "beside", "wagon", (), (5,), ((5, "start"),), crossing=NAME),
    WorkStep(18, "place", "inside", "wagon", ("eye",), opening="roof"),
    WorkStep(19, "couple", "beside", wires=(1, 5), crossing=NAME),
    WorkStep(20, "measure", "beside", readings=(1,)),
    WorkStep(21, "measure", "beside", readings=(2,)),
    WorkStep(22, "close", "inside", "loco", opening="roof"),
    WorkStep(23, "close", "inside", "wagon", opening="roof"),
    WorkStep(24, "run", "beside"),
)


def worked(steps: tuple[WorkStep, ...] = ORDER, **work: Any) -> Plan:
    """The plan with a coupling that comes apart and this order."""
    old = plan()
    crossing = replace(old.built.harness.crossings[0], connector=CONTACTS)
    harness = replace(old.built.harness, wires=(ONE, TWO), splices=(), stretches=(), crossings=(crossing,))
    made = built_with(
        old,
        harness=harness,
        rebuilds=(Rebuild("loco", ("shelf brick",), (), 2.0, 2.0, ""),),
        fastenings=(Fastening("lamp", "wagon", (), tape_mm=10.0),),
    )
    return replace(made, assembly=STEPS, meter=MeterPlan(TESTS), work=WorkPlan(steps, **work))


def told(made: Plan) -> tuple[Problem, ...]:
    return problems(check_work, made, sites_of(made.built))


Order = Callable[[], tuple[WorkStep, ...]]


def changed(step: int, /, **values: Any) -> Order:
    return lambda: tuple(replace(s, **values) if s.number == step else s for s in ORDER)


def numbered(steps: list[WorkStep]) -> tuple[WorkStep, ...]:
    return tuple(replace(step, number=place) for place, step in enumerate(steps, 1))


def without(*numbers: int) -> Order:
    return lambda: numbered([step for step in ORDER if step.number not in numbers])


def moved(number: int, behind: int) -> Order:
    one = ORDER[number - 1]
    rest = [step for step in ORDER if step.number != number]
    rest.insert(rest.index(ORDER[behind - 1]) + 1, one)
    return lambda: numbered(rest)


def twice(number: int) -> Order:
    return lambda: numbered([*ORDER[:number], *ORDER[number - 1 :]])


def test_an_order_over_a_coupling_holds() -> None:
    assert told(worked()) == ()
    together = [*ORDER[:19], replace(ORDER[19], readings=(1, 2)), *ORDER[21:]]
    assert told(worked(numbered(together))) == ()


@pytest.mark.parametrize(
    ("order", "words"),
    [
        (changed(4, ends=((1, "start"),)),
         {"step 4: wire 1 has no contact there", "step 10: wire 1 has no contact yet",
          "order: never crimps some contacts"}),
        (changed(4, crossing="another"), {"step 4: wire 1 has no contact there"}),
        (twice(4), {"step 5: crimps a contact twice"}),
        (without(4), {"step 9: wire 1 has no contact yet", "order: never crimps some contacts"}),
        (moved(4, 10), {"step 9: wire 1 has no contact yet", "order: goes back to the table once work in the "
                        "vehicles has begun"}),
        (changed(10, vehicle="wagon"), {"step 10: fills a housing with other wires than end there"}),
        (changed(10, crossing="another"), {"step 10: fills a housing with other wires than end there"}),
        (twice(10), {"step 11: fills a housing twice"}),
        (without(10), {"step 18: couples what has no housings yet", "order: never fills some housings"}),
        (moved(10, 8), {"step 9: wire 1 is not led through its port yet",
                        "step 10: wire 1 hangs on something that does not go through rear hole"}),
        (moved(6, 8), {"step 8: takes bricks out once parts are in"}),
        (without(6), {"order: never takes out the bricks of the rebuild"}),
        (twice(6), {"order: never takes out the bricks of the rebuild"}),
        (moved(15, 13), {"step 14: fastens lamp, which is not in"}),
        (without(15), {"order: never fastens, or fastens twice, some parts"}),
        (twice(15), {"order: never fastens, or fastens twice, some parts"}),
        (changed(20, readings=(1, 3)), {"step 20: takes reading 3, which there is not"}),
        (moved(20, 21), {"step 20: puts cells in before all is measured without them"}),
        (without(20), {"step 20: puts cells in before all is measured without them",
                       "step 21: closes before all readings are taken",
                       "step 22: closes before all readings are taken",
                       "order: never takes, or takes twice, some readings"}),
        (twice(20), {"order: never takes, or takes twice, some readings"}),
        (twice(21), {"order: never takes, or takes twice, some readings"}),
        (moved(22, 20), {"step 21: closes before all readings are taken"}),
        (moved(19, 16), {"step 17: couples what has no housings yet"}),
        (changed(19, crossing="another"), {"step 19: couples what has no housings yet",
                                           "order: never couples, or couples twice, some vehicles"}),
        (without(19), {"order: never couples, or couples twice, some vehicles"}),
        (twice(19), {"order: never couples, or couples twice, some vehicles"}),
        (changed(16, ends=((5, "end"),)), None),
        (without(9), {"step 9: wire 1 is not led through its port yet",
                      "order: never leads some wires through their ports"}),
        (without(16), {"step 16: wire 5 is not led through its port yet",
                       "order: never leads some wires through their ports"}),
    ],
)  # fmt: skip
def test_each_lie_is_told(order: Order, words: set[str] | None) -> None:
    """A step left out, doubled, moved, or one that says something else: this and no more is told."""
    said = {f"{one.where}: {one.message}" for one in told(worked(order()))}
    if words is None:
        assert "step 16: the wrong end of wire 5 goes first" in said
    else:
        assert said == words


SOLDER_LATE = (
    *ORDER[:2], *ORDER[3:14], *ORDER[15:21],
    WorkStep(22, "join", "inside", "wagon", ("lamp",), (5,), ((5, "end"),), opening="roof", blind=True),
    *ORDER[14:15], *ORDER[21:],
)  # fmt: skip


def test_no_iron_once_the_cells_are_in() -> None:
    (late,) = told(worked(numbered(list(SOLDER_LATE)), iron_inside=1))
    assert late.message == "solders after the cells are in"


@pytest.mark.parametrize(
    ("size", "passes"),
    [((5, 6, 8), True), ((5, 6.5, 8), False), ((5, 8, 6), True), ((5, 3, 8.1), False), ((20, 6.4, 8), True)],
)
def test_a_housing_goes_through_its_port_either_way_up_or_is_filled_behind_it(
    size: tuple[float, float, float], passes: bool
) -> None:
    """The ports are 8 mm wide and 6.4 mm high; what does not pass them is crimped behind them."""
    contacts = part(CONTACTS, Box((0, 0, 0), size), mount=Mount())
    before = train_with(worked(), catalogue={CONTACTS: contacts})
    late = {"is crimped before it is led through its port", "was crimped before"}
    assert {one.message.split(" ", 2)[2] for one in told(before)} == (set() if passes else late)
    steps = [*ORDER[:3], *ORDER[5:9], replace(ORDER[3], spot="beside", vehicle="loco"), *ORDER[9:16],
             replace(ORDER[4], spot="beside", vehicle="wagon"), *ORDER[16:]]  # fmt: skip
    after = train_with(worked(numbered(steps)), catalogue={CONTACTS: contacts})
    assert told(after) == ()


LEAD = BoughtLead("lead", 200.0, "wagon")


def plugged(plug: WorkStep, behind: int, lead: BoughtLead = LEAD) -> tuple[Problem, ...]:
    """What is said where wire 5 is a lead that is plugged into the lamp behind a step."""
    steps = [replace(ORDER[0], wires=(1,)), *ORDER[1:2], *ORDER[3:behind], plug, *ORDER[behind:]]
    made = wire_with(worked(numbered(steps)), 5, lead=lead)
    return told(made)


PLUG = WorkStep(0, "plug", "inside", "wagon", ("lamp",), (5,), ((5, "end"),), joint="plug")


def test_a_lead_is_plugged_once_all_is_measured_without_it() -> None:
    assert plugged(PLUG, 20) == ()
    assert [one.message for one in plugged(PLUG, 19)] == [
        "plugs what feeds before all is measured without it"
    ]
    other = replace(PLUG, parts=("eye",))
    assert [one.message for one in plugged(other, 20)] == ["wire 5 is no lead to be plugged there"]
    short = plugged(PLUG, 20, replace(LEAD, shortened=True))
    assert "wire 5 is no lead to be plugged there" in [one.message for one in short]
    assert "never cuts some wires" in [one.message for one in short]
    cut = wire_with(worked(), 5, lead=LEAD)
    assert [one.message for one in told(cut)] == [
        "cuts wires of several kinds, or not on the table",
        "cuts a wire again, or one that is bought ready-made",
        "fastens wire 5 otherwise than its pin says",
    ]


def test_parts_that_find_no_way_in_are_left_out_everywhere() -> None:
    """The lamp with its wire's end, its tape, and nothing else."""
    steps = [one for one in ORDER if one.number not in (3, 14, 15)]
    made = replace(worked(numbered(steps)), assembly=(*STEPS[:3], replace(STEPS[4], number=4)))
    assert told(made) == ()
    assert WIRES[0].number == 1
    with_it = replace(made, assembly=STEPS)
    assert {one.message for one in told(with_it)} == {
        "brings in other parts than the assembly does next",
        "never joins some ends at pins",
        "never brings some parts in",
        "never fastens, or fastens twice, some parts",
    }


def test_a_step_is_done_where_it_can_be() -> None:
    """Without a vehicle only on the table, or where the train, its sources and its run are no vehicle's."""
    for step, values in (
        (changed(10, vehicle=""), "step 10"),
        (changed(4, vehicle="loco"), "step 4"),
        (changed(10, opening="roof"), "step 10"),
        (changed(19, readings=(1,)), "step 19"),
        (changed(20, readings=(1, 1)), "step 20"),
    ):
        assert values in {one.where for one in told(worked(step()))}
    assert harness_with(worked(), wires=(ONE, TWO)) == worked()

"""The order of work: every step has what it needs, every article its step, and no order does better."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from fitplan.lattice.cover import TENTHS
from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Need
from fitplan.model.part import Pin
from fitplan.model.placed import Placement
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.vehicle import OPEN_SIDES, BodySolid, BuiltIn
from fitplan.model.wired import Harness
from fitplan.model.work import WorkStep
from fitplan.packing.access.way_in import assembly_order
from fitplan.planning.run import plan_train
from fitplan.report.lists.tracing import steps_of
from fitplan.surface import read_train
from fitplan.verify.result import Tally
from fitplan.verify.scene import Site, sites_of
from fitplan.verify.work import check_work
from fitplan.workbench.work_search import Cost, VehicleOrder, WorkSearch
from fitplan.workbench.work_steps import WorkSteps
from tests.conftest import Planned
from tests.packing.small_trains import block, hollow, train_of

EXAMPLES = ("harbour-line", "market-tram")
MOTOR = Box((72.0, 12.0, 19.2), (96.0, 36.0, 32.0))
EVERY = (*EXAMPLES, "clay-run", "narrow-crane-wagon", "boiler-loco", "peat-railcar")


def _problems(plan: Plan, sites: dict[str, Site], steps: tuple[WorkStep, ...]) -> list[str]:
    numbered = tuple(replace(step, number=number) for number, step in enumerate(steps, 1))
    sheet = Tally()
    check_work(replace(plan, work=replace(plan.work, steps=numbered)), sites, sheet)
    return [problem.message for problem in sheet.report().problems]


@pytest.mark.parametrize("name", EVERY)
def test_every_article_has_its_step_and_every_step_its_article(planned: Planned, name: str) -> None:
    """Both ways, but for what findings ask for, spares, and steps that take nothing: lids, meter, run."""
    plan = planned(name)
    used: set[int] = set()
    for article in plan.buying:
        steps = steps_of(plan, article)
        used.update(steps)
        if article.shop != "findings ask for":
            assert steps, article.name
    for step in plan.work.steps:
        if step.act not in ("open", "close", "measure", "run"):
            assert step.number in used, step


@pytest.mark.parametrize("name", EVERY)
def test_each_wire_end_is_made_once(planned: Planned, name: str) -> None:
    """Every end of every wire is soldered, crimped or plugged exactly once, after it was cut."""
    plan = planned(name)
    made = [
        end
        for step in plan.work.steps
        if step.act in ("splice", "join", "crimp", "plug")
        for end in step.ends
    ]
    wires = [wire.number for wire in plan.built.harness.wires if not wire.inside]
    assert sorted(made) == sorted((number, side) for number in wires for side in ("end", "start"))
    cut = [number for step in plan.work.steps if step.act == "cut" for number in step.wires]
    assert sorted(cut) == sorted(set(cut))


def test_verify_notices_what_is_left_out_or_out_of_order(harbour_plan: Plan) -> None:
    """Any step left out or done twice is noticed; so is each put last or, off the table, first."""
    sites = sites_of(harbour_plan.built)
    steps = harbour_plan.work.steps
    assert not _problems(harbour_plan, sites, steps)
    for place in range(0, len(steps), 13):
        step = steps[place]
        rest = steps[:place] + steps[place + 1 :]
        assert _problems(harbour_plan, sites, rest), step
        if step.act not in ("open", "close"):
            assert _problems(harbour_plan, sites, (*steps[: place + 1], *steps[place:])), step
        if step.act != "run":
            assert _problems(harbour_plan, sites, (*rest, step)), step
        if step.spot != "table":
            assert _problems(harbour_plan, sites, (step, *rest)), step


def test_verify_notices_a_wire_that_hangs_too_short(harbour_plan: Plan) -> None:
    """A wire that hangs on a part, cut shorter than the way that is named for it; one not named at all."""
    sites = sites_of(harbour_plan.built)
    place = next(i for i, step in enumerate(harbour_plan.work.steps) if step.lifted)
    step = harbour_plan.work.steps[place]
    ahead, behind = harbour_plan.work.steps[:place], harbour_plan.work.steps[place + 1 :]
    unnamed = replace(step, lifted=step.lifted[1:])
    assert any(
        "is held in the vehicle" in text
        for text in _problems(harbour_plan, sites, (*ahead, unnamed, *behind))
    )
    hung = step.lifted[0].wires
    wires = tuple(
        replace(wire, cut_mm=10.0) if wire.number in hung else wire
        for wire in harbour_plan.built.harness.wires
    )
    harness = replace(harbour_plan.built.harness, wires=wires)
    short = replace(harbour_plan, built=replace(harbour_plan.built, harness=harness))
    assert any("too short to hang" in text for text in _problems(short, sites, short.work.steps))


@pytest.mark.parametrize(("name", "vehicle"), [("harbour-line", "shunter"), ("market-tram", "tram")])
def test_no_order_of_all_orders_costs_less(planned: Planned, name: str, vehicle: str) -> None:
    """The search against plain enumeration: all ways to take the parts out one after the other."""
    plan = planned(name)
    own = [step for step in plan.assembly if step.vehicle == vehicle]
    search = WorkSearch(plan.built, vehicle, own)
    found = search.find()
    assert found.proved
    best: list[Cost] = [(99, 99, 99, 99, 99, 99)]
    units = [step.needs for step in own]
    seen: dict[tuple[frozenset[str], str], Cost] = {}

    def take_out(left: frozenset[str], lid: str, cost: Cost) -> None:
        key = (left, lid)
        if cost >= best[0] or seen.get(key, (99,) * 6) <= cost:
            return
        seen[key] = cost
        if not left:
            best[0] = cost
            return
        for unit, opening in itertools.product(units, search.body.openings):
            group = frozenset(unit)
            if not group <= left or any(search.body.carried(need) & left - group for need in unit):
                continue
            moves = search.body.way_out(group, left - group, opening)
            if moves is None:
                continue
            way = tuple((heading, far / TENTHS) for heading, far in moves)
            _, more = search._cost_of(unit, left - group, opening, way)
            shut = opening in {one.name for one in search.body.vehicle.openings} and opening != lid
            more = (more[0], more[1], more[2] + (shut and bool(lid)), *more[3:])
            a, b, c, d, e, f = (x + y for x, y in zip(cost, more, strict=True))
            take_out(left - group, opening if shut else lid, (a, b, c, d, e, f))

    take_out(frozenset(need for unit in units for need in unit), "", (0, 0, 0, 0, 0, 0))
    total = [0, 0]
    for entry in found.entries:
        made = (*entry.joints.inside, *entry.joints.late)
        total[0] += len(entry.joints.short)
        total[1] += sum(search._joint(end) == "solder" for end in made)
    assert tuple(total) == best[0][:2]


@pytest.mark.parametrize("lids", [True, False])
def test_what_a_lid_that_is_off_lets_in_does_not_come_in_by_a_gap_beside_it(lids: bool) -> None:
    """A lamp behind a window comes in by the roof, as the board beside it does; without a roof by the gap."""
    wagon = hollow("wagon", 12, 6, 10)
    gap = Box((24.0, 40.0, 19.2), (64.0, 48.0, 44.8))
    wagon = replace(wagon, body=(*wagon.body, BodySolid(gap, "free")))
    wagon = wagon if lids else replace(wagon, openings=())
    lamp, board = block("lamp", (12.0, 10.0, 5.0)), block("board", (24.0, 12.0, 5.0))
    places = (
        Placement("lamp", lamp, "wagon", Place(pose_named("+x+y+z"), (30.0, 29.0, 19.2)), ""),
        Placement("board", board, "wagon", Place(pose_named("+x+y+z"), (30.0, 10.0, 19.2)), ""),
    )
    train = train_of((wagon,), (Need("lamp", (lamp,)), Need("board", (board,))))
    order = assembly_order(wagon, places)
    found = WorkSearch(BuiltTrain(train, places, Harness(), ()), "wagon", order.steps).find()
    assert found.proved
    assert {entry.step.opening for entry in found.entries} == {"roof" if lids else OPEN_SIDES["+y"]}


def test_a_lid_that_is_opened_for_wires_alone_is_closed(harbour_plan: Plan) -> None:
    """A vehicle without a part of its own is opened for what is built in, once, and closed at last."""
    orders = [VehicleOrder("shunter", (), (), frozenset(), True)]
    steps = WorkSteps(harbour_plan.built, orders, {}, frozenset(), harbour_plan.meter)
    lid = harbour_plan.built.train.vehicle("shunter").vehicle.openings[0].name
    opened, made = steps._open("shunter", lid, "")
    assert [(step.act, step.opening) for step in made] == [("open", lid)]
    assert steps._open("shunter", lid, opened) == (lid, [])
    assert steps._open("shunter", lid, "another lid") == (lid, [])
    closed = [(step.vehicle, step.opening) for step in steps._tests() if step.act == "close"]
    assert closed == [("shunter", lid)]


def test_a_motor_is_joined_through_the_lid_above_its_pins() -> None:
    """A long part comes in by the hole for wires, the lid being too short; no iron gets to the motor there.

    The lid is opened for the motor, once, before it is joined.
    """
    top = MOTOR.high[2]
    pins = tuple(Pin(name, "load", (x, 24.0, top), "+z") for name, x in (("plus", 78.0), ("minus", 90.0)))
    motor = BuiltIn("motor", "motor", (MOTOR,), pins=pins, mass_g=40.0, stall_ma=400.0)
    body = hollow("loco", 14, 6, 12, kind="loco", built_in=(motor,))
    ends = tuple(BodySolid(port.box, "free") for port in body.ports)
    (roof,) = body.openings
    lid = Box((70.0, 8.0, roof.box.low[2]), (98.0, 40.0, roof.box.high[2]))
    body = replace(body, body=(*body.body, *ends), openings=(replace(roof, box=lid),))
    rod = block("rod", (40.0, 5.0, 3.0), pins=2)
    nets = (("go", ("one.p0", "loco/motor.plus")), ("back", ("one.p1", "loco/motor.minus")))
    train = train_of((body,), (Need("one", (rod,)),), nets)
    plan = plan_train(replace(train, catalogue={**read_train("peat-railcar").catalogue, "rod": rod}))
    (placed,) = [step for step in plan.work.steps if step.act == "place"]
    assert placed.opening in OPEN_SIDES.values()
    (joined,) = [step for step in plan.work.steps if step.act == "join" and step.parts == ("loco/motor",)]
    assert (joined.opening, joined.blind) == ("roof", False)
    opened = [step.number for step in plan.work.steps if step.act == "open"]
    assert len(opened) == 1
    assert opened[0] < joined.number
    sheet = Tally()
    check_work(plan, sites_of(plan.built), sheet)
    assert not sheet.report().problems

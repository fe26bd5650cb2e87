"""What is built stays: one thing more, one less, another part, and a part that leaves no room."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.as_built import AsBuilt, Rework, Reworked
from fitplan.model.needed import Need
from fitplan.model.nets import Net, PinRef
from fitplan.model.operation import Running, Track
from fitplan.model.part import Mount, Part, Pin
from fitplan.model.plan import Plan
from fitplan.model.solids import Box
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.wired import Unreached
from fitplan.model.wiring import Slack, Wiring
from fitplan.planning.kept import Released
from fitplan.planning.kept_plan import plan_kept
from fitplan.planning.run import plan_train
from fitplan.planning.run_state import PlanOptions
from fitplan.recheck import recheck
from fitplan.verify.kept import check_kept
from fitplan.verify.result import Tally
from fitplan.workbench.as_built import as_built_of, rework_of
from tests.packing.small_trains import hollow

OUT = frozenset({"output"})


def _part(name: str, size: tuple[float, float, float], *pins: Pin) -> Part:
    return Part(
        name, name, "part", (Box((0, 0, 0), size),), 5.0, "invented for a test", pins=pins, mount=Mount()
    )


BOARD = _part(
    "board",
    (24, 12, 4),
    *(Pin(f"D{i}", "signal", (24, 1 + 2.54 * i, 2), "+x", OUT, wires=1) for i in range(4)),
    *(Pin(f"G{i}", "ground", (0, 1 + 2.54 * i, 2), "-x", wires=1, joined="g") for i in range(4)),
)
LAMP = _part(
    "lamp",
    (6, 6, 6),
    Pin("IN", "signal", (6, 4.5, 3), "+x", wants=OUT, wires=1),
    Pin("GND", "ground", (6, 1.5, 3), "+x", wires=1),
)


def _train(lamps: tuple[str, ...], lamp: Part = LAMP, vehicles: int = 2) -> Train:
    """Return a loco with a board, and wagons with lamps that it lights; ``lamps`` as ``name in vehicle``."""
    names = [name.split(" in ") for name in lamps]
    entries = (
        TrainVehicle("loco", hollow("loco", 9, 6, 8, kind="loco")),
        *(TrainVehicle(f"wagon {n}", hollow("wagon", 8, 6, 8)) for n in range(1, vehicles)),
    )
    return Train(
        name="blocks",
        vehicles=entries,
        needs=(
            Need("board", (BOARD,), vehicles=("loco",)),
            *(Need(name, (lamp,), vehicles=(where,)) for name, where in names),
        ),
        nets=(
            Net("ground", "ground", (PinRef("board", "G0"), *(PinRef(n, "GND") for n, _ in names))),
            *(Net(f"to {n}", "signal", (PinRef("board", "*"), PinRef(n, "IN"))) for n, _ in names),
        ),
        track=Track(radius=320.0),
        running=Running(speed=300.0),
        wiring=Wiring(coupling_connector="connector-6-keyed", coupling_slack=Slack(least=12.0)),
    )


def _with_catalogue(train: Train, example: Train) -> Train:
    return replace(train, catalogue=example.catalogue)


@pytest.fixture(scope="module")
def built(harbour_line: Train) -> Plan:
    """Return a plan of two lamps, taken for built."""
    plan = plan_train(_with_catalogue(_train(("left in wagon 1", "right in wagon 1")), harbour_line))
    assert plan.complete
    return plan


def _planned(train: Train, built: Plan) -> Plan:
    whole = _with_catalogue(train, built.built.train)
    plan = plan_train(replace(whole, as_built=as_built_of(built)))
    problems = [one for one in recheck(plan).problems if one.subject != "findings"]
    assert not problems
    return plan


def test_nothing_changes_where_nothing_changes(built: Plan) -> None:
    """The same train again keeps every part and wire to the letter."""
    plan = _planned(built.built.train, built)
    assert plan.built.placements == built.built.placements
    assert plan.rework.changes == ()
    assert plan.rework.kept_wires == len(built.built.harness.wires)
    assert as_built_of(plan) == as_built_of(built)


def test_a_lamp_more_changes_no_other_wire(built: Plan) -> None:
    """What is new has numbers after the others; every wire that was there is the same to the last figure."""
    plan = _planned(_train(("left in wagon 1", "right in wagon 1", "third in wagon 1")), built)
    assert plan.complete
    now = {wire.number: wire for wire in plan.built.harness.wires}
    for wire in built.built.harness.wires:
        there = now.pop(wire.number)
        assert (there.colour, there.cut_mm) == (wire.colour, wire.cut_mm)
        # What a train file keeps of places is written in decimals: ends agree to its last figure.
        for end, before in ((there.start, wire.start), (there.end, wire.end)):
            assert end.at == pytest.approx(before.at, abs=1e-9)
            assert replace(end, at=before.at) == before
        assert [leg.points for leg in there.legs] == [leg.points for leg in wire.legs]
    assert len(now) >= 2
    # Its pins take one wire each, so the splice is the one joint that is opened.
    assert {one.name for one in plan.rework.changes if one.change != "new"} <= {"S1"}


def test_a_lamp_less_undoes_its_wires_alone(built: Plan) -> None:
    """What must go goes, with its reason, and no plan undoes less."""
    plan = _planned(_train(("left in wagon 1",)), built)
    gone = [one for one in plan.rework.changes if one.change != "new"]
    assert ("taken out", "right") in {(one.change, one.name) for one in gone}
    mine = {
        str(wire.number)
        for wire in built.built.harness.wires
        if "right" in (wire.start.owner, wire.end.owner) or wire.net == "to right"
    }
    assert {one.name for one in gone if one.change == "unsoldered" and one.must} == mine
    assert all(one.why for one in gone)
    assert plan.rework.least == sum(one.must for one in gone)


def test_a_part_that_grew_moves_the_fewest(built: Plan) -> None:
    """A lamp measured larger stays a lamp; what need not move for it does not."""
    grown = replace(LAMP, envelope=(Box((0, 0, 0), (6, 6, 9)),))
    plan = _planned(_train(("left in wagon 1", "right in wagon 1"), grown), built)
    assert plan.complete
    assert not [one for one in plan.rework.changes if one.thing == "part" and one.name == "board"]
    assert plan.rework.least <= plan.rework.undone


def test_a_wagon_left_at_home_takes_only_what_ran_to_it(built: Plan) -> None:
    """Without the wagon its lamps and wires are gone, and the board stays where it is."""
    plan = _planned(_train(("near in loco",), vehicles=1), built)
    parts = {one.name: one.change for one in plan.rework.changes if one.thing == "part"}
    assert parts == {"left": "left at home", "right": "left at home", "near": "new"}
    assert all(one.must for one in plan.rework.changes if one.change != "new")
    assert plan.rework.proved


@pytest.mark.parametrize("longer", [-5.0, 0.0, 5.0])
def test_what_is_done_names_what_it_is_done_to(built: Plan, longer: float) -> None:
    """Each row says what is moved; a wire that is laid another way serves again if it is long enough."""
    before = as_built_of(built)
    lamp = next(one for one in before.parts if one.need == "left")
    moved = replace(lamp, offset=(lamp.offset[0] - 8.0, *lamp.offset[1:]))
    wire = before.wires[0]
    leg = wire.legs[0]
    other = replace(leg, points=(*leg.points[:-1], (*leg.points[-1][:2], leg.points[-1][2] + 3.0)))
    laid = replace(wire, cut_mm=wire.cut_mm + longer, legs=(other, *wire.legs[1:]))
    changed = replace(
        before,
        parts=tuple(moved if one is lamp else one for one in before.parts),
        wires=(laid, *before.wires[1:]),
    )
    rework = rework_of(replace(built.built, train=replace(built.built.train, as_built=changed)))
    words = {(one.change, one.name): one.words for one in rework.changes}
    assert words["moved", "left"] == "move left to its new place"
    said = words["cut again", str(wire.number)]
    assert said.startswith(f"wire {wire.number}, {wire.net}: ")
    assert ("lay it anew; the old one" in said) is (longer >= 0)


def test_parts_make_way_one_at_a_time(built: Plan) -> None:
    """Where only one part in the way keeps a wire out, that one is released alone, and other wires stay."""
    train = replace(built.built.train, as_built=as_built_of(built))
    lost = Unreached("to right", "right", "IN", "no way is wide enough")
    asked: list[Released] = []

    def planned(released: Released) -> Plan:
        asked.append(released)
        done = "right" in released.parts or released.everything
        harness = built.built.harness if done else replace(built.built.harness, unreached=(lost,))
        undone = len(released.parts) + len(released.vehicles)
        changes = tuple(Reworked("moved", "wire", str(n), "wagon 1", "", "") for n in range(undone))
        there = replace(built.built, train=train, harness=harness)
        return replace(built, built=there, rework=Rework(changes), outcomes=())

    plan = plan_kept(train, PlanOptions(), planned)
    assert plan.complete
    assert asked[0] == Released()
    alone = [released.parts for released in asked if released.vehicles]
    assert alone == [frozenset(), frozenset({"left"}), frozenset({"right"})]
    assert asked[-1] == Released(frozenset({"right"}))
    assert plan.rework.undone == 1


def test_a_wagon_turned_round_keeps_what_is_on_the_others(built: Plan) -> None:
    """The loco's half of the coupling meets the port that faces it now; its wires and parts stay."""
    train = _with_catalogue(_train(("left in wagon 1", "right in wagon 1")), built.built.train)
    loco, wagon = train.vehicles
    plan = _planned(replace(train, vehicles=(loco, replace(wagon, turned=True))), built)
    assert plan.complete
    changed = {one.name for one in plan.rework.changes if one.vehicle == "loco" and one.change != "cut again"}
    assert not changed
    assert {one.need for one in plan.built.placements} == {"board", "left", "right"}


@pytest.mark.parametrize("lie", ["moved", "hidden", "bound", "count", "twice"])
def test_lies_about_what_stays_are_told(built: Plan, lie: str) -> None:
    """A wire that lies elsewhere, a change that is not told, a bound too high, a wrong count: none holds."""
    plan = replace(
        built,
        built=replace(built.built, train=replace(built.built.train, as_built=as_built_of(built))),
        rework=replace(
            built.rework,
            kept_parts=len(built.built.placements),
            kept_wires=len(built.built.harness.wires),
        ),
    )
    assert _told(plan) == 0
    before = plan.built.train.as_built
    if lie == "moved":
        first = before.wires[0]
        x, y, z = first.legs[0].points[1]
        leg = replace(
            first.legs[0], points=(first.legs[0].points[0], (x, y + 0.5, z), *first.legs[0].points[2:])
        )
        plan = _as(
            plan, replace(before, wires=(replace(first, legs=(leg, *first.legs[1:])), *before.wires[1:]))
        )
    elif lie == "hidden":
        plan = _as(plan, replace(before, parts=before.parts[1:]))
    elif lie == "bound":
        plan = replace(plan, rework=replace(plan.rework, least=1))
    elif lie == "count":
        plan = replace(plan, rework=replace(plan.rework, kept_wires=1))
    else:
        plan = replace(plan, rework=replace(plan.rework, least_moved=1))
    assert _told(plan) > 0


def _as(plan: Plan, before: AsBuilt) -> Plan:
    train = replace(plan.built.train, as_built=before)
    return replace(plan, built=replace(plan.built, train=train))


def _told(plan: Plan) -> int:
    sheet = Tally()
    check_kept(plan, sheet)
    return len(sheet.report().problems)

"""Ends where no brick is: as they are read, as a plan is wired over them, and lies about them."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

import fitplan
from fitplan.errors import InputError
from fitplan.files.open_ends import open_end
from fitplan.files.read import read_train
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Vec
from fitplan.model.train import Train
from fitplan.model.vehicle import BodySolid, Port, Vehicle
from fitplan.model.wired import Unreached
from fitplan.verify import verify
from fitplan.verify.couplings import check_couplings
from fitplan.verify.open_ends import check_open_ends
from tests.packing.small_trains import hollow
from tests.verify.lies import harness_with, problems, train_with, wire_with

WAGON = """
vehicle: a wagon
kind: wagon
footprint: 12 x 6
floor finish: studded
mass: 60
base: 5 plates
layers:
  - {name: frame, plates: 2, rows: "#"}
  - {name: room, plates: 3, rows: "ROWS x6"}
couplings: [{end: both, pivot: 8, height: 10, length: 10}]
wheels: {kind: axles, at: [24, 72], radius: 8.5}
"""
OPEN, BUFFERED = "............", "-..........#"
TRAIN = """
train: Two wagons
vehicles: [{name: first, file: first.yaml}, {name: second, file: second.yaml, turned: yes}]
needs:
  - {name: brain, part: controller-compact-5v, in: [first]}
  - {name: lamp, part: lamp-5mm, in: [second]}
nets:
  - {name: lamp, role: signal, joins: [brain.D5, lamp.IN]}
  - {name: ground, role: ground, joins: [brain.GND, lamp.GND]}
running: {speed: 100, hours: 1, push pull: no}
wiring: {coupling connector: connector-4-keyed}
"""


def train_in(folder: Path, first: str = OPEN, second: str = OPEN, ports: str = "") -> Train:
    (folder / "train.yaml").write_text(TRAIN, encoding="utf-8")
    for name, rows in (("first", first), ("second", second)):
        text = WAGON.replace("ROWS", rows) + (ports if name == "first" else "")
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
    return read_train(folder / "train.yaml")


def of(train: Train) -> list[tuple[str, str, Box]]:
    return [(one.name, port.name, port.box) for one in train.vehicles for port in one.vehicle.ports]


def test_an_open_end_that_is_coupled_is_a_port_as_large_as_its_room(tmp_path: Path) -> None:
    """The vehicle behind is turned, so its own rear would follow; both are coupled at their own rears."""
    whole = ((0.0, 22.4), (48.0, 96.0))
    assert of(train_in(tmp_path)) == [
        (name, "open rear", Box((0.0, *whole[0]), (0.0, *whole[1]))) for name in ("first", "second")
    ]


def test_free_room_behind_a_buffer_beam_or_over_a_board_is_open(tmp_path: Path) -> None:
    (port,) = (box for name, _, box in of(train_in(tmp_path, BUFFERED)) if name == "first")
    assert (port.low, port.high) == ((0.0, 0.0, 22.4), (8.0, 48.0, 96.0))
    over_a_board = train_in(tmp_path, "#...........", "#...........")
    assert [box.low for _, _, box in of(over_a_board)] == [(0.0, 0.0, 32.0)] * 2
    assert of(train_in(tmp_path, "###.........", "###.........")) == []


def test_a_drawn_port_goes_before_and_its_name_is_another(tmp_path: Path) -> None:
    drawn = "ports: [{name: NAME, box: {from: [0, 16, 22.4], to: [8, 32, 32]}, out: rear}]\n"
    read = of(train_in(tmp_path, ports=drawn.replace("NAME", "hole")))
    assert [name for _, name, _ in read] == ["hole", "open rear"]
    with pytest.raises(InputError, match="a port named 'open rear'"):
        train_in(tmp_path, ports=drawn.replace("NAME", "open rear"))


@pytest.mark.parametrize("seed", range(12))
def test_the_largest_rectangle_is_that_of_all_cells_tried(seed: int) -> None:
    """Blocks are strewn over the end of a body; every rectangle of its cells of 8 × 3.2 mm is tried."""
    draw = random.Random(seed)
    states = ("fixed", "outside", "free", "keep-clear")
    blocks = []
    for _ in range(7):
        x, y, z = draw.randrange(3) * 8.0, draw.randrange(5) * 8.0, 19.2 + draw.randrange(6) * 3.2
        size = (8.0 * draw.randint(1, 2), 8.0 * draw.randint(1, 3), 3.2 * draw.randint(1, 4))
        high = (x + size[0], min(y + size[1], 48.0), min(z + size[2], 41.6))
        blocks.append(BodySolid(Box((x, y, z), high), draw.choice(states)))
    room = BodySolid(Box((0, 0, 19.2), (80, 48, 41.6)), "free")
    body = replace(hollow("body", 10, 6, 7), body=(room, *blocks), built_in=(), ports=())
    best = 0.0
    for depth in (0, 8, 16):
        opens = {
            (i, k)
            for i, k in itertools.product(range(6), range(7))
            if state_at(body, (depth + 4.0, 8 * i + 4.0, 19.2 + 3.2 * k + 1.6)) == "free"
            and all(
                state_at(body, (d + 4.0, 8 * i + 4.0, 19.2 + 3.2 * k + 1.6)) == "outside"
                for d in range(0, depth, 8)
            )
        }
        for i, j in itertools.combinations(range(7), 2):
            for k, m in itertools.combinations(range(8), 2):
                if all(cell in opens for cell in itertools.product(range(i, j), range(k, m))):
                    best = max(best, (j - i) * 8 * (m - k) * 3.2)
    found = [port.opening[0] * port.opening[1] for port in open_end(body, "-x")]
    assert found == ([pytest.approx(best)] if best else [])


def state_at(body: Vehicle, point: Vec) -> str:
    for one in reversed(body.body):
        box = one.solid.bounds
        if all(a < v < b for a, v, b in zip(box.low, point, box.high, strict=True)):
            return one.state
    return "outside"


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return fitplan.plan_train(train_in(tmp_path_factory.mktemp("open"), BUFFERED))


def test_wires_go_out_at_open_ends_and_the_plan_holds(plan: Plan) -> None:
    (crossing,) = plan.built.harness.crossings
    assert (crossing.port_ahead, crossing.port_behind) == ("open rear", "open rear")
    assert plan.verdict == "fits"
    assert fitplan.verify_plan(plan).problems == ()


def _moved(plan: Plan, change: Callable[[Port], Port], more: tuple[Port, ...] = ()) -> Plan:
    first, second = plan.built.train.vehicles
    ports = (*map(change, first.vehicle.ports), *more)
    return train_with(plan, vehicles=(replace(first, vehicle=replace(first.vehicle, ports=ports)), second))


HOLE = Port("hole", Box((0, 16, 22.4), (8, 32, 32)), "-x")


@pytest.mark.parametrize(
    ("change", "more", "words"),
    [
        (lambda port: port, (HOLE,), "a port is drawn at the same end"),
        (lambda port: replace(port, box=Box((0, 0, 22.4), (8, 48, 90))), (), "the room goes on beside it"),
        (lambda port: replace(port, box=Box((0, 6, 22.4), (8, 48, 96))), (), "the room goes on beside it"),
        (lambda port: replace(port, box=Box((0, 0, 20), (8, 48, 96))), (), "is not free"),
        (lambda port: replace(port, box=Box((0, 0, 22.4), (0, 48, 96))), (), "is not free"),
        (lambda port: replace(port, box=Box((0, 0, 22.4), (12, 48, 96))), (), "is not free"),
        (lambda port: replace(port, box=Box((0, 0, 22.4), (24, 48, 96))), (), "is no gap"),
        (lambda port: replace(port, box=Box((8, 0, 22.4), (8, 48, 96))), (), "is no gap"),
        (lambda port: replace(port, out="+x"), (), "is another end"),
        (lambda port: replace(port, name="open front", out="+x"), (), "nothing is coupled there"),
    ],
)
def test_lies_about_an_open_end_are_told(
    plan: Plan, change: Callable[[Port], Port], more: tuple[Port, ...], words: str
) -> None:
    assert problems(check_open_ends, plan.built) == ()
    told = problems(check_open_ends, _moved(plan, change, more).built)
    assert any(words in problem.message for problem in told), told


def test_an_open_end_that_a_plan_calls_closed_is_told(plan: Plan) -> None:
    first, second = plan.built.train.vehicles
    shut = train_with(plan, vehicles=(replace(first, vehicle=replace(first.vehicle, ports=())), second))
    lost = Unreached("ground", "first", "second", "first has no wire port at that end")
    told = problems(check_open_ends, harness_with(shut, unreached=(lost,)).built)
    assert not told  # a buffer beam's end has no brick, but no room up to the end either
    first = replace(first, vehicle=replace(second.vehicle, ports=()))
    shut = train_with(plan, vehicles=(first, second))
    told = problems(check_open_ends, harness_with(shut, unreached=(lost,)).built)
    assert ["free at" in problem.message for problem in told] == [True]


def test_wires_that_leave_an_open_end_elsewhere_are_longer(plan: Plan) -> None:
    """One wire is said to leave the end 12 mm farther to the side: 6 mm more from the middle of them all."""
    crossing = plan.built.harness.crossings[0]
    assert problems(check_couplings, plan.built) == ()
    wire = next(
        one for one in plan.built.harness.wires if one.number in crossing.wires and one.legs[-1].leaves
    )
    leg = wire.legs[-1]
    x, y, z = leg.points[-1]
    aside = replace(leg, points=(*leg.points[:-1], (x, y + 12.0, z)))
    told = problems(check_couplings, wire_with(plan, wire.number, legs=(*wire.legs[:-1], aside)).built)
    assert any("are needed" in one.message or "on straight track" in one.message for one in told), told


def test_an_open_end_that_is_high_faces_a_low_port(tmp_path: Path) -> None:
    """Wires leave a high open end low down, not at its middle: 38 mm to there are not asked for."""
    hole = "ports: [{name: hole, box: {from: [0, 16, 22.4], to: [8, 32, 32]}, out: rear}]\n"
    hole += "solids: [{state: free, box: {from: [0, 16, 22.4], to: [8, 32, 32]}}]\n"
    train = train_in(tmp_path, "#..........#", ports=hole)
    plan = fitplan.plan_train(train)
    assert plan.complete
    (crossing,) = plan.built.harness.crossings
    assert (crossing.port_ahead, crossing.port_behind) == ("hole", "open rear")
    low, high = (train.vehicle(name).vehicle.ports[0].box.center[2] for name in ("first", "second"))
    assert math.hypot(2 * 10.0, high - low) > crossing.free_mm
    assert verify(plan).problems == ()
    short = replace(crossing, free_mm=crossing.straight_mm - 1.0)
    told = verify(harness_with(plan, crossings=(short,))).problems
    assert any("apart on straight track" in one.message for one in told)

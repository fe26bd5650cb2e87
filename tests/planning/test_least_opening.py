"""The least opening: equal to a search over cells of another kind, planned with, and held by the checker."""

from __future__ import annotations

import heapq
import random
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from fitplan.errors import Mistake
from fitplan.files.as_built import AsBuiltEntry, as_built, as_built_text
from fitplan.files.document import parse_document
from fitplan.files.entries import Collector, validate
from fitplan.files.plan_json import plan_from_json, plan_to_json
from fitplan.model.built import BuiltTrain
from fitplan.model.holes import closed, opened
from fitplan.model.needed import FixedPlace, Need
from fitplan.model.nets import PinRef
from fitplan.model.part import Part
from fitplan.model.placed import Placement
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.train import Train
from fitplan.model.vehicle import BodySolid, Port, Removable, Vehicle
from fitplan.model.wired import Harness
from fitplan.planning.least_opening import OpeningSearch
from fitplan.planning.run import plan_train
from fitplan.planning.run_state import PlanningRun, PlanOptions
from fitplan.recheck import recheck
from fitplan.report.drawings.drawing import Label
from fitplan.report.drawings.layer_drawing import bench_of, layer_drawing
from fitplan.report.lists.build_sequence import build_sequence
from fitplan.report.lists.verdict_words import summarise
from fitplan.surface import read_train
from fitplan.verify import verify
from fitplan.workbench.as_built import as_built_of
from tests.packing.small_trains import block, hollow, train_of

WALL = Box((48.0, 8.0, 19.2), (56.0, 40.0, 51.2))
STAND = pose_named("+x+y+z")


@cache
def _wires() -> dict[str, Part]:
    catalogue = read_train("harbour-line").catalogue
    return {name: part for name, part in catalogue.items() if name.startswith("wire-")}


def _walled(
    *,
    wall: BodySolid | None = None,
    wall_cost: float = 0.5,
    open_ends: bool = True,
    may_open: bool = True,
    nets: int = 2,
) -> Train:
    """Return a loco and a wagon with a part in each that are wired to one another.

    Parameters
    ----------
    wall
        Across the wagon, between its front and the part.
    open_ends
        Whether the loco has a port at its rear.
    """
    loco, wagon = hollow("loco", 12, 6, 10, kind="loco"), hollow("wagon", 14, 6, 10)
    if wall is not None:
        bricks = (Removable(wall.removable, wall_cost),) if wall.removable else ()
        wagon = replace(wagon, body=(*wagon.body, wall), removables=bricks)
    if not open_ends:
        loco = replace(loco, ports=tuple(port for port in loco.ports if port.out != "-x"))
    one, two = block("one", (20.0, 20.0, 20.0), pins=nets), block("two", (22.0, 20.0, 20.0), pins=nets)
    fixed = FixedPlace("wagon", "+x+y+z", (20.0, 11.0, 19.2))
    needs = (Need("one", (one,), vehicles=("loco",)), Need("two", (two,), pinned=fixed))
    train = train_of((loco, wagon), needs, tuple((f"w{n}", (f"one.p{n}", f"two.p{n}")) for n in range(nets)))
    return replace(train, catalogue={**_wires(), "one": one, "two": two}, may_open=may_open)


@cache
def _opened() -> Plan:
    return plan_train(_walled(wall=BodySolid(WALL, "fixed")))


def _holds(plan: Plan) -> None:
    assert plan.complete
    assert plan.verdict == "fits after a rebuild"
    assert verify(plan).problems == ()
    again = plan_from_json(plan_to_json(plan))
    assert again.built.opening == plan.built.opening
    assert verify(again).problems == ()


def test_a_wall_without_a_hole_gets_one() -> None:
    """One brick with a hole is the least that there is; it is a rebuild, and bought."""
    plan = _opened()
    _holds(plan)
    opening = plan.built.opening
    assert opening is not None
    assert opening.planned
    assert (opening.cost, opening.least) == (1.0, 1.0)
    ((vehicle, hole),) = opening.holes
    assert vehicle == "wagon"
    assert (hole.box.low[0], hole.box.high[0]) == (48.0, 56.0)
    assert [rebuild.remove for rebuild in plan.built.rebuilds] == [(hole.name,)]
    assert hole.name in summarise(plan)
    assert any(article.name == "a brick of 1 × 1 studs with a hole" for article in plan.buying)


def test_what_comes_in_place_of_the_brick_is_told_where_it_is_taken_out() -> None:
    """In the step and in the drawing of the layer: a brick is not left out where one with a hole is meant."""
    plan = _opened()
    (step,) = [step for step in build_sequence(plan) if step.words.startswith("take out the brick")]
    assert step.words.endswith("(one with a hole in its place)")
    assert step.vehicle == "wagon"
    entry = plan.built.train.vehicle("wagon")
    bench = bench_of(plan, entry)
    said = {
        shape.text
        for section in bench.sections
        for shape in layer_drawing(plan, bench, section).shapes
        if isinstance(shape, Label)
    }
    assert "brick with a hole here" in said
    assert not any(text.startswith("take out") for text in said)


def test_what_was_opened_stays_open() -> None:
    """Frozen, read again and planned again: the same hole, the same wires, nothing undone."""
    plan = _opened()
    built = as_built_of(plan)
    assert built.holes
    text = as_built_text(built)
    mistakes: list[Mistake] = []
    document = parse_document(text, Path(), mistakes)
    entry = validate(AsBuiltEntry, document["as built"], Collector(Path(), mistakes))
    assert not mistakes
    assert entry is not None
    read = as_built(entry, Collector(Path(), mistakes))
    assert read.holes == built.holes
    again = plan_train(replace(_walled(wall=BodySolid(WALL, "fixed")), as_built=read))
    _holds(again)
    assert again.built.opening is not None
    assert again.built.opening.holes == built.holes
    assert again.rework.changes == ()
    assert not [one for one in recheck(again).problems if one.subject not in ("findings", "files")]


def test_an_end_wall_becomes_a_port_in_line_with_the_one_that_it_faces() -> None:
    """The wagon's port is in the middle of its width, between two studs; the hole is in one of the two."""
    plan = plan_train(_walled(open_ends=False))
    _holds(plan)
    assert plan.built.opening is not None
    ((vehicle, hole),) = plan.built.opening.holes
    assert (vehicle, hole.out, hole.box.low[1]) == ("loco", "-x", 18.4)
    assert {crossing.port_ahead for crossing in plan.built.harness.crossings} == {hole.name}


@pytest.mark.parametrize(("cost", "out"), [(0.5, True), (3.0, False)])
def test_a_removable_wall_comes_out_where_a_hole_is_dearer(cost: float, *, out: bool) -> None:
    """A hole costs 1."""
    train = _walled(wall=BodySolid(WALL, "removable", "bulkhead"), wall_cost=cost)
    plan = plan_train(train)
    _holds(plan)
    opening = plan.built.opening
    assert opening is not None
    assert opening.remove == ((("wagon", "bulkhead"),) if out else ())
    assert opening.cost == opening.least == min(cost, 1.0)
    assert ("bulkhead" in plan.built.taken_out("wagon")) is out


def test_each_lie_about_a_hole_is_found() -> None:
    """Its place, its price, that it is taken out, that it is allowed, and that the body has it at all."""
    plan = _opened()
    built, opening = plan.built, plan.built.opening
    assert opening is not None
    ((_, hole),) = opening.holes
    loco, wagon = built.train.vehicles
    shut = closed(wagon.vehicle)
    (low, high) = (hole.box.low, hole.box.high)
    lies = (
        replace(hole, box=Box((low[0], low[1] + 1, low[2]), (high[0], high[1] + 1, high[2]))),
        replace(hole, box=Box((low[0], low[1], low[2] + 1), (high[0], high[1], high[2] + 1))),
        replace(hole, box=Box((low[0] + 8, low[1], low[2]), (high[0] + 8, high[1], high[2]))),
        replace(hole, box=Box(low, (high[0] - 2, high[1], high[2]))),
        replace(hole, cost=0.5),
        replace(hole, bricks=0, cost=0.0),
        replace(hole, out="+x"),
    )
    for lie in lies:
        entry = replace(wagon, vehicle=opened(shut, [lie]))
        told = replace(opening, holes=(("wagon", lie),), cost=lie.cost, least=lie.cost)
        train = replace(built.train, vehicles=(loco, entry))
        assert _doubted(replace(plan, built=replace(built, train=train, opening=told))), lie
    assert _doubted(replace(plan, built=replace(built, rebuilds=())))
    assert _doubted(replace(plan, built=replace(built, opening=None)))
    assert _doubted(replace(plan, built=replace(built, train=replace(built.train, may_open=False))))
    bare = replace(built.train, vehicles=(loco, replace(wagon, vehicle=shut)))
    assert _doubted(replace(plan, built=replace(built, train=bare)))


def _doubted(plan: Plan) -> bool:
    return any(problem.subject == "opening" for problem in verify(plan).problems)


@pytest.mark.parametrize(("nets", "least"), [(4, 1.0), (7, 2.0)])
def test_a_hole_that_is_too_narrow_is_refuted(nets: int, least: float) -> None:
    """Of wires of 1.3 mm at most six go through a square of 3.2 mm (Groemer's and Oler's bound)."""
    train = _walled(wall=BodySolid(WALL, "fixed"), nets=nets)
    places = (("one", "loco", (30.0, 12.0, 19.2)), ("two", "wagon", (20.0, 11.0, 19.2)))
    placements = tuple(
        Placement(name, train.need(name).candidates[0], vehicle, Place(STAND, at), "the body")
        for name, vehicle, at in places
    )
    built = BuiltTrain(train, placements, Harness(), ())
    wires = {net.name: 1.3 for net in train.nets}
    search = OpeningSearch(PlanningRun.of(train, PlanOptions()), built, wires)
    assert next(search.sets()).cost == least


def test_without_leave_it_is_told_and_nothing_is_opened() -> None:
    """A note says what the least is and how to have it planned with; the bodies are as they were read."""
    train = _walled(wall=BodySolid(WALL, "fixed"), may_open=False)
    plan = plan_train(train)
    assert plan.built.train.vehicles == train.vehicles
    assert not plan.complete
    *stops, note = [found for found in plan.findings if "may open: yes" in found.remedy]
    assert {found.severity for found in stops} == {"stop"}  # what is not reached for want of it says so, too
    assert len(stops) == len(plan.unreached)
    assert (note.severity, note.figure, note.limit) == ("note", 1.0, 1.0)
    assert verify(plan).problems == ()
    # A plan that claims a hole which its bodies do not have, or for less than its price, does not hold.
    opening = plan.built.opening
    assert opening is not None
    assert "confirmed" in opening.proof
    for lie in (replace(opening, planned=True), replace(opening, cost=0.5), replace(opening, least=2.0)):
        assert verify(replace(plan, built=replace(plan.built, opening=lie))).problems


@pytest.mark.parametrize("walled", [True, False])
def test_what_has_no_place_opens_no_wall(walled: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """A part too long for either vehicle is wired, too: what else is wired gets its hole, and no more.

    Without a wall nothing is opened, nor is anything planned twice.
    """
    asked: list[bool] = []
    real = OpeningSearch.sets

    def sets(self: OpeningSearch) -> object:
        asked.append(True)
        return real(self)

    monkeypatch.setattr(OpeningSearch, "sets", sets)
    train = _walled(wall=BodySolid(WALL, "fixed") if walled else None)
    beam = block("beam", (200.0, 10.0, 10.0), pins=1)
    far = replace(train.nets[0], name="far", joins=(PinRef("beam", "p0"), PinRef("one", "p3")))
    one = block("one", (20.0, 20.0, 20.0), pins=4)
    needs = (replace(train.needs[0], candidates=(one,)), train.needs[1], Need("beam", (beam,)))
    catalogue = {**train.catalogue, "beam": beam, "one": one}
    plan = plan_train(replace(train, needs=needs, nets=(*train.nets, far), catalogue=catalogue))
    assert [name for name, _ in plan.unplaced] == ["beam"]
    assert plan.unreached == ()
    assert plan.verdict == "cannot fit"
    assert verify(plan).problems == ()
    opening = plan.built.opening
    assert (opening is not None and opening.planned and len(opening.holes) == 1) == walled
    assert bool(asked) == walled


# -- beside a search over cells -----------------------------------------------------------------------------

LONG, WIDE, ROWS = 9, 5, 4
_Cells = frozenset[tuple[int, int, int]]


def _cells_of(rng: random.Random) -> _Cells:
    """Return the clear cells (a stud by a stud by a brick) of a body with walls drawn at random."""
    clear = {(i, j, k) for i in range(1, LONG - 1) for j in range(1, WIDE - 1) for k in range(1, ROWS - 1)}
    for _ in range(rng.randint(1, 3)):
        axis, at, thick = rng.randint(0, 2), rng.randint(2, LONG - 3), rng.randint(1, 2)
        clear = {cell for cell in clear if axis or not at <= cell[0] < at + thick}
        clear = {cell for cell in clear if axis != 1 or cell[1] != 2}
        clear = {cell for cell in clear if axis != 2 or cell[2] != 2 or rng.random() < 0.1}
    return frozenset(clear)


def _body(name: str, clear: _Cells, ports: tuple[Port, ...]) -> Vehicle:
    base = hollow(name, LONG, WIDE, 3 * ROWS - 2, kind="loco" if name == "loco" else "wagon")
    top = base.base + ROWS * 9.6
    solids = [BodySolid(Box((0.0, 0.0, base.base), (LONG * 8.0, WIDE * 8.0, top)), "fixed")]
    solids += [BodySolid(_box(cell, base.base), "free") for cell in sorted(clear)]
    return replace(base, body=tuple(solids), top=top, ports=ports, openings=())


def _box(cell: tuple[int, int, int], base: float) -> Box:
    i, j, k = cell
    low = (i * 8.0, j * 8.0, round(base + k * 9.6, 4))
    return Box(low, (low[0] + 8.0, low[1] + 8.0, round(low[2] + 9.6, 4)))


def _least_by_cells(loco: _Cells, wagon: _Cells, at: tuple[_Cell, _Cell]) -> float:
    """Return the least price of a way from a cell of the loco to one of the wagon (Dijkstra over cells).

    From a clear cell the next clear one is reached straight through at most 24 mm of bricks, at 1 a brick on
    the level and 2 upright. The loco's rear and the wagon's front are open to each other.
    """
    bodies = {"loco": loco, "wagon": wagon}
    queue: list[tuple[float, str, _Cell]] = [(0.0, "loco", at[0])]
    done: set[tuple[str, _Cell]] = set()
    outside: _Cell = (-1, -1, -1)
    while queue:
        cost, name, cell = heapq.heappop(queue)
        if (name, cell) in done:
            continue
        done.add((name, cell))
        if (name, cell) == ("wagon", at[1]):
            return cost
        if cell == outside:
            for other in ("loco", "wagon"):
                for inside in bodies[other]:
                    if (through := _out(bodies[other], inside, other)) is not None:
                        heapq.heappush(queue, (cost + through, other, inside))
            continue
        if (through := _out(bodies[name], cell, name)) is not None:
            heapq.heappush(queue, (cost + through, "loco", outside))
        for axis in range(3):
            for sign in (1, -1):
                way = list(cell)
                for bricks in range(4):
                    way[axis] += sign
                    there = (way[0], way[1], way[2])
                    if not all(0 <= c < n for c, n in zip(there, (LONG, WIDE, ROWS), strict=True)):
                        break
                    if there in bodies[name]:
                        if bricks <= (2 if axis == 2 else 3):
                            price = bricks * (2.0 if axis == 2 else 1.0)
                            heapq.heappush(queue, (cost + price, name, there))
                        break
    return float("inf")


_Cell = tuple[int, int, int]


def _out(clear: _Cells, cell: _Cell, name: str) -> float | None:
    """Return what it costs to leave a body from a cell over the coupling; None when it does not go."""
    i, j, k = cell
    rear = name == "loco"
    between = range(i) if rear else range(i + 1, LONG)
    if any((other, j, k) in clear for other in between) or len(between) > 3:
        return None
    return float(len(between))


@pytest.mark.parametrize("seed", range(6))
def test_no_cheaper_opening_exists_than_a_search_over_cells_finds(seed: int) -> None:
    """Random walls in two bodies with or without ports, a part fixed in a cell of each."""
    rng = random.Random(seed)
    ports = (rng.random() < 0.5, rng.random() < 0.5)
    cells = (_cells_of(rng), _cells_of(rng))
    base = hollow("loco", LONG, WIDE, 10).base
    rear = Port("rear", _box((0, 2, 1), base), "-x")
    front = Port("front", _box((LONG - 1, 2, 1), base), "+x")
    loco = _body("loco", cells[0], (rear,) if ports[0] else ())
    wagon = _body("wagon", cells[1], (front,) if ports[1] else ())
    at = (rng.choice(sorted(cells[0])), rng.choice(sorted(cells[1])))
    part = block("part", (6.0, 6.0, 5.0))
    needs, placements = [], []
    for name, cell, vehicle in (("one", at[0], "loco"), ("two", at[1], "wagon")):
        low = _box(cell, base).low
        offset = (low[0] + 1, low[1] + 1, low[2])
        needs.append(Need(name, (part,), pinned=FixedPlace(vehicle, "+x+y+z", offset)))
        placements.append(Placement(name, part, vehicle, Place(STAND, offset), "the body"))
    train = train_of((loco, wagon), tuple(needs), (("wire", ("one.p0", "two.p0")),))
    built = BuiltTrain(train, tuple(placements), Harness(), ())
    search = OpeningSearch(PlanningRun.of(train, PlanOptions()), built, {"wire": 1.0})
    holes = ({(0, 2, 1)} if ports[0] else set(), {(LONG - 1, 2, 1)} if ports[1] else set())
    wanted = _least_by_cells(cells[0] | holes[0], cells[1] | holes[1], at)
    found = next(search.sets(), None)
    assert (found.cost if found is not None else float("inf")) == wanted
    assert bool(search.shut) == (wanted > 0)

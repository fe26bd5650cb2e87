"""Places with nothing wrong are still held against loose ones: what is wired together lies together."""

from __future__ import annotations

import itertools
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from fitplan.files.catalogue import read_catalogue
from fitplan.model.built import BuiltTrain
from fitplan.model.needed import FixedPlace, Need
from fitplan.model.part import Mount
from fitplan.model.placed import ITS_MOUNT, Placement
from fitplan.model.solids import Place, pose_named
from fitplan.model.train import Weights
from fitplan.model.wired import Harness
from fitplan.packing.vehicle.packing import Packing
from fitplan.planning import laid_loosely, vehicle_places
from fitplan.planning.choice import choose
from fitplan.planning.laid_loosely import LaidLoosely, LooseVehicles, Places
from fitplan.planning.run import plan_train
from fitplan.planning.vehicle_places import Faults, PlacedVehicle, _awkward
from fitplan.verify import verify
from tests.attack.choices import shelf_packer
from tests.packing.small_trains import block, hollow, train_of

LONG = 30
"""Studs: what lies in the wrong end is 200 mm from where it is wired to."""


@pytest.mark.parametrize("at", [10.0, LONG * 8 - 30.0])
def test_a_part_lies_beside_what_it_is_wired_to(at: float) -> None:
    """One part is held at either end of an empty wagon, and one, free, is wired to it twice."""
    wagon = hollow("wagon", LONG, 6, 9, kind="loco")
    held = FixedPlace("wagon", "+x+y+z", (at, 20.0, wagon.base + 3.2), (), ())
    part = block("b", (20.0, 10.0, 8.0))
    needs = (Need("held", (part,), pinned=held), Need("free", (part,)))
    nets = (("one", ("held.p0", "free.p0")), ("other", ("held.p1", "free.p1")))
    train = replace(train_of((wagon,), needs, nets), catalogue={**read_catalogue(), part.id: part})
    plan = plan_train(train)
    assert verify(plan).holds
    wires = plan.built.harness.wires
    assert len(wires) == 2
    # A part's length apart, over its top and back, with what is stripped: nowhere near the wagon's length.
    assert max(wire.cut_mm for wire in wires) < 80.0


def test_what_is_better_of_two_layouts() -> None:
    """Faults come first, then what is hidden, then wire."""
    plain = PlacedVehicle(None, (0, 0, 0, 0), 300.0)  # type: ignore[arg-type]
    worse = [
        replace(plain, length_mm=301.0),
        replace(plain, length_mm=250.0, awkward_mm=60.0),
        replace(plain, hidden=1, length_mm=10.0),
        replace(plain, faults=(0, 0, 0, 1), length_mm=10.0),
        replace(plain, faults=(0, 0, 1, 0), length_mm=1.0),
    ]
    assert sorted([*worse[::-1], plain], key=lambda one: one.order) == [plain, *worse]


SOUND, FAULTY = (0, 0, 0, 0), (1, 0, 0, 0)


@pytest.mark.parametrize(
    ("packed_mm", "loose_mm", "packed_faults", "loose_faults", "best", "wired"),
    [
        (100.0, 120.0, SOUND, SOUND, "packed", ["packed"]),
        (120.0, 100.0, SOUND, SOUND, "loose", ["loose"]),
        (100.0, 100.0, SOUND, SOUND, "loose", ["loose"]),
        (100.0, 120.0, FAULTY, SOUND, "loose", ["packed", "loose"]),
        (120.0, 100.0, SOUND, FAULTY, "packed", ["loose", "packed"]),
        (100.0, None, SOUND, SOUND, "packed", ["packed"]),
        (100.0, None, FAULTY, SOUND, "packed", ["packed"]),
    ],
)
def test_the_likelier_layout_is_wired_first(
    monkeypatch: pytest.MonkeyPatch,
    packed_mm: float,
    loose_mm: float | None,
    packed_faults: Faults,
    loose_faults: Faults,
    best: str,
    wired: list[str],
) -> None:
    """Wires run where straight lines are shorter, in the other layout only where these have faults."""
    asked: list[str] = []
    packings = {name: Packing(name, "fits", ()) for name in ("packed", "loose")}
    straight = {"packed": packed_mm, "loose": loose_mm}

    def placed(name: str) -> PlacedVehicle:
        asked.append(name)
        faults = packed_faults if name == "packed" else loose_faults
        return PlacedVehicle(packings[name], faults, straight[name] or 0.0)

    def judged(run: object, built: object, packing: Packing) -> vehicle_places._Judged:
        return vehicle_places._Judged(packing, SOUND, 0, 0.0)

    found = None if loose_mm is None else judged(None, None, packings["loose"])
    layouts = SimpleNamespace(up_to=lambda sound, first: ((), found))
    monkeypatch.setattr(vehicle_places, "_judged", judged)
    monkeypatch.setattr(vehicle_places, "LooseLayouts", lambda *args: layouts)
    monkeypatch.setattr(
        vehicle_places, "_guess", lambda built, one: (one.faults, 0, straight[one.packing.vehicle])
    )
    monkeypatch.setattr(
        vehicle_places, "_wired", lambda run, built, to, one: (placed(one.packing.vehicle), None)
    )
    monkeypatch.setattr(
        vehicle_places, "place_vehicle", lambda *args: None if loose_mm is None else placed("loose")
    )
    chosen = vehicle_places.better_layout(None, None, None, packings["packed"])  # type: ignore[arg-type]
    assert (chosen.packing.vehicle, asked) == (best, wired)
    # When it is late no wire is run: what would have been wired first stays.
    likelier = vehicle_places.likelier_layout(None, None, packings["packed"])  # type: ignore[arg-type]
    assert (likelier.vehicle, asked) == (wired[0], wired)


@pytest.mark.parametrize("over", ["", "places compared by their wires", "places laid loosely"])
@pytest.mark.parametrize("wrong", [False, True])
def test_what_is_late_lies_as_straight_lines_like_it(
    monkeypatch: pytest.MonkeyPatch, over: str, wrong: bool
) -> None:
    """Late, wires are run in layouts only where something is wrong; very late all stays as packed."""
    packings = {name: Packing("v", name, ()) for name in ("fits", "better", "likelier")}  # type: ignore[arg-type]
    run: Any = SimpleNamespace(over=lambda stage: stage == over)
    places = Places(None, (packings["fits"],), ())  # type: ignore[arg-type]
    vehicles = LooseVehicles(run, places, {}, frozenset({"v"} if wrong else ()), frozenset({"v"}))
    vehicles.__dict__["_wired"] = (None, None)
    found = PlacedVehicle(packings["better"], SOUND, 100.0)
    for name in ("better_layout", "place_vehicle"):
        monkeypatch.setattr(laid_loosely, name, lambda *args: found)
    monkeypatch.setattr(laid_loosely, "likelier_layout", lambda *args: packings["likelier"])
    monkeypatch.setattr(laid_loosely, "finish", lambda *args: None)
    laid = vehicles.lay("v")
    late = over == "places laid loosely" or (over == "places compared by their wires" and not wrong)
    assert (laid.placed is None, laid.late is not None) == (late, late)
    assert laid.packing is not None
    assert laid.packing.verdict == (
        "better" if not late else "fits" if over == "places laid loosely" else "likelier"
    )
    assert LaidLoosely("v", replace(found, faults=FAULTY)).packing is None
    assert LaidLoosely("v").packing is None


def test_what_lies_on_edge_or_in_the_air_counts_beside_wire() -> None:
    """A board flat on the floor, on edge, and a lamp on the floor and 20 mm over it: 60 mm of wire each.

    A board that tape keeps from tipping counts 30.
    """
    wagon = hollow("wagon", LONG, 6, 9)
    board = block("board", (40.0, 18.0, 5.0))
    lamp = block("lamp", (5.0, 5.0, 5.0), mount=Mount(needs_support=False))
    needs = (Need("board", (board,)), Need("lamp", (lamp,)))
    floor = wagon.base + 3.2
    told = {}
    for pose, over in itertools.product(("+x+y+z", "+x-z+y"), (0.0, 20.0)):
        places = (
            Placement(
                "board", board, "wagon", Place(pose_named(pose), (60.0, 20.0, floor + 18.0)), "the body"
            ),
            Placement(
                "lamp", lamp, "wagon", Place(pose_named("+x+y+z"), (120.0, 20.0, floor + over)), ITS_MOUNT
            ),
        )
        built = BuiltTrain(train_of((wagon,), needs), places, Harness(), ())
        told[pose, over] = _awkward(built, Packing("wagon", "fits", places))
    assert list(told.values()) == [0.0, 60.0, 60.0, 120.0]
    tipping = (replace(places[0], steady=False), places[1])
    assert _awkward(built, Packing("wagon", "fits", tipping)) == 120.0 + 30.0


@pytest.mark.parametrize(("weight", "taken"), [(1.0, "first"), (0.0, "second"), (0.01, "second")])
def test_what_stands_first_in_a_list_comes_first(weight: float, taken: str) -> None:
    """The second of a list lies nearer to what it is wired to: that weighs less than its place in the list.

    Laid end to end, a first part 20 mm longer asks for 20 mm of wire more, which weigh 0.1.
    """
    wagon = hollow("wagon", LONG, 6, 9, kind="loco")
    first, second = block("first", (60.0, 10.0, 8.0)), block("second", (40.0, 10.0, 8.0))
    needs = (Need("a", (first, second)), Need("b", (block("b", (20.0, 10.0, 8.0)),)))
    made = train_of((wagon,), needs, (("one", ("a.p0", "b.p0")),))
    made = replace(made, weights=Weights(later_in_list=weight, mass_off_balance=0.0))
    best = choose(made, shelf_packer(240.0), lambda parts: "").best
    assert best.parts["a"].id == taken
    assert best.costs.later_in_list == (taken == "second")

"""What must hold of the fit table of a whole train, whatever bricks lie in it and whatever is to go in."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.budget import Budget
from fitplan.model.needed import Need
from fitplan.model.proposed import FitRow
from fitplan.model.solids import Box
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import Vehicle
from fitplan.packing.vehicle.pack import Packer
from fitplan.planning.fit_table import fit_row
from tests.packing.small_trains import block, hollow, train_of

FLOOR = 19.2
FEW = settings(max_examples=4, deadline=None)
HOLDS = ("fits", "fits after a rebuild")


def _wagon(name: str, rng: random.Random, bricks: int) -> Vehicle:
    """Return a wagon with removable bricks strewn over its floor."""
    strewn = []
    for number in range(bricks):
        x, y = rng.randrange(1, 7), rng.randrange(1, 4)
        low = (8.0 * x, 8.0 * y, FLOOR)
        high = (8.0 * (x + rng.choice((1, 2))), 8.0 * (y + 1), FLOOR + 9.6 * rng.choice((1, 2, 3)))
        strewn.append((f"brick {number}", Box(low, high), float(rng.randint(1, 5))))
    return hollow(name, 9, 6, 9, removable=tuple(strewn))


@st.composite
def trains(draw: st.DrawFn) -> Train:
    """Return two wagons with bricks in them, and blocks from small ones to some that go nowhere.

    The second block must go into the first wagon, so the first has it for company there.
    """
    rng = random.Random(draw(st.integers(0, 10_000)))
    sizes = draw(
        st.lists(
            st.tuples(st.integers(8, 62), st.integers(8, 34), st.integers(5, 30)), min_size=2, max_size=2
        )
    )
    parts = [block(f"b{k}", (float(x), float(y), float(z))) for k, (x, y, z) in enumerate(sizes)]
    needs = (Need("free", (parts[0],)), Need("tied", (parts[1],), vehicles=("one",)))
    return train_of((_wagon("one", rng, 3), _wagon("two", rng, 2)), needs)


def _table(train: Train, effort: float = 1.0) -> list[FitRow]:
    """Ask each wagon for each block that may go there."""
    budget = Budget.usual(effort=effort)
    packer = Packer({entry.name: entry.vehicle for entry in train.vehicles}, budget)
    asked = (("free", "one"), ("free", "two"), ("tied", "one"))
    needs = {need.name: need for need in train.needs}
    return [
        fit_row(train, packer, needs[need], needs[need].candidates[0], vehicle, budget)
        for need, vehicle in asked
    ]


def _with_vehicles(train: Train, change: Callable[[Vehicle], Vehicle]) -> Train:
    return replace(
        train, vehicles=tuple(TrainVehicle(entry.name, change(entry.vehicle)) for entry in train.vehicles)
    )


def _without(vehicle: Vehicle, brick: str) -> Vehicle:
    """Return the vehicle with a removable brick taken out for good."""
    return replace(
        vehicle,
        body=tuple(
            replace(entry, state="free", removable="") if entry.removable == brick else entry
            for entry in vehicle.body
        ),
        removables=tuple(entry for entry in vehicle.removables if entry.name != brick),
    )


def _mirrored(vehicle: Vehicle) -> Vehicle:
    """Return the vehicle seen in a mirror along its length: left is right."""

    def seen(box: Box) -> Box:
        (x0, y0, z0), (x1, y1, z1) = box.low, box.high
        return Box((x0, vehicle.width - y1, z0), (x1, vehicle.width - y0, z1))

    body = []
    for entry in vehicle.body:
        assert isinstance(entry.solid, Box)
        body.append(replace(entry, solid=seen(entry.solid)))
    openings = tuple(replace(opening, box=seen(opening.box)) for opening in vehicle.openings)
    return replace(vehicle, body=tuple(body), openings=openings)


def _contradict(one: FitRow, other: FitRow) -> bool:
    """Tell whether one row claims places and the other that there are none."""
    return {one.verdict in HOLDS, other.verdict in HOLDS} == {True, False} and "cannot fit" in (
        one.verdict,
        other.verdict,
    )


@FEW
@given(trains(), st.integers(0, 2))
def test_a_brick_less_never_spoils_a_fit(train: Train, gone: int) -> None:
    """What fits is not called impossible, nor in need of a rebuild, once a removable brick is out."""
    less = _with_vehicles(train, lambda vehicle: _without(vehicle, f"brick {gone}"))
    for old, new in zip(_table(train), _table(less), strict=True):
        if old.verdict in HOLDS:
            assert new.verdict != "cannot fit", (old, new)
        if old.verdict == "fits":
            assert new.verdict in ("fits", "not decided"), (old, new)


@FEW
@given(trains(), st.sampled_from((0.0, 0.001, 0.01)))
def test_more_work_never_flips_a_verdict(train: Train, effort: float) -> None:
    """What hardly any work allows to say is never contradicted with much work."""
    for early, late in zip(_table(train, effort), _table(train), strict=True):
        assert not _contradict(early, late), (early, late)
        if early.verdict == "fits":
            assert late.verdict == "fits", (early, late)


@FEW
@given(trains())
def test_the_mirrored_train_has_the_same_table(train: Train) -> None:
    """Left for right, no block has the opposite verdict in any wagon."""
    for seen, mirrored in zip(_table(train), _table(_with_vehicles(train, _mirrored)), strict=True):
        assert not _contradict(seen, mirrored), (seen, mirrored)
        if "not decided" not in (seen.verdict, mirrored.verdict):
            assert seen.verdict == mirrored.verdict

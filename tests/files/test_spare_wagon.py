"""The van that a train without wagons may have added: as wide as its loco, closed all round, wires pass."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from fitplan.files.catalogue import examples_folder, read_catalogue
from fitplan.files.read import read_train
from fitplan.files.spare_wagon import LONG, NARROW, spare_wagon
from fitplan.model.needed import Need
from fitplan.model.train import ADDED_WAGON, TrainVehicle
from fitplan.planning.run import plan_train
from fitplan.report.lists.verdict_words import summarise
from fitplan.units import PLATE, STUD
from fitplan.verify import verify
from tests.packing.small_trains import block, hollow, train_of


@pytest.mark.parametrize("wide", range(3, 10))
def test_a_van_is_hollow_and_open_at_both_ends_where_wires_pass(wide: int) -> None:
    """Bricks by hand: floor, roof and end walls less two holes, and sides of a stud or of 1.5 mm."""
    loco = hollow("loco", 12, wide, 9, kind="loco")
    van = spare_wagon(TrainVehicle("loco", loco))
    assert van is not None
    assert (van.studs_wide, van.base, van.kind) == (wide, loco.base, "wagon")
    long, width = LONG * STUD, wide * STUD
    mouth = 16.0 if wide % 2 == 0 else 8.0
    side = 1.5 if wide <= NARROW else STUD
    high = 11 * 3.2
    inside = (long - 2 * STUD) * (width - 2 * side) * high
    bricks = long * width * (high + 2 * 3.2) - inside - 2 * STUD * mouth * 9.6
    fixed = [entry.solid.bounds.volume for entry in van.body if entry.state == "fixed"]
    assert sum(fixed) == pytest.approx(bricks, rel=1e-9)
    assert {port.out for port in van.ports} == {"-x", "+x"}
    assert {(one.end, one.height, one.length) for one in van.couplings} == {
        (end, 10.0, 4.0) for end in ("front", "rear")
    }


@pytest.mark.parametrize(
    ("size", "long", "walls"),
    [
        ((110.0, 30.0, 10.0), 16, 11),
        ((110.0, 50.0, 10.0), 16, 18),  # on edge: 50 and 6.4 mm, in plates of 3.2
        ((130.0, 30.0, 10.0), 20, 11),  # 130 and twice 6.4 mm, in studs of 8, and two walls
        ((33.0, 36.0, 40.0), 16, 11),  # wider than the van whichever way: none is built for it
        ((20.0, 30.0, 90.0), 16, 11),  # lies down
        ((100.0, 90.0, 10.0), 16, 11),  # on edge it would be higher than bridges are
    ],
)
def test_a_van_is_as_long_and_high_as_what_it_is_for(
    size: tuple[float, float, float], long: int, walls: int
) -> None:
    """Six studs wide it is 32 mm clear; the underside stands 16 mm above the rail, bridges 100."""
    ahead = TrainVehicle("loco", hollow("loco", 12, 6, 9, kind="loco"))
    part = block("part", size)
    van = spare_wagon(ahead, [Need("part", (part,))], 100.0)
    assert van is not None
    assert (van.studs_long, van.top - van.base) == (long, pytest.approx((walls + 2) * PLATE))
    # What has a smaller part to choose, or a vehicle of its own, asks for nothing.
    for other in (
        Need("part", (part, block("small", (9.0, 9.0, 9.0)))),
        Need("part", (part,), vehicles=("loco",)),
    ):
        usual = spare_wagon(ahead, [other], 100.0)
        assert usual is not None
        assert (usual.studs_long, usual.top - usual.base) == (LONG, pytest.approx(13 * PLATE))


def test_what_cannot_be_coupled_gets_none() -> None:
    """A loco whose only coupling is at its front: behind it nothing runs, unless it is turned."""
    loco = hollow("loco", 12, 6, 9, kind="loco")
    ahead = replace(loco, couplings=tuple(one for one in loco.couplings if one.end == "front"))
    assert spare_wagon(TrainVehicle("loco", ahead)) is None
    assert spare_wagon(TrainVehicle("loco", ahead, turned=True)) is not None


def test_a_lone_loco_that_is_too_short_gets_a_wagon_with_what_it_lacks_room_for() -> None:
    """A block longer than the loco's inside lies in the van, wired through both end walls; it holds."""
    loco = hollow("loco", 12, 6, 9, kind="loco")
    long, short = block("long", (90.0, 20.0, 10.0)), block("short", (20.0, 10.0, 8.0))
    needs = (Need("long", (long,)), Need("short", (short,), vehicles=("loco",)))
    made = train_of((loco,), needs, (("one", ("long.p0", "short.p0")), ("other", ("long.p1", "short.p1"))))
    made = replace(made, catalogue={**read_catalogue(), "long": long, "short": short})
    assert plan_train(made).unplaced
    spare = spare_wagon(TrainVehicle("loco", loco))
    plan = plan_train(replace(made, may_add_wagon=True, spare_wagon=spare))
    assert {place.need: place.vehicle for place in plan.built.placements} == {
        "long": ADDED_WAGON,
        "short": "loco",
    }
    assert plan.complete
    assert [crossing.conductors for crossing in plan.built.harness.crossings] == [2]
    assert verify(plan).holds
    assert "one wagon more, to build: Plain van, 16 × 6 studs" in summarise(plan)
    assert [one.serves for one in plan.buying if one.name.startswith("a wagon to build")] == [("long",)]


def test_only_a_train_without_wagons_reads_one(tmp_path: Path) -> None:
    """`may add wagon` of a lone loco; a train with wagons has its last one to copy."""
    for name, spare in (("boiler-loco", True), ("clay-run", False)):
        folder = tmp_path / name
        made = read_train(_copied(name, folder))
        assert made.may_add_wagon
        assert (made.spare_wagon is not None) == spare


def _copied(name: str, folder: Path) -> Path:
    shutil.copytree(examples_folder() / name, folder)
    path = folder / "train.yaml"
    path.write_text(path.read_text(encoding="utf-8") + "\nmay add wagon: yes\n", encoding="utf-8")
    return path

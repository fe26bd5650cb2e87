"""The joint decision: parts and vehicles for the whole train."""

from __future__ import annotations

import itertools
import random
from collections.abc import Mapping

import pytest

from fitplan.model.part import Part
from fitplan.model.plan import Placement
from fitplan.model.solids import Place, poses
from fitplan.model.train import Need, Train
from fitplan.packing.vehicle.pack import Packing
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.choice import choose
from fitplan.planning.costs import Costs, conductors_across, mass_off_balance, wire_length
from tests.packing.small_trains import block, hollow, train_of


def shelf_packer(train: Train, room: float) -> tuple[object, Mapping[str, float]]:
    """Return a packer that lays blocks end to end and holds them while their lengths fit the room."""

    def pack(vehicle: str, wanted: tuple[Wanted, ...]) -> Packing:
        at, placements = 0.0, []
        for entry in sorted(wanted, key=lambda w: w.need.name):
            placements.append(
                Placement(entry.need.name, entry.part, vehicle, Place(poses()[0], (at, 8, 20)), "")
            )
            at += entry.part.bounds.size[0]
        return (
            Packing.holding(vehicle, tuple(placements))
            if at <= room
            else Packing.not_holding(vehicle, "full")
        )

    return pack, {}


def _costs(train: Train, homes: dict[str, str], placements: list[Placement]) -> Costs:
    order = {entry.name: i for i, entry in enumerate(train.vehicles)}
    return Costs(
        len(set(homes.values())),
        0,
        conductors_across(train, order, homes),
        0.0,
        wire_length(train, train.starts(), placements),
        mass_off_balance(train, placements),
    )


def _enumerate(train: Train, room: float) -> float:
    """Return the best score by trying every part in every vehicle."""
    pack, _ = shelf_packer(train, room)
    ways = [
        [(part, entry.name) for part in need.candidates for entry in train.vehicles] for need in train.needs
    ]
    best = float("inf")
    for combination in itertools.product(*ways):
        homes = {need.name: home for need, (_, home) in zip(train.needs, combination, strict=True)}
        placements: list[Placement] = []
        for name in dict.fromkeys(homes.values()):
            wanted = tuple(
                Wanted(need, part)
                for need, (part, home) in zip(train.needs, combination, strict=True)
                if home == name
            )
            packing = pack(name, wanted)  # type: ignore[operator]
            if not packing.holds:
                break
            placements.extend(packing.placements)
        else:
            best = min(best, _costs(train, homes, placements).score(train.weights))
    return best


@pytest.mark.parametrize("seed", range(12))
def test_the_choice_equals_full_enumeration(seed: int) -> None:
    """On seeded small trains no combination of parts and vehicles costs less than the one chosen."""
    rng = random.Random(seed)
    vehicles = tuple(hollow(f"v{i}", 10, 6, 9, kind="loco" if i == 0 else "wagon") for i in range(3))
    needs = tuple(
        Need(
            f"n{i}",
            tuple(block(f"b{i}{k}", (rng.randint(10, 40), 10.0, 10.0)) for k in range(rng.randint(1, 2))),
        )
        for i in range(4)
    )
    nets = tuple((f"net{i}", tuple(f"n{k}.p0" for k in rng.sample(range(4), 2))) for i in range(4))
    train = train_of(vehicles, needs, nets)
    room = 60.0
    pack, _ = shelf_packer(train, room)
    decision = choose(train, pack, lambda parts: "")  # type: ignore[arg-type]
    expected = _enumerate(train, room)
    if expected == float("inf"):
        assert decision.best.left_out
    else:
        assert decision.proved
        assert not decision.best.left_out
        assert decision.best.costs.score(train.weights) == pytest.approx(expected, abs=1e-3)


def test_a_part_that_fits_nowhere_is_left_out_alone() -> None:
    """One block longer than every room is left out; the others keep their places."""
    vehicles = (hollow("loco", 10, 6, 9, kind="loco"), hollow("wagon", 10, 6, 9))
    needs = (Need("long", (block("long", (90, 10, 10)),)), Need("short", (block("short", (20, 10, 10)),)))
    train = train_of(vehicles, needs)
    pack, _ = shelf_packer(train, 60.0)
    decision = choose(train, pack, lambda parts: "")  # type: ignore[arg-type]
    assert decision.best.left_out == ("long",)
    assert [place.need for place in decision.best.placements] == ["short"]


def test_parts_that_do_not_work_together_are_avoided() -> None:
    """The smaller of two boards is passed over when it does not suit; the loco is preferred to the wagon."""
    vehicles = (hollow("loco", 10, 6, 9, kind="loco"), hollow("wagon", 10, 6, 9))
    small, large = block("small", (20, 10, 10)), block("large", (30, 10, 10))
    train = train_of(vehicles, (Need("board", (small, large)),))
    pack, _ = shelf_packer(train, 60.0)

    def suits(parts: Mapping[str, Part]) -> str:
        return "too few pins" if parts["board"].id == "small" else ""

    decision = choose(train, pack, suits)  # type: ignore[arg-type]
    (place,) = decision.best.placements
    assert (place.part.id, place.vehicle) == ("large", "loco")


def test_no_option_shown_is_beaten_in_every_respect() -> None:
    """The table of options holds no row that another row dominates."""
    vehicles = tuple(hollow(f"v{i}", 10, 6, 9, kind="loco" if i == 0 else "wagon") for i in range(3))
    needs = tuple(Need(f"n{i}", (block(f"b{i}", (25, 10, 10)),)) for i in range(3))
    train = train_of(vehicles, needs, (("a", ("n0.p0", "n1.p0")), ("b", ("n1.p0", "n2.p0"))))
    pack, _ = shelf_packer(train, 60.0)
    decision = choose(train, pack, lambda parts: "")  # type: ignore[arg-type]
    rows = [
        Costs(
            o.vehicles_opened,
            o.wagons_added,
            o.conductors_across,
            o.bricks_removed,
            o.wire_mm,
            o.mass_off_balance_g,
        )
        for o in decision.options
    ]
    assert sum(option.chosen for option in decision.options) == 1
    for one, other in itertools.permutations(rows[1:], 2):
        assert not one.dominates(other)

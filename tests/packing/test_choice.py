"""The joint decision: parts and vehicles for the whole train."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator, Mapping
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.budget import Budget
from fitplan.model.part import Part
from fitplan.model.plan import Placement, Rebuild
from fitplan.model.solids import Place, poses
from fitplan.model.train import Need, Train, Weights, WiringStyle
from fitplan.packing.vehicle.pack import Packing
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.choice import choose
from fitplan.planning.choice_bound import Bound, Penalties, Pick
from fitplan.planning.choice_search import PackParts
from fitplan.planning.costs import Costs, conductors_across, mass_off_balance, wire_length
from tests.packing.small_trains import block, hollow, train_of


def shelf_packer(room: float) -> PackParts:
    """Return a packer that lays blocks end to end and holds them while their lengths fit the room."""

    def pack(vehicle: str, wanted: tuple[Wanted, ...]) -> Packing:
        at, placements = 0.0, []
        for entry in sorted(wanted, key=lambda w: w.need.name):
            placements.append(
                Placement(entry.need.name, entry.part, vehicle, Place(poses()[0], (at, 8, 20)), "")
            )
            at += entry.part.bounds.size[0]
        return (
            Packing(vehicle, "fits", tuple(placements))
            if at <= room
            else Packing(vehicle, "cannot fit", reason="full")
        )

    return pack


def doubtful_packer(doubtful: Mapping[str, tuple[str, ...]]) -> PackParts:
    """Return a packer of which it is not decided whether some needs go into some vehicles."""
    plain = shelf_packer(60.0)

    def pack(vehicle: str, wanted: tuple[Wanted, ...]) -> Packing:
        packing = plain(vehicle, wanted)
        if packing.holds and any(entry.need.name in doubtful.get(vehicle, ()) for entry in wanted):
            return Packing(vehicle, "not decided", reason="within the play of the bricks")
        return packing

    return pack


def _crossed(train: Train, homes: Mapping[str, str]) -> int:
    """Return the conductors across couplings, counted coupling by coupling."""
    order = [entry.name for entry in train.vehicles]
    total = 0
    for net in train.nets:
        places = [order.index(homes[ref.owner]) for ref in net.joins if ref.owner in homes]
        for coupling in range(len(order) - 1):
            if net.style == "home-run":
                total += sum((place <= coupling) != (places[0] <= coupling) for place in places)
            elif places:
                total += min(places) <= coupling < max(places)
    return total


def _score(train: Train, pack: PackParts, picks: Mapping[str, tuple[Part, str]], added: str) -> float | None:
    """Return what a choice costs, by a reckoning of the tests' own; None when it does not fit."""
    homes = {need: home for need, (_, home) in picks.items()}
    there = replace(
        train, vehicles=tuple(v for v in train.vehicles if v.name != added or v.name in homes.values())
    )
    placements: list[Placement] = []
    bricks = 0.0
    for name in dict.fromkeys(homes.values()):
        wanted = tuple(Wanted(train.need(need), part) for need, (part, home) in picks.items() if home == name)
        packing = pack(name, wanted)
        if not packing.holds:
            return None
        placements.extend(packing.placements)
        bricks += packing.cost
    weights = train.weights
    return (
        weights.vehicles_opened * len(set(homes.values()))
        + weights.wagons_added * (added in homes.values())
        + weights.conductors_across * _crossed(there, homes)
        + weights.bricks_removed * bricks
        + weights.wire_metres * wire_length(there, placements) / 1000
        + weights.mass_off_balance * mass_off_balance(there, placements)
    )


def _everything(train: Train) -> Iterator[dict[str, tuple[Part, str]]]:
    """Give every part of every need in every vehicle."""
    ways = [
        [(part, entry.name) for part in need.candidates for entry in train.vehicles] for need in train.needs
    ]
    for combination in itertools.product(*ways):
        yield {need.name: way for need, way in zip(train.needs, combination, strict=True)}


def _random_train(rng: random.Random) -> Train:
    """Return a train of three vehicles and four needs with random parts, nets, styles and weights."""
    vehicles = tuple(hollow(f"v{i}", 10, 6, 9, kind="loco" if i == 0 else "wagon") for i in range(3))
    needs = tuple(
        Need(
            f"n{i}",
            tuple(block(f"b{i}{k}", (rng.randint(10, 40), 10.0, 10.0)) for k in range(rng.randint(1, 2))),
        )
        for i in range(4)
    )
    nets = tuple(
        (f"net{i}", tuple(f"n{k}.p0" for k in rng.sample(range(4), rng.randint(2, 4)))) for i in range(4)
    )
    train = train_of(vehicles, needs, nets)
    styles: list[WiringStyle] = ["tree", "home-run", "chain"]
    return replace(
        train,
        nets=tuple(replace(net, style=rng.choice(styles)) for net in train.nets),
        weights=Weights(*(rng.choice([0.0, 0.1, 1.0, 50.0, 1000.0, 30000.0]) for _ in range(6))),
    )


@pytest.mark.parametrize("seed", range(30))
def test_the_choice_equals_full_enumeration(seed: int) -> None:
    """On random small trains, styles and weights no combination costs less than the one called best."""
    rng = random.Random(seed)
    train = _random_train(rng)
    added = "v1" if seed % 3 == 0 else ""
    pack = shelf_packer(60.0)
    decision = choose(train, pack, lambda parts: "", added=frozenset({added} - {""}))
    scores = [
        score for picks in _everything(train) if (score := _score(train, pack, picks, added)) is not None
    ]
    if not scores:
        assert decision.best.left_out
        assert decision.verdict == "cannot fit"
        return
    assert decision.proved
    assert not decision.best.left_out
    assert decision.best.costs.score(train.weights) == pytest.approx(min(scores), abs=1e-3)
    # What the table of options lists costs no less than what was chosen.
    assert min(option.score for option in decision.options) == decision.options[0].score


@settings(max_examples=150)
@given(seed=st.integers(0, 2**32), added=st.sampled_from(["", "v1", "v2"]))
def test_no_choice_costs_less_than_any_bound_on_the_way_to_it(seed: int, added: str) -> None:
    """Of a random choice, decided in a random order, every bound is at most what it costs in the end."""
    rng = random.Random(seed)
    train = _random_train(rng)
    picks = {
        need.name: (rng.choice(need.candidates), rng.choice(train.vehicles).name) for need in train.needs
    }
    for need in train.needs:
        if rng.random() < 0.15:
            del picks[need.name]
    score = _score(train, shelf_packer(1000.0), picks, added)
    assert score is not None
    penalties = Penalties.above(train)
    bound = Bound(train, penalties, frozenset({added} - {""}))
    order = list(train.needs)
    rng.shuffle(order)
    ways = [Pick(need, *picks.get(need.name, (None, "")), 0) for need in order]
    true = score + penalties.unplaced * (len(train.needs) - len(picks))
    bounds = [bound.of(ways[:count]) for count in range(len(ways) + 1)]
    assert bounds == sorted(bounds)
    assert bounds[-1] <= true + 1e-6


def test_home_runs_are_not_reckoned_from_an_end_that_is_not_the_hub() -> None:
    """While the hub of home runs is open, nothing is known of them but what every hub would cost."""
    vehicles = tuple(hollow(f"v{i}", 10, 6, 9, kind="loco" if i == 0 else "wagon") for i in range(3))
    needs = tuple(Need(name, (block(name, (20.0, 10.0, 10.0)),)) for name in ("hub", "a", "b", "c"))
    net = ("net", ("hub.p0", "a.p0", "b.p0", "c.p0"))
    train = train_of(vehicles, needs, (net,))
    train = replace(train, nets=(replace(train.nets[0], style="home-run"),))
    hub, a, b, c = (
        Pick(need, need.candidates[0], home, 0)
        for need, home in zip(needs, ("v1", "v0", "v1", "v1"), strict=True)
    )
    bound = Bound(train, Penalties.above(train), frozenset())
    assert bound.extended(bound.start, [a, b, c]).conductors == 1
    assert bound.extended(bound.start, [a, b, c, hub]).conductors == 1
    assert conductors_across(train, {"hub": "v0", "a": "v0", "b": "v1", "c": "v1"}) == 2


def test_a_wagon_that_is_not_added_is_not_crossed() -> None:
    """Conductors and lengths are those of the train as it will be: without the wagon that could be added."""
    vehicles = tuple(hollow(f"v{i}", 10, 6, 9, kind="loco" if i == 0 else "wagon") for i in range(3))
    needs = (
        Need("a", (block("a", (20, 10, 10)),), vehicles=("v0",)),
        Need("b", (block("b", (20, 10, 10)),), vehicles=("v2",)),
    )
    train = train_of(vehicles, needs, (("net", ("a.p0", "b.p0")),))
    decision = choose(train, shelf_packer(60.0), lambda parts: "", added=frozenset({"v1"}))
    assert decision.best.costs.conductors_across == 1
    ends = replace(train, vehicles=(train.vehicles[0], train.vehicles[2]))
    short = choose(ends, shelf_packer(60.0), lambda parts: "")
    assert decision.best.costs.wire_mm == short.best.costs.wire_mm


def test_what_is_not_decided_is_no_misfit() -> None:
    """A part of which no vehicle is known to hold it is left out, but that is not called proved."""
    vehicles = (hollow("loco", 10, 6, 9, kind="loco"), hollow("wagon", 10, 6, 9))
    needs = (Need("odd", (block("odd", (30, 10, 10)),)), Need("short", (block("short", (20, 10, 10)),)))
    train = train_of(vehicles, needs)
    decision = choose(train, doubtful_packer({"loco": ("odd",), "wagon": ("odd",)}), lambda parts: "")
    assert decision.best.left_out == ("odd",)
    assert decision.verdict == "not decided"
    assert not decision.proved


def test_a_choice_that_is_taken_because_a_cheaper_one_is_open_is_not_called_the_best() -> None:
    """The loco is preferred but not decided: the wagon is taken, it fits, and nobody says that it is best."""
    vehicles = (hollow("loco", 10, 6, 9, kind="loco"), hollow("wagon", 10, 6, 9))
    train = train_of(vehicles, (Need("odd", (block("odd", (30, 10, 10)),)),))
    train = replace(train, weights=Weights(mass_off_balance=0.0))
    decision = choose(train, doubtful_packer({"loco": ("odd",)}), lambda parts: "")
    assert [place.vehicle for place in decision.best.placements] == ["wagon"]
    assert decision.verdict == "fits"
    assert not decision.proved
    assert choose(train, doubtful_packer({"wagon": ("odd",)}), lambda parts: "").proved


def test_one_part_that_is_refuted_decides_though_another_is_open() -> None:
    """A part that is proved to fit nowhere makes the train impossible, whatever is open beside it."""
    vehicles = (hollow("loco", 10, 6, 9, kind="loco"), hollow("wagon", 10, 6, 9))
    needs = (Need("odd", (block("odd", (30, 10, 10)),)), Need("long", (block("long", (90, 10, 10)),)))
    train = train_of(vehicles, needs)
    decision = choose(train, doubtful_packer({"loco": ("odd",), "wagon": ("odd",)}), lambda parts: "")
    assert set(decision.best.left_out) == {"odd", "long"}
    assert decision.verdict == "cannot fit"


def test_a_rebuild_that_is_not_proved_the_least_leaves_the_choice_open() -> None:
    """Bricks for 9 come out where 4 could be enough: a better choice may exist."""
    vehicles = (hollow("loco", 10, 6, 9, kind="loco"),)
    train = train_of(vehicles, (Need("odd", (block("odd", (30, 10, 10)),)),))
    plain = shelf_packer(60.0)

    def pack(vehicle: str, wanted: tuple[Wanted, ...]) -> Packing:
        packing = plain(vehicle, wanted)
        rebuild = Rebuild(vehicle, ("wall",), (), 9.0, 4.0, "")
        return replace(packing, verdict="fits after a rebuild", rebuild=rebuild)

    decision = choose(train, pack, lambda parts: "")
    assert decision.verdict == "fits after a rebuild"
    assert not decision.proved


def test_leaving_a_part_out_weighs_more_than_any_weights() -> None:
    """Even where a conductor weighs a million, every part gets a place."""
    vehicles = tuple(hollow(f"v{i}", 10, 6, 9, kind="loco" if i == 0 else "wagon") for i in range(3))
    needs = tuple(Need(f"n{i}", (block(f"b{i}", (40, 10, 10)),)) for i in range(3))
    nets = tuple((f"net{i}", ("n0.p0", "n1.p0", "n2.p0")) for i in range(5))
    train = replace(train_of(vehicles, needs, nets), weights=Weights(conductors_across=1e6))
    decision = choose(train, shelf_packer(60.0), lambda parts: "")
    assert not decision.best.left_out
    assert decision.proved


def test_a_part_that_fits_nowhere_is_left_out_alone() -> None:
    """One block longer than every room is left out; the others keep their places."""
    vehicles = (hollow("loco", 10, 6, 9, kind="loco"), hollow("wagon", 10, 6, 9))
    needs = (Need("long", (block("long", (90, 10, 10)),)), Need("short", (block("short", (20, 10, 10)),)))
    train = train_of(vehicles, needs)
    pack = shelf_packer(60.0)
    decision = choose(train, pack, lambda parts: "")
    assert decision.best.left_out == ("long",)
    assert [place.need for place in decision.best.placements] == ["short"]


def test_parts_that_do_not_work_together_are_avoided() -> None:
    """The smaller of two boards is passed over when it does not suit; the loco is preferred to the wagon."""
    vehicles = (hollow("loco", 10, 6, 9, kind="loco"), hollow("wagon", 10, 6, 9))
    small, large = block("small", (20, 10, 10)), block("large", (30, 10, 10))
    train = train_of(vehicles, (Need("board", (small, large)),))
    pack = shelf_packer(60.0)

    def suits(parts: Mapping[str, Part]) -> str:
        return "too few pins" if parts["board"].id == "small" else ""

    decision = choose(train, pack, suits)
    (place,) = decision.best.placements
    assert (place.part.id, place.vehicle) == ("large", "loco")


def test_no_option_shown_is_beaten_in_every_respect() -> None:
    """The table of options holds no row that another row dominates."""
    vehicles = tuple(hollow(f"v{i}", 10, 6, 9, kind="loco" if i == 0 else "wagon") for i in range(3))
    needs = tuple(Need(f"n{i}", (block(f"b{i}", (25, 10, 10)),)) for i in range(3))
    train = train_of(vehicles, needs, (("a", ("n0.p0", "n1.p0")), ("b", ("n1.p0", "n2.p0"))))
    pack = shelf_packer(60.0)
    decision = choose(train, pack, lambda parts: "")
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


def test_nothing_is_left_out_because_no_place_was_found_at_once() -> None:
    """A packer that is slow to find places for two parts, and takes all the work that may be done.

    The quick question holds for one part only. The choice is whole all the same, not one part short.
    """
    first, second = block("first", (20.0, 10.0, 10.0)), block("second", (20.0, 10.0, 10.0))
    train = train_of((hollow("loco", 12, 6, 7, kind="loco"),), (Need("a", (first,)), Need("b", (second,))))
    plain = shelf_packer(60.0)
    budget = Budget.usual()

    def pack(vehicle: str, wanted: tuple[Wanted, ...]) -> Packing:
        return replace(plain(vehicle, wanted), work=budget.steps)

    made = choose(
        train, pack, lambda parts: "", holds=lambda vehicle, wanted: len(wanted) == 1, budget=budget
    )
    assert made.best.left_out == ()
    assert made.verdict == "fits"

"""The joint decision: parts and vehicles for the whole train."""

from __future__ import annotations

import itertools
import random
from collections.abc import Mapping
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.budget import Budget
from fitplan.model.needed import Need, Preference, PreferenceKind
from fitplan.model.part import Part
from fitplan.model.placed import Placement, Rebuild
from fitplan.model.solids import Place, poses
from fitplan.model.train import Weights
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.choice import choose
from fitplan.planning.choice_bound import Bound, Penalties, Pick
from fitplan.planning.choice_search import PackParts
from fitplan.planning.costs import Costs, conductors_across, mass_off_balance
from fitplan.planning.refusal import FAILS, OUTDONE, RUINS, Refusal, weight_of
from tests.attack.choices import attack, everything, random_train, score, shelf_packer
from tests.packing.small_trains import block, hollow, train_of


def doubtful_packer(doubtful: Mapping[str, tuple[str, ...]]) -> PackParts:
    """Return a packer of which it is not decided whether some needs go into some vehicles."""
    plain = shelf_packer(60.0)

    def pack(vehicle: str, wanted: tuple[Wanted, ...]) -> Packing:
        packing = plain(vehicle, wanted)
        if packing.holds and any(entry.need.name in doubtful.get(vehicle, ()) for entry in wanted):
            return Packing(vehicle, "not decided", reason="within the play of the bricks")
        return packing

    return pack


@pytest.mark.parametrize("seed", range(20))
def test_the_choice_equals_full_enumeration(seed: int) -> None:
    """On random small trains, styles and weights no combination costs less than the one called best."""
    said, _, bad = attack(seed)
    assert bad == []
    assert said in ("proved", "cannot fit")


@pytest.mark.parametrize("seed", range(12))
def test_preferences_come_before_costs_and_the_first_before_all_others(seed: int) -> None:
    """Of all choices, listed, none is better by the first wish in which it differs, nor costs less."""
    rng = random.Random(seed)
    train = random_train(rng, 3, 4)
    pack = shelf_packer(60.0)
    names = [need.name for need in train.needs]
    kinds: list[PreferenceKind] = ["near", "same side as", "far from", "hidden"]
    wishes = [Preference(rng.choice(names), rng.choice(kinds)) for _ in range(3)]
    wishes = [replace(wish, other=rng.choice([n for n in names if n != wish.of])) for wish in wishes]
    train = replace(train, preferences=tuple(wishes))

    def parted(homes: Mapping[str, str]) -> tuple[bool, ...]:
        return tuple(
            wish.kind in ("near", "same side as") and homes[wish.of] != homes[wish.other] for wish in wishes
        )

    costs = []
    for picks in everything(train):
        cost = score(train, pack, picks, "")
        if cost is not None:
            costs.append((parted({need: home for need, (_, home) in picks.items()}), cost))
    decision = choose(train, pack, lambda parts: "")
    if not costs:
        assert decision.verdict == "cannot fit"
        return
    best = min(costs)
    homes = {pick.need.name: pick.vehicle for pick in decision.best.picks}
    assert decision.proved
    assert parted(homes) == best[0]
    assert decision.best.costs.score(train.weights) == pytest.approx(best[1], abs=1e-3)


@settings(max_examples=150)
@given(seed=st.integers(0, 2**32), added=st.sampled_from(["", "v1", "v2"]))
def test_no_choice_costs_less_than_any_bound_on_the_way_to_it(seed: int, added: str) -> None:
    """Of a random choice, decided in a random order, every bound is at most what it costs in the end."""
    rng = random.Random(seed)
    train = random_train(rng)
    picks = {
        need.name: (rng.choice(need.candidates), rng.choice(train.vehicles).name) for need in train.needs
    }
    for need in train.needs:
        if rng.random() < 0.15:
            del picks[need.name]
    cost = score(train, shelf_packer(1000.0), picks, added)
    assert cost is not None
    penalties = Penalties.above(train)
    bound = Bound(train, penalties, frozenset({added} - {""}))
    order = list(train.needs)
    rng.shuffle(order)
    ways = [Pick(need, *picks.get(need.name, (None, "")), 0) for need in order]
    true = cost + penalties.unplaced * (len(train.needs) - len(picks))
    bounds = [bound.of(ways[:count]) for count in range(len(ways) + 1)]
    assert bounds == sorted(bounds)
    assert bounds[-1] <= true + 1e-6


def test_a_penalty_weighs_more_than_the_balance_of_a_part_at_the_edge_of_a_wide_vehicle() -> None:
    """A part far off the middle counts more than its own grams: its lever is longer than half the gauge."""
    train = train_of((hollow("v", 10, 10, 9),), (Need("a", (block("a", (20, 10, 10)),)),))
    train = replace(train, weights=Weights(mass_off_balance=30000.0))
    part = train.needs[0].candidates[0]
    at_the_edge = Placement("a", part, "v", Place(poses()[0], (8, 8, 20)), "")
    cost = mass_off_balance(train, [at_the_edge]) * train.weights.mass_off_balance
    assert cost > train.weights.mass_off_balance * part.mass_g
    assert Penalties.above(train).shut_in > cost


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
    assert bound.extended(bound.start, [a, b, c]).crossings == train.weights.conductors_across
    assert bound.extended(bound.start, [a, b, c, hub]).crossings == train.weights.conductors_across
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


def test_what_is_not_decided_excludes_nothing() -> None:
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


def test_where_no_parts_work_together_the_homes_are_still_the_cheapest() -> None:
    """A supply too weak for eight parts is so in every home: the same choice comes out, proved."""
    vehicles = tuple(hollow(f"v{i}", 10, 6, 9, kind="loco" if i == 0 else "wagon") for i in range(3))
    needs = tuple(Need(f"n{i}", (block(f"b{i}", (20, 10, 10)),)) for i in range(8))
    nets = (
        *((f"net{i}", (f"n{i}.p0", f"n{i + 1}.p0")) for i in range(7)),
        ("all", tuple(f"n{i}.p1" for i in range(8))),
    )
    train = train_of(vehicles, needs, nets)
    plain = choose(train, shelf_packer(60.0), lambda parts: "")
    weak = choose(train, shelf_packer(60.0), lambda parts: "too weak" if len(parts) == 8 else "")
    assert weak.proved
    assert weak.best.unsuitable == "too weak"
    assert weak.best.costs == plain.best.costs
    assert weak.best.parts == plain.best.parts


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
        train, pack, lambda parts: "", holds=lambda vehicle, wanted, opened: len(wanted) == 1, budget=budget
    )
    assert made.best.left_out == ()
    assert made.verdict == "fits"


@pytest.mark.parametrize("ruin", [False, True])
def test_where_nothing_works_what_destroys_no_part_is_chosen(ruin: bool) -> None:
    """Of two boards that both will not do the first is taken, but not one that destroys another part."""
    small, large = block("small", (20, 10, 10)), block("large", (30, 10, 10))
    train = train_of((hollow("loco", 10, 6, 9, kind="loco"),), (Need("board", (small, large)),))

    def suits(parts: Mapping[str, Part]) -> str:
        return Refusal("too many volts", RUINS) if ruin and parts["board"].id == "small" else "too weak"

    decision = choose(train, shelf_packer(60.0), suits)
    (place,) = decision.best.placements
    assert decision.proved
    assert (place.part.id, decision.best.unsuitable) == ("large" if ruin else "small", "too weak")


@pytest.mark.parametrize("seed", range(24))
def test_where_nothing_works_the_least_bad_is_chosen_as_listed(seed: int) -> None:
    """Random reasons against every set of parts: none that fits is better by them, nor costs less."""
    rng = random.Random(seed)
    train = random_train(rng, 3, 4)
    pack = shelf_packer(60.0)
    reasons: dict[tuple[str, ...], Refusal] = {}

    def suits(parts: Mapping[str, Part]) -> str:
        key = tuple(parts[need.name].id for need in train.needs if need.name in parts)
        if len(key) < len(train.needs):
            return ""
        if key not in reasons:
            kind, stops = rng.choice((OUTDONE, FAILS, RUINS)), rng.randint(0, 2)
            reasons[key] = Refusal("no", kind, stops)
        return reasons[key]

    listed = []
    for picks in everything(train):
        cost = score(train, pack, picks, "")
        if cost is not None:
            listed.append((suits({need: part for need, (part, _) in picks.items()}), cost))
    decision = choose(train, pack, suits)
    if not listed:
        assert decision.verdict == "cannot fit"
        return
    weight, cost = min((weight_of(why), cost) for why, cost in listed)
    assert decision.proved
    assert weight_of(decision.best.unsuitable) == weight
    assert decision.best.costs.score(train.weights) == pytest.approx(cost, abs=1e-3)


def test_what_fits_nowhere_does_not_decide_which_parts_work_best() -> None:
    """Of cells and regulators, where the cells that one works with fit nowhere, the other is taken."""
    large, small = block("large", (300, 10, 10)), block("small", (20, 10, 10))
    down, up = block("down", (5, 5, 5)), block("up", (5, 5, 5))
    needs = (
        Need("cells", (large, small)),
        Need("lift", (down, up)),
        *(Need(f"lamp {i}", (block("lamp", (2, 2, 2)),)) for i in range(5)),
    )
    train = train_of((hollow("loco", 20, 6, 9, kind="loco"), hollow("wagon", 20, 6, 9)), needs)

    def suits(parts: Mapping[str, Part]) -> str:
        key = (parts["cells"].id, parts["lift"].id) if {"cells", "lift"} <= set(parts) else ()
        return {
            ("large", "up"): Refusal("too many volts", RUINS),
            ("small", "down"): Refusal("too few volts", FAILS, 3),
            ("small", "up"): Refusal("not with large as cells", OUTDONE, 3),
        }.get(key, "")

    decision = choose(train, shelf_packer(60.0), suits)
    assert decision.best.parts["lift"].id == "up"
    assert decision.proved


def test_a_score_that_is_told_counts_once_that_parts_do_not_work_together() -> None:
    """A hundred thousand above what an option's own figures make, destroyed parts or not."""
    train = train_of(
        (hollow("loco", 10, 6, 9, kind="loco"),), (Need("board", (block("board", (20, 10, 10)),)),)
    )
    scores = [
        choose(train, shelf_packer(60.0), lambda _, why=why: why).options[0].score
        for why in ("", "too weak", Refusal("too many volts", RUINS))
    ]
    assert [score - scores[0] for score in scores] == pytest.approx([0.0, 1e5, 1e5])

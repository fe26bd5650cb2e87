"""Small answers of routing, each just true and just no longer: gauges, rows, lanes, ends, conflicts."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.copper import awg_ohm_per_m, current_limit
from fitplan.model.nets import Net, PinRef
from fitplan.model.pins_used import PinUse
from fitplan.model.plan import Plan
from fitplan.routing.harness.conductors import choose_gauge
from fitplan.routing.harness.facts import port_loads
from fitplan.routing.harness.harness import WiredTrain, wire_train
from fitplan.routing.map.bundles import _circle_around, bundle_diameter, through_rectangle
from fitplan.routing.map.ends import resolve
from fitplan.routing.map.port_room import in_rows, least_share, passage
from fitplan.routing.map.splice_sites import in_sight
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation.lanes import Lanes, _counted
from fitplan.routing.negotiation.layout import Layout
from fitplan.routing.negotiation.negotiated import Conflict
from fitplan.routing.negotiation.said_conflicts import NEAR_PORT, said
from tests.routing.test_harness import Flow, built_of
from tests.verify.lies import built_with, placed_with, train_with
from tests.verify.two_vehicles import BOARD, plan

PAIR = {"p": ("a", 10.0, 9.0), "q": ("b", 20.0, 9.0)}


@cache
def wired() -> WiredTrain:
    """A wire over the coupling of two short wagons."""
    return wire_train(built_of(PAIR, {"n": ["p.p0", "q.p0"]}, studs=(8, 5, 4)), {"n": Flow(10.0, 10.0)})


# -- gauges ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("awg", [24, 26, 28, 30])
def test_a_gauge_does_up_to_its_limits(awg: int) -> None:
    """Just what it carries, and just the drop that is allowed; a little more asks for a thicker one."""
    stock = (22, 24, 26, 28, 30, 32)
    most = current_limit(awg)
    assert choose_gauge(most, 0.1, 9.0, stock) == awg
    assert choose_gauge(most * 1.0001, 0.1, 9.0, stock) == awg - 2
    ohm = awg_ohm_per_m(awg, 40.0, stranded=True)
    drop = 0.01 * ohm * 2.0 * 2
    assert choose_gauge(0.01, 2.0, drop, stock) == awg
    assert choose_gauge(0.01, 2.0, drop * 0.9999, stock) == awg - 2
    for wrong in ((-1.0, 1.0, 1.0), (1.0, -1.0, 1.0), (1.0, 1.0, -1.0)):
        with pytest.raises(ValueError, match="at least 0"):
            choose_gauge(*wrong, stock)
    assert choose_gauge(0.0, 0.0, 0.0, stock) == 32


# -- openings ----------------------------------------------------------------------------------------------


def strips(narrow: float, wide: float, key: tuple[float, ...]) -> bool:
    """Rows of one gauge in strips, by trying both directions and every order of the strips."""
    for across, along in ((narrow, wide), (wide, narrow)):
        for order in itertools.permutations(set(key)):
            used = 0.0
            for wire in order:
                a_row = int(across / wire + 1e-9)
                rows = math.inf if a_row == 0 else -(-key.count(wire) // a_row)
                used += rows * wire
            if used <= along + 1e-9:
                return True
    return False


@pytest.mark.parametrize(
    ("narrow", "wide", "key"),
    [
        (2.0, 3.0, (1.0,) * 6),
        (2.0, 3.0, (2.0, 1.0, 1.0)),
        (4.0, 4.0, (2.0, 2.0, 1.0, 1.0, 1.0, 1.0, 0.5, 0.5)),
        (1.5, 6.0, (1.5, 1.5, 0.75, 0.75, 0.75, 0.75)),
        (1.0, 5.0, (1.0, 1.0, 1.0, 1.0, 1.0)),
    ],
)
def test_wires_go_through_in_strips_as_long_as_these_add_up_to(
    narrow: float, wide: float, key: tuple[float, ...]
) -> None:
    assert strips(narrow, wide, key)
    assert in_rows(narrow, wide, key)
    for less in (0.01, 0.05, 0.2):
        for smaller in ((narrow - less, wide), (narrow, wide - less)):
            small, large = sorted(smaller)
            close = through_rectangle(large, small, key[0]) >= len(key) or bundle_diameter(key) <= small
            assert in_rows(small, large, key) is (strips(small, large, key) or close)
    area = sum(math.pi * wire**2 / 4 for wire in key)
    assert not in_rows(narrow / 2, area / narrow, key)
    assert in_rows(narrow, wide, ())


def test_the_least_share_of_an_opening_is_the_first_that_they_go_through() -> None:
    """As any share from below up: rows and round bundles alone below the last two, a search in these."""
    shares = (0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
    for wires in ((1.0,) * 4, (1.0,) * 7, (2.0, 1.0, 1.0), (3.0, 3.0), (1.3, 1.3, 0.9), ()):
        found = least_share([(4.0, 6.0)], wires, reversed(shares))
        key = tuple(sorted(wires, reverse=True))
        for share in shares:
            narrow, wide = share * 4.0, share * 6.0
            known = in_rows(narrow, wide, key) or (share >= 0.9 and passage(narrow, wide, key).holds)
            assert known if share == found else (share > found or not known)
    assert math.isinf(least_share([(4.0, 6.0)], (5.0,), shares))
    assert least_share([(6.0, 4.0)], (1.0,) * 7, shares) == least_share([(4.0, 6.0)], (1.0,) * 7, shares)


def test_of_several_rectangles_each_has_the_share_of_its_own_sides() -> None:
    """Two of 1.0 mm across a square want 1.707 mm; two squares take one each at half of their 2 mm."""
    shares = [number / 20 for number in range(4, 21)]
    assert least_share([(2.0, 2.0)], (1.0, 1.0), shares) == 0.9
    assert least_share([(2.0, 2.0), (2.0, 2.0)], (1.0, 1.0), shares) == 0.5
    assert least_share([(2.0, 2.0), (1.25, 1.25)], (1.0, 1.0), shares) == 0.8
    assert math.isinf(least_share([], (1.0,), shares))


def maps_of(built: BuiltTrain) -> dict[str, VehicleMap]:
    """Return the maps of vehicles of which no brick was taken out."""
    return {
        entry.name: VehicleMap.of(
            entry.name,
            entry.vehicle,
            tuple(one for one in built.placements if one.vehicle == entry.name),
            frozenset(),
        )
        for entry in built.train.vehicles
    }


def test_what_passes_each_port_is_told_once() -> None:
    """Two wires of 1 mm, in two stretches of a vehicle: a bundle of 2 mm, through a hole 8 × 6.4 mm."""
    built, maps = plan().built, maps_of(plan().built)
    loads = {one.vehicle: one for one in port_loads(built, built.harness, maps)}
    assert set(loads) == {"loco", "wagon"}
    for one in loads.values():
        assert (one.width_mm, one.height_mm, one.wires, one.bundle_mm) == (8.0, 6.4, (1, 3), 2.0)
        assert (one.through, one.proof) == ("goes through", "")
    assert [loads[name].port for name in ("loco", "wagon")] == ["rear hole", "front hole"]
    twice = replace(
        built.harness, stretches=(*built.harness.stretches, replace(built.harness.stretches[0], wires=(4,)))
    )
    reaching_in = {one.vehicle: one.wires for one in port_loads(built, twice, maps)}
    assert reaching_in == {"loco": (1, 3), "wagon": (1, 3)}  # it ends inside
    fourth = next(one for one in twice.wires if one.number == 4)
    out = replace(fourth, legs=tuple(replace(leg, leaves="rear hole") for leg in fourth.legs))
    going = replace(twice, wires=tuple(out if one is fourth else one for one in twice.wires))
    assert {one.vehicle: one.wires for one in port_loads(built, going, maps)} == {
        "loco": (1, 3, 4),
        "wagon": (1, 3),
    }
    legs = {one.number: tuple(replace(leg, enters="", leaves="") for leg in one.legs) for one in twice.wires}
    inside = replace(twice, wires=tuple(replace(one, legs=legs[one.number]) for one in twice.wires))
    assert port_loads(built, inside, maps) == ()


# -- lanes -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("held", [0, 2])
def test_ports_carry_as_many_conductors_as_are_known_to_go_through(held: int) -> None:
    """One at a time until an opening of 8 × 6.4 mm has no room; what is built takes its place first.

    Less than 3 mm behind it stands a part that covers 1 mm of its width.
    """
    made = built_of(PAIR, {"n": ["p.p0", "q.p0"]}, studs=(8, 5, 4))
    lanes = Lanes(made.train, wired().layout.maps)
    (ports,) = wired().layout.couplings.values()
    most = max(n for n in range(1, 12) if passage(7.0, 6.4, [3.0] * n).holds)
    for n in range(held):
        lanes.hold(replace(next(iter(wired().layout.couplings)), lane=-n - 1), ports, 3.0)
    given = [lanes.portals(f"net {n}", 3.0, 0, 1, {}) for n in range(most + 2)]
    assert [len(one) for one in given] == [1] * (most - held) + [0] * (2 + held)
    assert all(set(one) == {0} for one in given if one)
    # Only the part is in the way of the fifth; of more than go through the whole opening it is not.
    whole = max(n for n in range(1, 12) if passage(8.0, 6.4, [3.0] * n).holds)
    assert {(vehicle, port.name) for _, vehicle, port in lanes.covered} == {("a", "rear hole")}
    map_, (_, _, port) = wired().layout.maps["a"], lanes.covered[0]
    for n in range(1, whole + 3):
        assert map_.goes_without_parts(port, [3.0] * n) is (n <= whole)
        assert map_.passage(port, [3.0] * n).holds is (n <= most)
    assert len({portal for one in given for portal in one.values()}) == most - held
    assert {len(found) for found in lanes.through.values()} == {most}
    refused = lanes.unreached[0]
    assert (refused.net, refused.owner, refused.pin) == (f"net {most - held}", "a", "b")
    assert f"carries {most} conductors of 3 mm" in refused.reason
    verdict = passage(8.0, 6.4, [3.0] * (most + 1)).verdict
    assert refused.undecided is (verdict != "cannot")
    assert ("no more go through" in refused.reason) is (verdict == "cannot")
    # A thinner one may still have room.
    assert len(lanes.portals("thin", 0.3, 0, 1, {})) == 1


@pytest.mark.parametrize(
    ("wires", "words"),
    [
        ([], "none yet"),
        ([1.3], "1 conductor of 1.3 mm"),
        ([1.3, 1.3, 1.3], "3 conductors of 1.3 mm"),
        ([0.9, 1.3, 0.9], "1 conductor of 1.3 mm and 2 of 0.9 mm"),
    ],
)
def test_conductors_are_counted_by_thickness(wires: list[float], words: str) -> None:
    assert _counted(wires) == words


# -- ends of nets ------------------------------------------------------------------------------------------


def lost(net: Net, made: Plan | None = None) -> list[tuple[str, str, str]]:
    made = train_with(made or plan(), nets=(net,))
    return [(one.owner, one.pin, one.reason) for one in resolve(made.built)[1]]


def test_ends_of_nets_are_pins_by_name_or_else_by_role() -> None:
    """Of parts where they lie, of what is built in where it is; what there is not is told with its reason."""
    net = Net("n", "supply", (PinRef("lamp", "ground"), PinRef("loco/motor", "plus"), PinRef("board", "GND")))
    (found,), _ = resolve(train_with(plan(), nets=(net,)).built)
    assert [(end.owner, end.pin, end.vehicle) for end in found.ends] == [
        ("lamp", "GND", "wagon"), ("loco/motor", "plus", "loco"), ("board", "GND", "loco"),
    ]  # fmt: skip
    assert found.ends[0].at == pytest.approx((26.0, 22.0, 22.2))
    assert found.ends[1].at == (50, 33, 25)
    assert found.ends[1].load == "loco/motor"
    signal = replace(net, role="signal")
    assert resolve(train_with(plan(), nets=(signal,)).built)[0][0].ends[1].load == ""
    assert lost(net) == []
    for ref, reason in (
        (PinRef("lamp", "VCC"), "lamp has no pin VCC"),
        (PinRef("loco/motor", "M2"), "it has no pin M2"),
        (PinRef("horn", "IN"), "the part has no place"),
        (PinRef("lamp", "*"), "no free pin can do what this net wants"),
    ):
        wrong = replace(net, joins=(ref, *net.joins))
        assert lost(wrong) == [(ref.owner, ref.pin, reason)]
    rows = tuple(PinUse("lamp", name, "n", "", "", name) for name in ("GND", "IN", "GND"))
    chosen = built_with(plan(), pin_map=(*rows, replace(rows[1], net="another")))
    every = replace(net, joins=(PinRef("lamp", "*"),))
    (found,), _ = resolve(train_with(chosen, nets=(every,)).built)
    assert [end.pin for end in found.ends] == ["GND", "IN"]


def test_pins_that_are_plugged_are_no_ends_of_wires() -> None:
    pins = (replace(BOARD.pins[0], joint="plug"), BOARD.pins[1])
    made = placed_with(plan(), "board", part=replace(BOARD, pins=pins))
    net = Net("n", "signal", (PinRef("board", "OUT"), PinRef("lamp", "IN")))
    for lead, owners in (("", ["lamp"]), ("lead", ["board", "lamp"])):
        (found,), _ = resolve(train_with(made, nets=(replace(net, lead=lead),)).built)
        assert [end.owner for end in found.ends] == owners


# -- conflicts and splices ---------------------------------------------------------------------------------


@pytest.mark.parametrize("off", [-NEAR_PORT - 0.8, 0.0, NEAR_PORT + 0.8])
@pytest.mark.parametrize("axis", [1, 2])
@pytest.mark.parametrize("mirrored", [False, True])
def test_a_conflict_is_told_with_its_port_or_its_point(off: float, axis: int, mirrored: bool) -> None:
    """In the vehicle's own frame, also where its image was wired."""
    map_ = wired().layout.maps["a"]
    layout = Layout({"a": map_}, images=frozenset({"a"} if mirrored else ()))
    port = next(one for one in map_.vehicle.ports if one.name == "rear hole")
    at = list(port.box.center)
    at[axis] += np.sign(off) * port.box.size[axis] / 2 + off
    voxel = map_.frame.index_of((at[0], at[1], at[2]))
    words = said(Conflict(voxel, ("one", "two"), 2.5, 1.25), map_, layout)
    x, y, z = map_.frame.center(voxel)
    y = map_.vehicle.width - y if mirrored else y
    point = f"{x:.1f}, {y:.1f}, {z:.1f}"
    where = "in rear hole" if off == 0 else f"at {point} mm"
    assert words == f"one, two make a bundle of 2.50 mm {where}, where 1.25 mm are clear"
    through = said(Conflict("gap 1", ("one", "two"), 3.0, 2.0), map_, layout)
    assert through == "one, two want through gap 1, which is known to carry 2"


def test_a_splice_can_be_seen_where_nothing_lies_between_it_and_an_opening() -> None:
    """Straight ahead of the roof; of an open deck straight up, whatever opens."""
    map_ = wired().layout.maps["a"]
    (roof,) = map_.vehicle.openings
    seen = in_sight(map_)
    centers = map_.frame.centers(np.argwhere(map_.free))
    low, high = roof.box.low, roof.box.high
    ahead = ((centers[:, :2] > low[:2]) & (centers[:, :2] < high[:2])).all(axis=1)
    told = seen[map_.free]
    inside = (centers[:, 2] < low[2]) & (centers[:, 0] > 8) & (centers[:, 0] < map_.vehicle.length - 8)
    assert told[inside & ahead].all()
    assert not told[inside & ~ahead].any()
    assert not (seen & ~map_.free).any()
    shut = replace(map_, vehicle=replace(map_.vehicle, openings=()))
    assert not in_sight(shut).any()
    deck = replace(map_, vehicle=replace(map_.vehicle, openings=(), load_top=90.0))
    top = map_.frame.box_slice(map_.vehicle.hull, "outward")[2].stop
    expected = [z < top and map_.free[x, y, z:top].all() for x, y, z in np.argwhere(map_.free)]
    assert in_sight(deck)[map_.free].tolist() == expected


@pytest.mark.parametrize("seed", range(4))
def test_a_circle_around_circles_wherever_they_lie(seed: int) -> None:
    """No smaller than any middle of a fine grid allows, and hardly larger; the same far from the origin."""
    dice = np.random.default_rng(seed)
    centres, radii = dice.uniform(-3, 3, (6, 2)), dice.uniform(0.3, 2.0, 6)
    side = np.linspace(-3, 3, 241)
    middles = np.stack(np.meshgrid(side, side), axis=-1).reshape(-1, 1, 2)
    least = (np.linalg.norm(middles - centres, axis=2) + radii).max(axis=1).min()
    for at in ((0.0, 0.0), (40.0, -70.0)):
        assert least - 0.02 <= _circle_around(centres + at, radii) <= least * 1.02

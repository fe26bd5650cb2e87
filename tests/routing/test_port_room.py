"""Whether wires go through a port: known arrangements, proofs, and what lies between."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations, pairwise, product
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.model.solids import Box
from fitplan.model.vehicle import BodySolid, Port
from fitplan.routing.harness.facts import port_loads
from fitplan.routing.harness.harness import wire_train
from fitplan.routing.map.circle_packing import (
    Rectangle,
    Round,
    arrangement,
    cannot_hold,
    most_in_rectangle,
    overlap,
)
from fitplan.routing.map.port_room import clear_parts, passage, through_parts
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.verify.result import Tally
from fitplan.verify.scene import sites_of
from fitplan.verify.wires import check_wires
from tests.packing.small_trains import hollow
from tests.routing.test_harness import Flow, built_of

# Radius of n equal circles in the unit square, best known (digits from memory, not confirmed).
IN_UNIT_SQUARE = {10: 0.148204322565, 13: 0.133993513500, 14: 0.129331793710, 18: 0.115382365217,
                  20: 0.111382347512, 26: 0.096362331648}  # fmt: skip


@pytest.mark.parametrize(("count", "radius"), IN_UNIT_SQUARE.items())
def test_the_search_finds_the_best_known_packings_of_a_square(count: int, radius: float) -> None:
    """In a square 0.2 % wider than the best known, the search finds an arrangement, free of overlaps."""
    side = 1.002 / (2 * radius)
    found = arrangement(Rectangle(side, side), [1.0] * count)
    assert found is not None
    assert brute_overlap(found, [1.0] * count, side, side) <= 0
    assert most_in_rectangle(side, side, 1.0) >= count


@pytest.mark.parametrize(("count", "ratio"), [(7, 3.0), (10, 3.8130256), (12, 4.0296019), (19, 4.8637033)])
def test_the_search_finds_the_proved_packings_of_a_circle(count: int, ratio: float) -> None:
    """Kravitz 1967 and others: found in a circle 0.2 % wider, never in one 0.2 % narrower."""
    found = arrangement(Round(1.002 * ratio), [1.0] * count)
    assert found is not None
    assert overlap(Round(1.002 * ratio), found, [1.0] * count) == 0
    assert arrangement(Round(0.998 * ratio), [1.0] * count, starts=6, rounds=2) is None


def brute_overlap(centres: np.ndarray, diameters: list[float], width: float, height: float) -> float:
    """Return the worst overlap, by distances of all pairs at once."""
    r = np.array(diameters) / 2
    apart = np.linalg.norm(centres[:, None] - centres[None], axis=2) + np.eye(len(r)) * 1e9
    rim = np.abs(centres) + r[:, None] - np.array([width, height]) / 2
    return float(max((r[:, None] + r[None] - apart).max(), rim.max()))


def test_twenty_equal_wires_that_rows_refuse_go_through_a_square() -> None:
    """20 circles of 1 mm lie in a square of 4.49 mm (ratio 0.111382); straight rows hold 16, staggered 18."""
    assert passage(4.5, 4.5, [1.0] * 20).holds


def test_between_known_and_proved_it_is_not_decided() -> None:
    """A square of 5 mm holds 25 wires of 1 mm; 26 are not known to fit, and 28 are proved not to."""
    assert passage(5.0, 5.0, [1.0] * 25).holds
    assert passage(5.0, 5.0, [1.0] * 26).verdict == "not decided"
    refused = passage(5.0, 5.0, [1.0] * 28)
    assert refused.verdict == "cannot"
    assert "at most 27" in refused.proof


def test_a_slot_of_two_rows_is_exact() -> None:
    """In a slot of 1.8 mm the zigzag of wires of 1 mm is the most there is: pitch √(1 − 0.8²) = 0.6."""
    assert passage(1.0 + 0.6 * 9, 1.8, [1.0] * 10).holds
    assert passage(1.0 + 0.6 * 9 - 0.01, 1.8, [1.0] * 10).verdict == "cannot"


def test_mixed_gauges_are_searched_and_proved() -> None:
    """Four of 2 mm leave the hollow of a square of 4 mm to one of 0.82 mm (2·(√2 − 1)), not to one of 1.5."""
    assert passage(4.0, 4.0, [2.0] * 4).holds
    assert passage(4.001, 4.001, [2.0] * 4 + [0.82]).holds
    assert passage(4.0, 4.0, [2.0] * 4 + [1.5]).verdict != "goes through"
    assert passage(3.0, 3.0, [2.0, 2.0]).verdict == "cannot"  # side by side they want 2 + √2
    assert passage(2 + math.sqrt(2) + 1e-6, 2 + math.sqrt(2) + 1e-6, [2.0, 2.0]).holds


@given(
    st.integers(10, 30),
    st.integers(10, 30),
    st.lists(st.sampled_from([9, 11, 13, 16]), min_size=1, max_size=6),
)
@settings(max_examples=60, deadline=None)
def test_no_proof_contradicts_an_arrangement(width: int, height: int, wires: list[int]) -> None:
    """Whatever is proved not to go through is never found by the search, nor by a grid of trial places."""
    hole = Rectangle(width / 10, height / 10)
    diameters = [wire / 10 for wire in wires]
    if cannot_hold(hole, diameters):
        assert arrangement(hole, diameters, starts=8, rounds=2) is None
        assert not on_a_grid(width, height, sorted(wires, reverse=True))
    elif on_a_grid(width, height, sorted(wires, reverse=True)):
        assert passage(hole.width, hole.height, diameters).holds


def on_a_grid(width: int, height: int, wires: list[int]) -> bool:
    """Search places on a grid of a tenth of the opening by trying them in order, 2000 at most."""
    budget = [2000]

    def go(left: list[int], placed: list[tuple[float, float, float]]) -> bool:
        if not left:
            return True
        r = left[0] / 2
        for i, j in product(range(11), range(11)):
            budget[0] -= 1
            if budget[0] < 0 or width < 2 * r or height < 2 * r:
                return False
            x, y = r + (width - 2 * r) * i / 10, r + (height - 2 * r) * j / 10
            if all(math.hypot(x - u, y - v) >= r + s for u, v, s in placed) and go(
                left[1:], [*placed, (x, y, r)]
            ):
                return True
        return False

    return go(wires, [])


@pytest.mark.parametrize("side", [2.3, 3.7, 4.9])
def test_the_bound_holds_for_random_sequential_packings(side: float) -> None:
    """Circles thrown in at random, and rows, never exceed the bound."""
    rng = np.random.default_rng(3)
    for _ in range(20):
        placed: list[np.ndarray] = []
        for point in rng.uniform(0.5, side - 0.5, (400, 2)):
            if all(np.linalg.norm(point - other) >= 1 for other in placed):
                placed.append(point)
        assert len(placed) <= most_in_rectangle(side, side, 1.0)


def crossing(side: float, count: int) -> tuple[int, list[tuple[str, bool]]]:
    """Return how many of some nets cross a coupling through square holes, and what is said of the others."""
    names = [f"n{i:02d}" for i in range(count)]
    spots = {}
    for i in range(0, count, 2):
        x, y = 12.0 + 12.0 * (i // 2 % 7), 9.0 + 10.0 * (i // 14)
        spots[f"p{i}"], spots[f"q{i}"] = ("a", x, y), ("b", x, y)
    nets = {name: [f"p{i - i % 2}.p{i % 2}", f"q{i - i % 2}.p{i % 2}"] for i, name in enumerate(names)}
    built = built_of(spots, nets)
    vehicles = tuple(
        replace(
            entry,
            vehicle=replace(
                entry.vehicle,
                ports=tuple(
                    replace(
                        port,
                        box=replace(
                            port.box,
                            low=(port.box.low[0], 24.0 - side / 2, port.box.low[2]),
                            high=(port.box.high[0], 24.0 + side / 2, port.box.low[2] + side),
                        ),
                    )
                    for port in entry.vehicle.ports
                ),
            ),
        )
        for entry in built.train.vehicles
    )
    built = replace(built, train=replace(built.train, vehicles=vehicles))
    done = wire_train(built, {name: Flow(1.0, 1.0) for name in nets})
    crossed = {wire.net for wire in done.harness.wires if len(wire.legs) == 2}
    lost = [(entry.reason, entry.undecided) for entry in done.harness.unreached if entry.net not in crossed]
    return len(crossed), lost


def test_a_port_carries_what_is_known_to_fit_and_says_what_is_not_decided() -> None:
    """Through 3.4 mm go ten wires of 1 mm (best known: 3.374; rows hold nine); eleven and twelve are open."""
    crossed, lost = crossing(3.4, 12)
    assert crossed == 10
    assert len(lost) == 2
    assert all(undecided and "not decided" in reason for reason, undecided in lost)


def test_a_port_that_is_proved_full_says_how_many_it_carries() -> None:
    """Through 2.1 mm go four wires of 1 mm; a fifth wants 1 + √2 and is refused."""
    crossed, lost = crossing(2.1, 6)
    assert crossed == 4
    assert all(not undecided and "no more go through" in reason for reason, undecided in lost)


@pytest.mark.parametrize("face", ["outside", "inside"])
def test_ports_drawn_flat_hold_as_thick_ones_do(face: str) -> None:
    """A hole drawn as a face on either side of its wall carries the wire, and verify finds nothing wrong."""
    built = built_of({"p": ("a", 12.0, 8.0), "q": ("b", 40.0, 8.0)}, {"n": ["p.p0", "q.p0"]})
    vehicles = tuple(
        replace(
            entry,
            vehicle=replace(
                entry.vehicle,
                body=(*entry.vehicle.body, *(BodySolid(port.box, "free") for port in entry.vehicle.ports)),
                ports=tuple(flat(port, face) for port in entry.vehicle.ports),
            ),
        )
        for entry in built.train.vehicles
    )
    built = replace(built, train=replace(built.train, vehicles=vehicles))
    harness = wire_train(built, {"n": Flow(1.0, 1.0)}).harness
    assert harness.unreached == ()
    assert {stretch.port for stretch in harness.stretches if stretch.port} == {"rear hole", "front hole"}
    built = replace(built, harness=harness)
    sheet = Tally()
    check_wires(built, sites_of(built), sheet)
    assert sheet.report().problems == ()


def flat(port: Port, face: str) -> Port:
    """Return a port drawn as the outer or the inner face of its hole."""
    outer = (port.out == "+x") is (face == "outside")
    x = port.box.high[0] if outer else port.box.low[0]
    low, high = port.box.low, port.box.high
    return replace(port, box=Box((x, low[1], low[2]), (x, high[1], high[2])))


# -- what covers a port --------------------------------------------------------------------------------------

PORT = Port("hole", Box((92.0, 20.0, 20.0), (100.0, 27.0, 23.9)), "+x")


def behind(gap: float, *spans: tuple[float, float, float, float]) -> Any:
    """Return boxes 5 mm deep so far behind the port, each from y to y and from z to z."""
    return np.array([(92.0 - gap - 5.0, y0, z0, 92.0 - gap, y1, z1) for y0, y1, z0, z1 in spans])


def test_what_stands_close_behind_a_port_leaves_the_rest_of_its_opening() -> None:
    """As a pocket that leaves 1.6 mm of the width; at a wire's thickness and farther it covers nothing."""
    pocket = (21.6, 40.0, 0.0, 40.0)
    assert clear_parts(PORT, behind(0.0, pocket), 1.0) == (pytest.approx((1.6, 3.9)),)
    assert clear_parts(PORT, behind(0.9, pocket), 1.0) == (pytest.approx((1.6, 3.9)),)
    assert clear_parts(PORT, behind(1.0, pocket), 1.0) == (pytest.approx((7.0, 3.9)),)
    assert clear_parts(PORT, behind(0.0, (0.0, 40.0, 0.0, 40.0)), 1.0) == ()
    post = (22.0, 25.0, 0.0, 40.0)
    assert clear_parts(PORT, behind(0.0, post), 1.0) == (pytest.approx((2.0, 3.9)), pytest.approx((2.0, 3.9)))
    corner = (24.0, 40.0, 22.0, 40.0)
    assert clear_parts(PORT, behind(0.0, corner), 1.0) == (
        pytest.approx((4.0, 3.9)), pytest.approx((3.0, 2.0)),
    )  # fmt: skip
    slits = [(20.5 + k, 21.0 + k, 0.0, 40.0) for k in range(7)]
    assert clear_parts(PORT, behind(0.0, *slits), 0.6) == ()


@given(st.data())
def test_the_parts_that_are_left_are_clear_and_apart(data: st.DataObject) -> None:
    """All lie in the opening off every cover; none larger is left, by every span between edges of covers."""
    tenths = st.integers(0, 80).map(lambda n: n / 10)
    spans = []
    for _ in range(data.draw(st.integers(0, 4))):
        y, z = 19.0 + data.draw(tenths), 19.0 + data.draw(tenths)
        spans.append((y, y + data.draw(tenths), z, z + data.draw(tenths)))
    boxes = behind(0.0, *spans) if spans else np.zeros((0, 6))
    covers = [box for box in boxes if box[1] < box[4] and box[2] < box[5]]
    wire = 0.6
    parts = clear_parts(PORT, np.array(covers).reshape(-1, 6), wire)
    assert all(min(part) >= wire - 0.01 for part in parts)
    edges = [
        sorted({low, high, *(float(box[axis + end]) for box in covers for end in (0, 3))})
        for axis, low, high in ((1, 20.0, 27.0), (2, 20.0, 23.9))
    ]
    edges = [[edge for edge in some if low <= edge <= low + wide] for some, low, wide in (
        (edges[0], 20.0, 7.0), (edges[1], 20.0, 3.9),
    )]  # fmt: skip
    clear = sum(
        (y1 - y0) * (z1 - z0)
        for y0, y1 in pairwise(edges[0])
        for z0, z1 in pairwise(edges[1])
        if not any(box[1] < y1 and box[4] > y0 and box[2] < z1 and box[5] > z0 for box in covers)
    )
    assert sum(width * height for width, height in parts) <= clear + 1e-6
    largest = max(
        (
            (y1 - y0) * (z1 - z0)
            for y0, y1 in combinations(edges[0], 2)
            for z0, z1 in combinations(edges[1], 2)
            if not any(box[1] < y1 and box[4] > y0 and box[2] < z1 and box[5] > z0 for box in covers)
        ),
        default=0.0,
    )
    if parts:
        assert parts[0][0] * parts[0][1] == pytest.approx(largest)


def test_wires_go_through_what_is_left_and_no_more() -> None:
    """Four of 1.0 mm in 1.6 × 3.9 mm, zigzag, not six with two of 1.4; over two parts they are shared out."""
    strip = (1.6, 3.9)
    assert through_parts([strip], [1.0] * 4)
    assert not through_parts([strip], [1.4, 1.4, 1.0, 1.0, 1.0, 1.0])
    assert through_parts([strip, strip], [1.4, 1.4, 1.0, 1.0, 1.0, 1.0])
    assert through_parts([], [])
    assert not through_parts([], [1.0])


@pytest.mark.parametrize(("reaches", "most"), [(0.0, 6), (6.4, 3), (8.0, 0)])
def test_a_port_carries_what_its_clear_part_does(reaches: float, most: int) -> None:
    """Wires of 1.5 mm: a hole of 8 × 4.8 mm, a block behind it that leaves 8, 1.6 or no mm of its width."""
    wagon = hollow("wagon", 12, 6, 8)
    x = wagon.length - 8.0
    port = Port("hole", Box((x, 20.0, 25.6), (x + 8.0, 28.0, 30.4)), "+x")
    body = [BodySolid(wagon.ports[0].box, "fixed"), BodySolid(port.box, "free")]
    if reaches:
        body.append(BodySolid(Box((x - 8.0, 8.0, 19.2), (x, 20.0 + reaches, 40.0)), "fixed"))
    vehicle = replace(wagon, body=(*wagon.body, *body), ports=(port,))
    map_ = VehicleMap.of("wagon", vehicle, (), frozenset())
    carried = [count for count in range(1, 7) if map_.passage(port, [1.5] * count).holds]
    assert carried == list(range(1, most + 1))
    if most < 6:
        assert map_.passage(port, [1.5] * (most + 1)).verdict == "not decided"
    assert map_.passage(port, [1.5] * 40).verdict == "cannot"


def test_what_covers_less_than_a_voxel_is_seen() -> None:
    """A hole that begins between the planes of voxels, and a block behind it up to the first of them."""
    wagon = hollow("wagon", 12, 6, 8)
    x = wagon.length - 8.0
    port = Port("hole", Box((x, 20.1, 25.6), (x + 8.0, 28.1, 30.4)), "+x")
    for high, left in ((20.8, 7.3), (20.1, 8.0)):
        body = [
            BodySolid(wagon.ports[0].box, "fixed"),
            BodySolid(port.box, "free"),
            BodySolid(Box((x - 8.0, 8.0, 19.2), (x, high, 40.0)), "fixed"),
        ]
        vehicle = replace(wagon, body=(*wagon.body, *body), ports=(port,))
        map_ = VehicleMap.of("wagon", vehicle, (), frozenset())
        (told,) = map_.clear_for(port, [1.0, 1.0])
        assert told.parts == (pytest.approx((left, 4.8)),)
        # Five rows of 1.56 mm are 7.8 wide: they go through the whole hole alone.
        assert map_.passage(port, [1.56] * 15).holds == (left == 8.0)


@pytest.mark.parametrize(
    ("leaves", "gap", "thick", "told", "share"),
    [
        (8.0, 0.0, 1.0, (8.0, 6.4), 0.25),  # side by side: 2 mm of 8
        (3.0, 0.0, 1.0, (3.0, 6.4), 0.35),  # one over the other: 1 mm of 3, in twentieths
        (3.0, 0.8, 1.0, (3.0, 6.4), 0.35),
        (3.0, 1.0, 1.0, (8.0, 6.4), 0.25),  # so far behind both turn aside before it
        (3.0, 1.0, 2.9, (3.0, 6.4), 1.0),  # the thicker one does not, and fills its 3 mm
        (0.0, 0.0, 1.0, (0.0, 0.0), math.inf),
    ],
)
def test_of_a_port_that_is_covered_what_is_left_is_told(
    leaves: float, gap: float, thick: float, told: tuple[float, float], share: float
) -> None:
    """Two wires, one of 1.0 mm, through a hole 8 × 6.4 mm, behind which a block leaves some of its width."""
    built = built_of(
        {"p": ("a", 40.0, 20.0), "q": ("b", 60.0, 20.0)}, {"n": ["p.p0", "q.p0"], "m": ["p.p1", "q.p1"]}
    )
    harness = wire_train(built, {"n": Flow(20.0, 30.0), "m": Flow(20.0, 30.0)}).harness
    assert [wire.outer_mm for wire in harness.wires] == [1.0, 1.0]
    harness = replace(harness, wires=(replace(harness.wires[0], outer_mm=thick), harness.wires[1]))
    entry = built.train.vehicles[1]
    port = next(one for one in entry.vehicle.ports if one.out == "+x")
    (x, y, z), (_, width, height) = port.box.low, port.box.size
    block = Box((x - gap - 4.0, y + leaves, z - 1.0), (x - gap, y + width + 2.0, z + height + 1.0))
    maps = {one.name: VehicleMap.of(one.name, one.vehicle, (), frozenset()) for one in built.train.vehicles}
    vehicle = replace(entry.vehicle, body=(*entry.vehicle.body, BodySolid(block, "fixed")))
    maps[entry.name] = VehicleMap.of(entry.name, vehicle, (), frozenset())
    other, mine = port_loads(built, harness, maps)
    assert (mine.vehicle, other.width_mm, other.height_mm) == (entry.name, 8.0, 6.4)
    assert (mine.width_mm, mine.height_mm) == pytest.approx(told)
    assert mine.share == share
    assert mine.through == ("not decided" if math.isinf(share) else "goes through")

"""Whether wires go through a port: known arrangements, proofs, and what lies between."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.model.solids import Box
from fitplan.model.vehicle import BodySolid, Port
from fitplan.routing.harness.harness import wire_train
from fitplan.routing.map.circle_packing import (
    Rectangle,
    Round,
    arrangement,
    cannot_hold,
    most_in_rectangle,
    overlap,
)
from fitplan.routing.map.port_room import passage
from fitplan.verify.result import Tally
from fitplan.verify.scene import sites_of
from fitplan.verify.wires import check_wires
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

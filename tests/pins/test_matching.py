"""Pin matching against brute force and reference libraries, and the clash it names."""

from __future__ import annotations

from itertools import combinations, permutations

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from fitplan.model.needed import Choice
from fitplan.model.part import Pin
from fitplan.pins.assignment import assign_rows
from fitplan.pins.matching import find_clash, match_pins, match_wants, serves
from fitplan.pins.wants import PinRequest
from tests.circuit.sample_parts import (
    board,
    cans,
    driver,
    emitter,
    need,
    net,
    part,
    pin,
    ranger,
    shuttle,
    train,
)

ABILITIES = ("input", "output", "pwm", "analog")
some = st.sets(st.sampled_from(ABILITIES), max_size=3)
pin_lists = st.lists(some, max_size=5)
want_lists = st.lists(some, min_size=1, max_size=5)


def made_pins(abilities: list[set[str]]) -> tuple[Pin, ...]:
    return tuple(pin(f"P{i}", can=cans("input", *can)) for i, can in enumerate(abilities))  # type: ignore[arg-type]


def made_wants(abilities: list[set[str]]) -> tuple[PinRequest, ...]:
    return tuple(PinRequest("brain", (f"net {i}",), frozenset(can), ()) for i, can in enumerate(abilities))  # type: ignore[arg-type]


@given(st.integers(0, 10_000), st.integers(1, 7), st.integers(0, 4))
@settings(max_examples=60, deadline=None)
def test_assignment_costs_what_the_reference_costs(seed: int, rows: int, spare: int) -> None:
    """The cheapest assignment has the same cost as the one of scipy's linear_sum_assignment."""
    costs = np.random.default_rng(seed).integers(0, 50, (rows, rows + spare))
    given_columns = assign_rows(costs.tolist())
    assert len(set(given_columns)) == rows
    row, column = linear_sum_assignment(costs)
    assert sum(costs[i, c] for i, c in enumerate(given_columns)) == costs[row, column].sum()


def test_assignment_needs_a_column_for_each_row() -> None:
    """Fewer columns than rows is refused."""
    with pytest.raises(ValueError, match="2 rows"):
        assign_rows([[1], [1]])


@given(pin_lists, want_lists)
@settings(max_examples=120, deadline=None)
def test_match_is_maximum(pin_abilities: list[set[str]], want_abilities: list[set[str]]) -> None:
    """As many wants are served as by the Hopcroft–Karp matching of networkx, and as by trying all ways."""
    pins, wants = made_pins(pin_abilities), made_wants(want_abilities)
    match = match_wants("brain", part("board", pins=pins), wants)
    graph = nx.Graph()
    tops = [("want", i) for i in range(len(wants))]
    graph.add_nodes_from(tops)
    graph.add_edges_from(
        (("want", i), ("pin", p.name)) for i, want in enumerate(wants) for p in pins if serves(p, want)
    )
    most = len(nx.bipartite.hopcroft_karp_matching(graph, tops)) // 2
    assert len(match.uses) == most
    padded = (*pins, *(None for _ in wants))
    tried = (
        max(
            sum(p is not None and serves(p, w) for p, w in zip(order, wants, strict=True))
            for order in permutations(padded, len(wants))
        )
        if len(padded) <= 7
        else most
    )
    assert most == tried
    assert len(match.unmatched) == len(wants) - most
    for use in match.uses:
        want = next(one for one in wants if one.nets == (use.net,))
        assert serves(next(p for p in pins if p.name == use.pin), want)
    assert len({use.pin for use in match.uses}) == len(match.uses)


@given(pin_lists, want_lists)
@settings(max_examples=120, deadline=None)
def test_clash_is_the_smallest(pin_abilities: list[set[str]], want_abilities: list[set[str]]) -> None:
    """The clash is a Hall violator and none is smaller (all subsets tried); none when all are served."""
    pins, wants = made_pins(pin_abilities), made_wants(want_abilities)

    def violates(group: tuple[PinRequest, ...]) -> bool:
        return len([p for p in pins if any(serves(p, want) for want in group)]) < len(group)

    clash, able = find_clash(pins, wants)
    sizes = [n for n in range(1, len(wants) + 1) if any(violates(g) for g in combinations(wants, n))]
    if not sizes:
        assert clash == ()
        assert match_wants("brain", part("board", pins=pins), wants).complete
        return
    assert violates(clash)
    assert len(clash) == min(sizes)
    assert set(able) == {p.name for p in pins if any(serves(p, want) for want in clash)}


def test_many_kinds_still_give_a_clash_without_a_spare_want() -> None:
    """With more kinds of wants than can be tried in all sets, leaving any want out resolves the clash."""
    pins = tuple(pin(f"D{i}", can=cans("input", "output")) for i in range(20))
    fixed = [PinRequest("brain", (f"n{i}",), cans("input"), (), pin=f"D{i}") for i in range(15)]
    clash, able = find_clash(pins, [*fixed, PinRequest("brain", ("twice",), cans("output"), (), pin="D3")])
    assert {want.name for want in clash} == {"n3", "twice"}
    assert able == ("D3",)


def test_plain_wants_leave_the_console_and_special_pins_free() -> None:
    """A shuttle's six signals take no console pin, no bus pin, and one PWM pin for the emitter alone."""
    match = match_pins(shuttle(board(plain=5, pwm=2)), {})
    assert match.complete
    assert match.console == ()
    assert {use.pin for use in match.uses if use.does != "pwm"} == {"D2", "D3", "D4", "D5", "D6"}
    assert match.pin("brain", "emitter") in ("D7", "D8")
    assert not {use.pin for use in match.uses} & {"D0", "D1", "A4", "A5"}


def test_console_pins_are_used_last_and_named() -> None:
    """When nothing else is left the console's pins are used, and the match says so."""
    match = match_pins(shuttle(board(plain=1, pwm=1)), {})
    assert match.complete
    assert set(match.console) == {"brain.D0", "brain.D1"}


def test_fixed_pins_are_kept() -> None:
    """A pin that the user wrote down is used for its net, and no other net gets it."""
    nets = [
        net("trigger", "signal", "brain.D3", "eyes.TRIG"),
        net("echo", "signal", "brain.*", "eyes.ECHO"),
    ]
    match = match_pins(train([need("brain", board()), need("eyes", ranger())], nets), {})
    assert match.pin("brain", "trigger") == "D3"
    assert match.pin("brain", "echo") not in ("D3", "")


def test_bus_lines_share_their_pins() -> None:
    """Two devices on the bus by separate nets take two pins, not four."""
    sensor = part("sensor", pins=[pin("SDA", wants=cans("data")), pin("SCL", wants=cans("clock"))])
    nets = [
        net(f"{line} {name}", "signal", "brain.*", f"{name}.{line}")
        for name in ("one", "two")
        for line in ("SDA", "SCL")
    ]
    match = match_pins(train([need("brain", board()), need("one", sensor), need("two", sensor)], nets), {})
    assert match.complete
    assert {use.net: use.pin for use in match.uses} == {
        "SDA one": "A4", "SDA two": "A4", "SCL one": "A5", "SCL two": "A5",
    }  # fmt: skip


def test_driver_wants_pwm_and_output() -> None:
    """A motor driver's wants are those of its pins: PWM and a plain output."""
    nets = [net("speed", "signal", "brain.*", "drive.PWM"), net("way", "signal", "brain.*", "drive.DIR")]
    match = match_pins(train([need("brain", board()), need("drive", driver())], nets), {})
    assert {use.net: use.does for use in match.uses} == {"speed": "pwm", "way": "output"}


def test_spare_pins_are_kept_free() -> None:
    """Pins that the choice asks for beyond the nets are set aside, and clash when there are not enough."""
    nets = [net("emitter", "signal", "brain.*", "emitter.IN")]
    for spare, complete in ((1, True), (2, False)):
        choice = Choice("controller", pins=(("pwm", spare),))
        match = match_pins(
            train([need("brain", board(pwm=2), choice=choice), need("emitter", emitter())], nets), {}
        )
        assert match.complete is complete
        assert bool(match.clash) is not complete
    assert len(match.clash) == 3
    assert set(match.clash_pins) == {"brain.D6", "brain.D7"}


def test_same_input_same_pins() -> None:
    """The match does not depend on anything but its input."""
    assert match_pins(shuttle(), {}) == match_pins(shuttle(), {})

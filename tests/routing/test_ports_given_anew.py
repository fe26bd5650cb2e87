"""Ports are given fewer conductors where not all of them get on behind, and others the rest."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitplan.model.wired import Unreached
from fitplan.routing.map.bundles import bundle_diameter
from fitplan.routing.map.topology import Portal, Segment
from fitplan.routing.negotiation.lanes import GetOn, Lanes
from fitplan.routing.negotiation.layout import CouplingPorts, Squeeze
from fitplan.routing.negotiation.negotiated import Conflict
from fitplan.routing.negotiation.ports_given_anew import GIVEN_ANEW, with_ports_given_anew
from fitplan.routing.negotiation.squeezed import getting_on
from fitplan.routing.negotiation.wired_before import WiredBefore

PIN: Any = "pin"


def met(diameters: list[float], inside: list[float], *conflicts: tuple[list[int], float]) -> Any:
    """Return how many get on behind "p": conductors through it, then wires that stay inside, meet so."""
    every = diameters + inside
    segments = [
        Segment("n", "a", Portal("n", 0, k) if k < len(diameters) else PIN, PIN) for k in range(len(every))
    ]
    runs = [SimpleNamespace(name=f"n {k}", diameter=outer) for k, outer in enumerate(every)]
    met = [Conflict((1, 2, 3), tuple(f"n {k}" for k in who), 9.0, room) for who, room in conflicts]
    done: Any = SimpleNamespace(
        runs=runs, outcome=SimpleNamespace(conflicts=(*met, Conflict("p", ("n 0",), 3, 2)))
    )
    return getting_on(done, segments, {Portal("n", 0, k): "p" for k in range(len(diameters))})


@given(
    st.lists(st.sampled_from([0.9, 1.0, 1.3, 1.7]), min_size=2, max_size=9),
    st.lists(st.sampled_from([0.9, 1.3]), max_size=2),
    st.floats(0.5, 6.0),
)
def test_so_many_get_on_as_have_room_and_no_more(
    through: list[float], inside: list[float], room: float
) -> None:
    """The first that fit beside what stays inside, in the order given; with one more they do not."""
    told = met(through, inside, (list(range(len(through) + len(inside))), room))
    count = dict(told).get("p", len(through))
    assert count == 0 or bundle_diameter([*inside, *through[:count]]) <= room + 1e-9
    assert count == len(through) or bundle_diameter([*inside, *through[: count + 1]]) > room


def test_the_worst_place_counts_and_what_does_not_meet_there_gets_on() -> None:
    assert met([1.0] * 6, [], ([0, 1, 2, 3], 2.0)) == (("p", 4),)
    assert met([1.0] * 6, [], ([0, 1, 2, 3], 2.0), ([0, 1, 2, 3, 4, 5], 2.2)) == (("p", 3),)
    assert (
        met([1.0] * 6, [1.0], ([0, 6], 1.0)) == ()
    )  # one conductor and a wire inside: no matter of the port
    assert met([1.0] * 6, []) == ()


@pytest.mark.parametrize(
    ("beside", "room", "told"),
    [
        (1, 4, ()),
        (1, 3, (("q", 2),)),
        (1, 1, (("q", 0),)),
        (2, 1, (("q", 0),)),  # the other port's own are more than that
    ],
)
def test_what_is_led_on_through_another_port_counts_there(
    beside: int, room: int, told: tuple[tuple[str, int], ...]
) -> None:
    """Three conductors of "q" pass "p" as well, which is given some; all come by "r" of the other end."""
    out = [Portal("n", 1, k) for k in range(beside + 3)]
    into = [Portal("n", 0, k) for k in range(beside + 3)]
    ports = {portal: "p" if k < beside else "q" for k, portal in enumerate(out)} | dict.fromkeys(into, "r")
    segments = [Segment("n", "a", *ends) for ends in zip(into, out, strict=True)]
    runs = [SimpleNamespace(name=f"n {k}", diameter=1.0) for k in range(len(out))]
    conflict = Conflict("p", tuple(run.name for run in runs), len(runs), room)
    done: Any = SimpleNamespace(runs=runs, outcome=SimpleNamespace(conflicts=(conflict,)))
    assert getting_on(done, segments, ports) == told


def hole(name: str) -> Any:
    return SimpleNamespace(name=name)


TRAIN: Any = SimpleNamespace(
    vehicle=lambda name: SimpleNamespace(
        ports_at=lambda end: [hole("p"), hole("q")] if (name, end) == ("a", "ahead") else [hole("r")]
    )
)


class Memory:
    """What is remembered."""

    def __init__(self) -> None:
        self.kept: list[GetOn] = []

    def keep_get_on(self, counts: GetOn) -> None:
        self.kept.append(dict(counts))


def laid(lost: int, *get_on: tuple[str, int], vehicle: str = "a") -> Any:
    return SimpleNamespace(
        unreached=[Unreached("n", "a", f"{k}", "") for k in range(lost)],
        squeezes=[Squeeze(vehicle, (), get_on)] if get_on else [],
    )


@pytest.mark.parametrize(
    ("answers", "asked", "kept"),
    [
        ([laid(0)], [{}], 0),
        ([laid(2, ("p", 5)), laid(0)], [{}, {("a", "p"): 5}], 1),
        # The other port is as bad: then that is given fewer too; what joined most is kept.
        (
            [laid(2, ("p", 5)), laid(1, ("q", 1)), laid(1)],
            [{}, {("a", "p"): 5}, {("a", "p"): 5, ("a", "q"): 1}],
            1,
        ),
        ([laid(1, ("r", 5))], [{}], 0),  # no other port at that end
        ([laid(1, ("p", 5), vehicle="b")], [{}], 0),
        (
            [laid(3, ("p", 9 - k)) for k in range(9)],
            [{}, *({("a", "p"): 9 - k} for k in range(GIVEN_ANEW))],
            0,
        ),
    ],
)
def test_ports_are_given_out_anew_while_others_may_carry_the_rest(
    answers: list[Any], asked: list[GetOn], kept: int
) -> None:
    told: list[GetOn] = []

    def lay(get_on: GetOn) -> Any:
        told.append(dict(get_on))
        return answers[len(told) - 1]

    memory: Any = Memory()
    assert with_ports_given_anew(lay, TRAIN, memory) is answers[kept]
    assert told == asked
    assert memory.kept == [asked[kept]]


@pytest.mark.parametrize("get_on", [{}, {("b", "p"): 2}, {("b", "p"): 0}, {("b", "p"): 2, ("b", "q"): 1}])
def test_lanes_give_a_port_so_many_and_the_next_best_the_others(get_on: dict[tuple[str, str], int]) -> None:
    def port(name: str, y: float) -> Any:
        return SimpleNamespace(name=name, at=(0.0, y, 20.0))

    def entry(name: str, *ports: Any) -> Any:
        return SimpleNamespace(name=name, ports_at=lambda side: ports, in_train=lambda start, point: point)

    train: Any = SimpleNamespace(
        vehicles=(entry("a", port("o", 10.0)), entry("b", port("p", 11.0), port("q", 30.0))),
        starts=lambda: {"a": 0.0, "b": 0.0},
    )
    holds = SimpleNamespace(holds=True)
    maps: Any = {
        name: SimpleNamespace(mouth_point=lambda port: port.at, passage=lambda port, wires: holds)
        for name in "ab"
    }
    lanes = Lanes(train, maps, get_on)
    given = [lanes._nearest_ports(0, 1.0, {}) for _ in range(4)]
    through = [one.port_behind.name for one in given if isinstance(one, CouplingPorts)]
    first = get_on.get(("b", "p"), 4)
    rest = min(4 - first, get_on.get(("b", "q"), 4))
    assert through == ["p"] * first + ["q"] * rest
    refused: list[Any] = [one for one in given if not isinstance(one, CouplingPorts)]
    assert all(one.undecided and "got on behind it" in one.reason for one in refused)


def test_what_was_found_is_known_of_the_vehicle_as_its_parts_lie_now() -> None:
    """By its state alone; what is told later of another port is added."""
    memory = WiredBefore()
    memory._state |= {"a": "so", "b": "so"}
    memory.keep_get_on({("a", "p"): 3})
    memory.keep_get_on({("a", "q"): 1})
    assert memory.get_on(["a", "b"]) == {("a", "p"): 3, ("a", "q"): 1}
    assert memory.get_on(["b"]) == {}
    other = WiredBefore()
    other._state |= {"a": "so"}
    other.learn(memory.of("a"))
    assert other.get_on(["a"]) == {("a", "p"): 3, ("a", "q"): 1}
    memory._state["a"] = "otherwise"
    assert memory.get_on(["a"]) == {}

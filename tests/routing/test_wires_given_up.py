"""Which built wires are given up for a splice, and which shortest ways are asked for."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from fitplan.routing.negotiation import kept_wires
from fitplan.routing.negotiation.detours import short_ways


def wire(number: int, cut: float, legs: int = 1, net: str = "n") -> Any:
    return SimpleNamespace(number=number, net=net, cut_mm=cut, legs=(None,) * legs)


@pytest.mark.parametrize(
    ("needed", "left"),
    [
        (0, [1, 2, 3, 4, 5, 6]),
        (1, [1, 3, 4, 5, 6]),  # the shortest in one vehicle
        (2, [1, 4, 5, 6]),  # of two as long the one with the lower number, before the longer one
        (3, [1, 5, 6]),
        (4, [5, 6]),  # then those that pass a coupling
        (9, [6]),
    ],
)
def test_the_shortest_wires_in_one_vehicle_are_given_up_first(
    monkeypatch: pytest.MonkeyPatch, needed: int, left: list[int]
) -> None:
    """One by one, until the rest of the net has a place; what does not stand is gone anyway."""
    wires = [
        wire(1, 20.0, legs=2), wire(2, 40.0), wire(3, 50.0), wire(4, 50.0), wire(5, 30.0, legs=3),
        wire(6, 10.0, net="other"), wire(7, 5.0),
    ]  # fmt: skip
    asked: list[Any] = []
    taken: list[int] = []

    class Standing:
        couplings = "couplings"

        def __init__(self, *_: Any) -> None:
            pass

        def stands(self, one: Any) -> bool:
            return bool(one.number != 7)

        def plain_segments(self, one: Any) -> list[int]:
            return [one.number]

        def take(self, one: Any, found: Any, lanes: Any) -> None:
            taken.append(one.number)

    def all_open(net: Any, segments: Any, maps: Any, couplings: Any) -> bool:
        asked.append((net.net.name, list(segments), couplings))
        return net.net.name == "other" or len(segments) <= 5 - needed

    monkeypatch.setattr(kept_wires, "_Standing", Standing)
    monkeypatch.setattr(kept_wires, "all_open", all_open)
    nets: Any = [SimpleNamespace(net=SimpleNamespace(name=name)) for name in ("n", "other", "no wires")]
    kept_wires.kept_wires(None, wires, nets, {}, frozenset(), None, {})  # type: ignore[arg-type]
    assert taken == left
    assert asked[0] == ("n", [1, 2, 3, 4, 5], "couplings")
    assert [one[0] for one in asked] == ["n"] * min(needed + 1, 5) + ["other"]


def test_shortest_ways_are_asked_for_once_and_not_for_straight_wires() -> None:
    """By number, of those that have one; equal questions share the answer, another gauge asks anew."""
    asked: list[Any] = []

    def way(segment: Any, starts: Any, goals: Any, diameter: float) -> Any:
        asked.append((segment.start, starts, diameter))
        return None if segment.start == "walled" else (segment.start, diameter)

    def laid(start: str, net: str = "n") -> Any:
        return SimpleNamespace(segment=SimpleNamespace(start=start, end="end", net=net))

    pieces = {
        0: laid("p"),
        1: laid("p"),
        2: laid("p", "m"),
        3: laid("walled"),
        4: laid("straight"),
        5: laid("q"),
    }
    pulled: Any = {
        id(one): SimpleNamespace(
            length_mm=10.0 if n == 4 else 11.0, points=((0.0, 0.0, 0.0), (10.0, 0.0, 0.0))
        )
        for n, one in pieces.items()
    }
    ends: Any = dict.fromkeys(pieces, (((0, 0, 0),), ((9, 0, 0),)))
    alone: Any = SimpleNamespace(way=way)
    found: Any = short_ways(alone, pieces, pulled, ends, {"n": 1.0, "m": 1.4})
    assert found == {0: ("p", 1.0), 1: ("p", 1.0), 2: ("p", 1.4), 5: ("q", 1.0)}
    assert [one[0] for one in asked] == ["p", "p", "walled", "q"]

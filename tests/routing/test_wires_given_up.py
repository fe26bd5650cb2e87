"""Which built wires are given up for a splice, where a net has no place left for what is new."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from fitplan.routing.negotiation import kept_wires


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

"""Which parts that are shut in are fixed to places with a way out of their own, and which are not."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

import fitplan.packing.vehicle.reachable_packing as reachable_packing
from fitplan.model.needed import FixedPlace, Need
from fitplan.model.placed import Piece, Placement, Shelf
from fitplan.model.solids import Box, Place, pose_named
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.reachable_packing import ReachablePacker
from fitplan.packing.vehicle.seats import Wanted

from .small_trains import block

PART = block("p", (6.0, 6.0, 6.0))
WANTED = tuple(Wanted(Need(name, (PART,)), PART) for name in "abc")
FREE, SHUT = SimpleNamespace(reached=True, bricks=()), SimpleNamespace(reached=False, bricks=())
BRICKED = SimpleNamespace(reached=True, bricks=("lid",))
SHELF = Shelf("plates", (Piece("plate 1 × 1", Box((8, 8, 19.2), (16, 16, 22.4))),), 1, True)


def lies(name: str, x: float) -> Placement:
    return Placement(name, PART, "v", Place(pose_named("+x+y+z"), (x, 8.0, 19.2)), "the body")


HERE = {name: lies(name, 10.0 + 8 * number) for number, name in enumerate("abc")}
ALONE = {name: lies(name, 40.0) for name in "abc"}


def kept(
    monkeypatch: pytest.MonkeyPatch,
    ways: dict[tuple[str, float], list[Any]],
    here: dict[str, Placement] | None = None,
    shut_in: tuple[str, ...] = ("a", "b"),
    fixed: tuple[str, ...] = (),
) -> list[list[tuple[str, float]]]:
    """Ways by part and where it lies; no entry: it comes out. What is told: parts and where they lie.

    ``fixed``: what has one place only; ways lead past it.
    """
    removed = frozenset({"roof light"})

    def exchanges_in(vehicle: Any, needs: Any, places: list[Placement], out: Any, only_often: bool) -> Any:
        place, *beside = places
        assert (vehicle, out, only_often) == ("the vehicle", removed, True)
        assert [other.need for other in beside] == [name for name in fixed if name != place.need]
        told = ways.get((place.need, place.place.offset[0]), [FREE, FREE])
        mine = [(place.need, one) for one in told] + [(other.need, SHUT) for other in beside]
        return [
            SimpleNamespace(need=need, bricks=one.bricks, within=lambda _, one=one: one.reached)
            for need, one in mine
        ]

    def alone(name: str, wanted: tuple[Wanted, ...], out: Any, proofs: bool) -> Packing:
        (entry,) = wanted
        assert (name, out, proofs) == ("v", removed, False)
        return Packing("v", "fits", (ALONE[entry.need.name],))

    monkeypatch.setattr(reachable_packing, "exchanges_in", exchanges_in)
    monkeypatch.setattr(reachable_packing, "reserved_way", lambda place, found: place)
    packer = SimpleNamespace(vehicle=lambda name: "the vehicle", pack_as_it_is=alone)
    pinned = FixedPlace("v", pose="+x+y+z", offset=(0.0, 0.0, 0.0))
    needs = {
        entry.need.name: replace(entry.need, pinned=pinned if entry.need.name in fixed else None)
        for entry in WANTED
    }
    own: Any = SimpleNamespace(_packer=packer, _needs=needs)
    packing = Packing("v", "fits", tuple((here or HERE).values()), shut_in=shut_in)
    found: Any = ReachablePacker._with_ways_of_their_own(own, packing, WANTED, removed)
    return [[(place.need, place.place.offset[0]) for place in one] for one in found]


def test_first_where_they_lie_then_where_they_would_lie_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    assert kept(monkeypatch, {}) == [[("a", 10.0), ("b", 18.0)], [("a", 40.0), ("b", 40.0)]]
    assert kept(monkeypatch, {}, shut_in=("c",)) == [[("c", 26.0)], [("c", 40.0)]]
    assert kept(monkeypatch, {}, shut_in=()) == []


@pytest.mark.parametrize("way", [[SHUT], [SHUT, FREE], [FREE, SHUT], [BRICKED, FREE], [FREE, BRICKED]])
def test_every_access_is_to_be_reached_and_without_bricks(
    monkeypatch: pytest.MonkeyPatch, way: list[Any]
) -> None:
    assert kept(monkeypatch, {("a", 10.0): way}) == [[("b", 18.0)], [("a", 40.0), ("b", 40.0)]]
    assert kept(monkeypatch, {("a", 40.0): way}) == [[("a", 10.0), ("b", 18.0)], [("b", 40.0)]]
    assert kept(monkeypatch, {("a", 10.0): way, ("b", 18.0): way}) == [[("a", 40.0), ("b", 40.0)]]


@pytest.mark.parametrize("change", [{"shelf": SHELF}, {"carried_by": "c"}])
def test_what_something_else_carries_stays_no_place(
    monkeypatch: pytest.MonkeyPatch, change: dict[str, Any]
) -> None:
    """It would hang once that part has moved, or is built up anew."""
    here = {**HERE, "a": replace(HERE["a"], **change)}
    assert kept(monkeypatch, {}, here) == [[("b", 18.0)], [("a", 40.0), ("b", 40.0)]]


def test_ways_lead_past_what_is_fixed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only its own ways count, whatever is said of what is fixed; and what is fixed lies where it lies."""
    assert kept(monkeypatch, {}, fixed=("c",)) == [[("a", 10.0), ("b", 18.0)], [("a", 40.0), ("b", 40.0)]]
    here = {**HERE, "a": replace(HERE["a"], shelf=SHELF)}
    assert kept(monkeypatch, {}, here, fixed=("a", "c"))[0] == [("a", 10.0), ("b", 18.0)]
    assert kept(monkeypatch, {("a", 10.0): [SHUT]}, fixed=("c",))[0] == [("b", 18.0)]

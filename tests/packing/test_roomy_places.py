"""Loose places: legal, close to what they are joined to, out of what is to stay clear."""

from __future__ import annotations

from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.model.solids import Box, bounds_of
from fitplan.model.train import Need
from fitplan.packing.vehicle.pack import Packer, Packing
from fitplan.packing.vehicle.roomy_places import JoinedPins, KeepClear, WiredPin, Wishes
from fitplan.packing.vehicle.seats import Wanted
from tests.packing.small_trains import block, hollow

ROOM = Box((8.0, 8.0, 19.2), (88.0, 40.0, 51.2))
"""Inside `hollow("wagon", 12, 6, 10)`: 80 × 32 × 32 mm."""


def _wanted(*sizes: tuple[float, float, float]) -> tuple[Wanted, ...]:
    parts = [block(f"part-{number}", size) for number, size in enumerate(sizes)]
    return tuple(Wanted(Need(part.id, (part,)), part) for part in parts)


def _packed(wanted: tuple[Wanted, ...], wishes: Wishes) -> Packing | None:
    packer = Packer({"wagon": hollow("wagon", 12, 6, 10)})
    return packer.pack_roomily("wagon", wanted, frozenset(), wishes)


def _boxes(packing: Packing) -> dict[str, Box]:
    """Return where each part lies, worked out from the model alone."""
    return {
        place.need: bounds_of(tuple(place.place.move_solid(solid) for solid in place.part.envelope))
        for place in packing.placements
    }


def _overlap(one: Box, other: Box) -> bool:
    return all(one.low[i] < other.high[i] - 1e-6 and other.low[i] < one.high[i] - 1e-6 for i in range(3))


SIZE = st.tuples(st.integers(4, 40), st.integers(4, 30), st.integers(3, 30))


@settings(max_examples=25, deadline=None)
@given(st.lists(SIZE, min_size=1, max_size=5))
def test_places_are_legal(sizes: list[tuple[int, int, int]]) -> None:
    """Whatever comes out lies inside the room, and no two parts overlap."""
    found = _packed(_wanted(*((float(x), float(y), float(z)) for x, y, z in sizes)), Wishes(()))
    if found is None:
        return
    boxes = _boxes(found)
    assert len(boxes) == len(sizes)
    for box in boxes.values():
        assert all(box.low[i] >= ROOM.low[i] - 1e-6 and box.high[i] <= ROOM.high[i] + 1e-6 for i in range(3))
    assert not any(_overlap(one, other) for one, other in combinations(boxes.values(), 2))


def test_what_does_not_go_in_has_no_places() -> None:
    """A part longer than the room's diagonal gets none."""
    assert _packed(_wanted((100.0, 10.0, 10.0)), Wishes(())) is None


def test_a_lane_stays_clear() -> None:
    """Where there is room beside it no part lies in what is to stay clear, on either side."""
    for y0, y1 in ((8.0, 16.0), (32.0, 40.0)):
        lane = Box((8.0, y0, 19.2), (88.0, y1, 51.2))
        found = _packed(
            _wanted((30.0, 20.0, 10.0), (30.0, 20.0, 10.0)), Wishes((), (KeepClear(lane, 240.0),))
        )
        assert found is not None
        assert not any(_overlap(box, lane) for box in _boxes(found).values())


def test_what_is_joined_lies_together() -> None:
    """Of two parts each lies by what it is wired to: one at the front, the other at the rear end."""
    wanted = _wanted((10.0, 10.0, 6.0), (10.0, 10.0, 6.0))
    ends = {"part-0": (8.0, 24.0, 25.0), "part-1": (88.0, 24.0, 25.0)}
    nets = tuple(
        JoinedPins((WiredPin(need, (1.0, 5.0, 6.0), "+z"),), (point,)) for need, point in ends.items()
    )
    found = _packed(wanted, Wishes(nets))
    assert found is not None
    boxes = _boxes(found)
    assert boxes["part-0"].high[0] < 30.0
    assert boxes["part-1"].low[0] > 66.0

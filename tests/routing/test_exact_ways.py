"""The shortest way of a wire alone in exact millimetres, where voxels show none."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import dist, hypot

import numpy as np
import pytest

from fitplan.model.solids import Box
from fitplan.routing.map import exact_ways
from fitplan.routing.map.exact_room import ExactRoom
from fitplan.routing.map.exact_ways import SLIP, shortest_alone
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.ways.shortest_ways import WayMap
from tests.packing.small_trains import hollow

RADIUS = 0.7
ENDS = ((20.0, 20.0, 30.0), (76.0, 20.0, 30.0))
OVER = np.array([ENDS[0], (40.0, 20.0, 46.0), (56.0, 20.0, 46.0), ENDS[1]])


def room(slot: float, low: float = 31.2) -> ExactRoom:
    """Return a wagon parted by a wall of 2 mm with a slot of this width, and room over it."""
    wall = (
        Box((47.0, 8.0, 19.2), (49.0, low, 44.0)),
        Box((47.0, low + slot, 19.2), (49.0, 56.0, 44.0)),
    )
    return ExactRoom(hollow("v", 12, 8, 9), frozenset(), wall)


def length(way: np.ndarray) -> float:
    return sum(dist(a, b) for a, b in pairwise(way.tolist()))


@pytest.mark.parametrize("low", [31.2, 31.6])
def test_a_way_leads_through_a_gap_that_voxels_shut(low: float) -> None:
    """A slot of 1.5 mm for a wire of 1.4: past its near edge, at its radius less 0.04."""
    found = shortest_alone(room(1.5, low), OVER, 2 * RADIUS)
    assert found is not None
    aside = low + RADIUS - SLIP - 20.0
    outside = 2 * hypot(27.0, aside) + 2.0
    assert outside - 0.5 < length(found) <= outside + 0.1
    assert found[0].tolist() == list(ENDS[0])
    assert found[-1].tolist() == list(ENDS[1])
    free = VehicleMap.of("v", hollow("v", 12, 8, 9), (), frozenset()).frame
    assert free.pitch > 1.5 - 2 * RADIUS  # no voxel lies in what is left of the slot


def test_a_gap_that_is_too_narrow_is_no_way() -> None:
    """A slot of 1.2 mm lets no wire of 1.4 through: the way over the wall is all there is."""
    found = shortest_alone(room(1.2), OVER, 2 * RADIUS)
    assert found is not None
    over = 2 * hypot(27.0, 44.0 + RADIUS - SLIP - 30.0) + 2.0
    assert over - 0.5 < length(found) <= over + 0.1


def test_hands_are_kept_clear_by_choice(monkeypatch: pytest.MonkeyPatch) -> None:
    """A box that a plug needs while the vehicle is open is gone round, and left out when asked to."""
    asked: list[int] = []
    plug = Box((40.0, 8.0, 19.2), (54.0, 40.0, 35.0))
    vehicle = hollow("v", 12, 8, 9)
    kept = ExactRoom(vehicle, frozenset(), (), (plug,))
    around = shortest_alone(kept, OVER, 2 * RADIUS)
    straight = shortest_alone(kept.without_hands, OVER, 2 * RADIUS)
    assert around is not None
    assert straight is not None
    assert length(straight) == pytest.approx(56.0, abs=0.01)
    assert length(around) > 57.0
    # What is shortest without the plug is taken where it keeps off the plug, too, and only there.
    aside = replace(kept, hands=(Box((40.0, 8.0, 19.2), (54.0, 12.0, 35.0)),))
    monkeypatch.setattr(exact_ways, "WayMap", lambda free, pitch: asked.append(1) or WayMap(free, pitch))
    assert shortest_alone(aside, OVER, 2 * RADIUS, straight) is straight
    assert not asked
    found = shortest_alone(kept, OVER, 2 * RADIUS, straight)
    assert found is not None
    assert found.tolist() == around.tolist()
    assert asked
    seen = kept.image().without_hands
    assert seen.mirrored
    assert seen.hands == ()

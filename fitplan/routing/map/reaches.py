"""Where the wires of a net's ends begin."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.map.topology import Reach
from fitplan.routing.map.vehicle_map import VehicleMap


def within_reach(net: ResolvedNet, maps: Mapping[str, VehicleMap]) -> ResolvedNet:
    """Return a net without the pins in front of which no way begins, and without ends that have no other."""
    ends = []
    for end in net.ends:
        pins = [pin for pin in end.pins if maps[end.vehicle].start_at(pin) is not None]
        if pins:
            ends.append(replace(pins[0], others=tuple(pins[1:])))
    return replace(net, ends=tuple(ends))


def reach_of(end: NetEnd, map_: VehicleMap) -> Reach:
    """Return where the wires of an end begin, at any of its pins."""
    starts = [map_.start_at(pin) for pin in end.pins]
    return Reach(end, tuple(dict.fromkeys(voxel for voxel in starts if voxel is not None)), end.places)

"""What it costs to branch: floors and corners count less than for ways, splices take wire."""

from __future__ import annotations

from fitplan.model.wiring import Allowances
from fitplan.routing.map.splice_sites import splice_prices
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.trees.tree_map import CostMap

_LIKING = 0.25
"""Share of the preference for floors and corners that counts where a net branches."""


def splice_wire(allowances: Allowances) -> float:
    """Return the wire that the ends in a splice of three take, in mm."""
    return 3 * allowances.splice_overlap


def ground_of(map_: VehicleMap, allowances: Allowances) -> CostMap:
    """Return what trees in a vehicle are laid over; floors and corners count less than for the ways.

    Where wires branch is decided by their length first, where they lie by what holds tape.
    """
    cost = 1.0 + _LIKING * (map_.cost - 1.0)
    prices = splice_prices(map_, splice_wire(allowances))
    return CostMap.of(map_.free, cost, prices, map_.frame.pitch)

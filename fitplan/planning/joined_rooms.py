"""What joins two rooms, and how many conductors it carries: what is proved, and as they are laid."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

from fitplan.routing.map.bundles import bundle_diameter, through_rectangle
from fitplan.routing.map.circle_packing import Rectangle, cannot_hold, most_in_rectangle
from fitplan.routing.map.port_room import ClearFor, Sides, passage, through_parts

Node: TypeAlias = tuple[str, int | str]
"""A room of a vehicle, by number, or one of its ends: ``front`` or ``rear`` as the train runs."""


@dataclass(frozen=True)
class RoomLink:
    """What joins two nodes.

    ``openings``: width and height in mm of each hole; None: as many conductors as may be, as over a coupling.
    ``abreast``: whether bundles are counted on to lie side by side in it. ``clear``: what of a port wires go
    through as they are laid, the thickest first, beside what stands close behind it; empty: not looked at.
    """

    ends: tuple[Node, Node]
    name: str = ""
    openings: tuple[tuple[float, float], ...] | None = None
    abreast: bool = False
    clear: tuple[ClearFor, ...] = ()


def too_narrow(cut: Sequence[RoomLink], diameters: Sequence[float]) -> str:
    """Say that holes together do not carry so many conductors; empty when that is not proved."""
    holes = [hole for link in cut for hole in link.openings or ()]
    names = " and ".join(dict.fromkeys(link.name for link in cut))
    if len(holes) == 1:
        proof = cannot_hold(Rectangle(*holes[0]), diameters)
        return f"{len(diameters)} conductors at the least want through {names}: {proof}" if proof else ""
    most = sum(most_in_rectangle(*hole, min(diameters)) for hole in holes)
    if most >= len(diameters):
        return ""
    return f"{len(diameters)} conductors at the least want through {names}, which carry at most {most}"


def carried_as_laid(cut: Sequence[RoomLink], diameters: Sequence[float]) -> bool:
    """Tell whether holes together carry conductors as these are laid: of several, each the thickest.

    What is opened carries one bundle with ease: more beside it take long to be laid.
    """
    # A port that leads to two rooms is one hole.
    ports = {link.name: link for link in cut if link.clear}
    links = (*ports.values(), *(link for link in cut if not link.clear))
    holes = [(hole, link) for link in links for hole in link.openings or ()]
    thickest = max(diameters)
    left = sorted(diameters, reverse=True)
    if len(holes) == 1 and not holes[0][1].abreast:
        ((hole, link),) = holes
        return _goes_out(hole, link, left) if _leads_out(link) else bundle_diameter(left) <= min(hole)
    for hole, link in holes:
        if _leads_out(link):
            carried = sum(through_rectangle(*part, thickest) for part in _clear_of(hole, link, thickest))
        elif link.abreast:
            carried = _in_bundles(hole, left)
        else:
            bundled = (n for n in range(len(left), 0, -1) if bundle_diameter([thickest] * n) <= min(hole))
            carried = next(bundled, 0)
        left = left[carried:]
    return not left


def _goes_out(hole: tuple[float, float], link: RoomLink, diameters: Sequence[float]) -> bool:
    """Tell whether conductors are known to go through the only hole of an end, past what covers it."""
    return passage(*hole, diameters).holds and all(
        through_parts(parts, [one for one in diameters if one >= min(wires)]) for parts, wires in link.clear
    )


def _clear_of(hole: tuple[float, float], link: RoomLink, wire_mm: float) -> Sequence[Sides]:
    """Return what of a hole a wire so thick goes through."""
    return next((parts for parts, wires in link.clear if min(wires) <= wire_mm), (hole,))


def _in_bundles(hole: tuple[float, float], diameters: Sequence[float]) -> int:
    """Return how many conductors, the first first, go through a hole as round bundles side by side."""
    high, left = sorted(hole)
    carried, first, bundle_mm = 0, 0, 0.0
    while carried < len(diameters):
        thicker = bundle_diameter(diameters[first : carried + 1])
        if thicker <= min(high, left):
            carried, bundle_mm = carried + 1, thicker
        elif first < carried:
            left, first = left - bundle_mm, carried
        else:
            break
    return carried


def _leads_out(link: RoomLink) -> bool:
    return any(isinstance(node[1], str) for node in link.ends)

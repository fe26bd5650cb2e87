"""Cells that a charging board in the train charges, and boards that a coil feeds: nobody gets at these daily.

Cells come out, or their lead is unplugged, to be charged, so the catalogue counts that as everyday use; so it
does a charging board's socket. Where the train is wired so that the one is charged through the other, it is
reached when building and mending only.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from fitplan.files.choice import pins_meant
from fitplan.model.electrical import CellPack, Charger, Coil, Fuse, Switch
from fitplan.model.needed import Need
from fitplan.model.nets import Net
from fitplan.model.part import Part


def charged_in_place(needs: Sequence[Need], nets: Sequence[Net]) -> tuple[Need, ...]:
    """Return needs with accesses that are of everyday use only where something is charged from outside.

    Cells count where their plus leads to the pins for cells of a charging board, past fuses and switches as
    well; a charging board where a coil gives to its charging pin. All parts of a choice must be of the kind.
    """
    by_name = {need.name: need for need in needs}
    ends = [list(_ends(net, by_name)) for net in nets]
    found = []
    for need in needs:
        if _all(need, CellPack) and all(part.figure(Charger) is None for part in need.candidates):
            charged = _charges(ends, by_name, need.name)
        else:
            charged = _all(need, Charger) and _fed_by_coil(ends, by_name, need.name)
        found.append(_seldom_reached(need) if charged else need)
    return tuple(found)


_End = tuple[str, str]
"""A need, and a pin of its first part."""


def _ends(net: Net, needs: Mapping[str, Need]) -> Iterator[_End]:
    for ref in net.joins:
        if ref.owner in needs and ref.pin != "*":
            for pin in pins_meant(needs[ref.owner].candidates[0], ref.pin):
                yield ref.owner, pin.name


def _all(need: Need, kind: type) -> bool:
    return all(part.figure(kind) is not None for part in need.candidates)


def _role(needs: Mapping[str, Need], end: _End) -> str:
    return needs[end[0]].candidates[0].pin(end[1]).role


def _charges(ends: Sequence[Sequence[_End]], needs: Mapping[str, Need], cells: str) -> bool:
    """Return whether what cells give leads to a charging board's pins for them."""
    reached = [net for net in ends if any(end[0] == cells and _role(needs, end) == "plus" for end in net)]
    seen = list(reached)
    while reached:
        for owner, pin in reached.pop():
            part = needs[owner].candidates[0]
            figures = part.figure(Charger)
            if owner != cells and figures is not None and pin in figures.cell_pins:
                return True
            if part.figure(Fuse) is None and part.figure(Switch) is None:
                continue
            beyond = [net for net in ends if net not in seen and any(end[0] == owner for end in net)]
            seen += beyond
            reached += beyond
    return False


def _fed_by_coil(ends: Sequence[Sequence[_End]], needs: Mapping[str, Need], board: str) -> bool:
    """Return whether a coil gives to a charging board's charging pin."""
    return any(
        any(end[0] == board and _role(needs, end) == "charge" for end in net)
        and any(needs[owner].candidates[0].figure(Coil) is not None for owner, _ in net)
        for net in ends
    )


def _seldom_reached(need: Need) -> Need:
    return replace(need, candidates=tuple(_seldom(part) for part in need.candidates))


def _seldom(part: Part) -> Part:
    return replace(part, access=tuple(replace(access, often=False) for access in part.access))

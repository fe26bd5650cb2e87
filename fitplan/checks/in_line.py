"""What lies in the supply line, switches and fuses, against the current through it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from fitplan.checks.sources import PART, PRACTICE
from fitplan.circuit.currents import NetCurrent
from fitplan.circuit.fuses import fuses_behind
from fitplan.circuit.net_ends import ends_of
from fitplan.circuit.supply_tree import Rail, Supply, SupplyTree
from fitplan.model.buying import Asked
from fitplan.model.electrical import CellPack, Fuse, Switch
from fitplan.model.found import Finding
from fitplan.model.part import Part
from fitplan.model.train import Train
from fitplan.model.vehicle import built_in_name

SUBJECT = "supply"


def in_line_limits(
    train: Train, chosen: Mapping[str, Part], currents: Mapping[str, NetCurrent], supply: Supply
) -> Iterator[Finding]:
    """Yield switches that carry more than they bear at peak, and fuses of branches that open in running.

    Fuses that lie right behind cells are judged by all that they protect (`checks/fuses.py`).
    """
    at_cells = {
        owner
        for tree in supply.trees
        if isinstance(tree.source, CellPack)
        for owner, _ in fuses_behind(tree.root)
    }
    switches = {name: part.figure(Switch) for name, part in chosen.items()}
    fitting = sorted(
        {figures.max_ma for part in train.catalogue.values() if (figures := part.figure(Switch)) is not None}
    )
    for owner, part in chosen.items():
        nets = [net.name for net in train.nets if any(ref.owner == owner for ref in net.joins)]
        # A net's busiest stretch may pass it by: no more flows through it than in the quieter of its two.
        peak = min((currents[net].peak_ma for net in nets), default=0.0)
        switch, fuse = switches[owner], part.figure(Fuse)
        if switch is not None and peak > switch.max_ma:
            least = next((one for one in fitting if one >= peak), None)
            known = [one.id for one in train.catalogue.values() if _bears(one, least)]
            yield Finding(
                SUBJECT,
                "stop",
                owner,
                f"{owner} carries {peak:.0f} mA at peak, when what it feeds starts",
                round(peak, 1),
                switch.max_ma,
                "mA",
                f"use a switch for at least {peak:.0f} mA{': ' + known[0] if known else ''}",
                PART,
            )
        if fuse is not None and peak > fuse.hold_ma and owner not in at_cells:
            yield Finding(
                SUBJECT,
                "stop",
                owner,
                f"{owner} trips in running: what it feeds draws {peak:.0f} mA at peak",
                round(peak, 1),
                fuse.hold_ma,
                "mA",
                f"use a fuse that holds at least {peak:.0f} mA{_holding(train, peak)}",
                PART,
            )


def _holding(train: Train, peak_ma: float) -> str:
    """Return the smallest fuse of the catalogue that holds a current, for a remedy."""
    known = [(fuse.hold_ma, part.id) for part in train.catalogue.values() if (fuse := part.figure(Fuse))]
    least = min((one for one in known if one[0] >= peak_ma), default=None)
    return f": {least[1]}" if least else ""


def left_on(train: Train, chosen: Mapping[str, Part], tree: SupplyTree, hours: float) -> Iterator[Finding]:
    """Yield what cells feed when every switch is off; a box that is built in has a switch of its own.

    Parameters
    ----------
    hours
        How long it takes until the source is all but empty with everything on; infinite without a load.
    """
    if not isinstance(tree.source, CellPack) or built_in_name(tree.owner) is not None:
        return
    if _parted_at_minus(train, chosen, tree):
        return
    on, every = list(dict.fromkeys(_unswitched(tree.root))), {fed.owner for fed in tree.root.everything()}
    if not on:
        return
    whole = every <= set(on)
    yield Finding(
        SUBJECT,
        "caution",
        tree.owner,
        f"nothing switches {tree.owner} off: left alone they are empty after some {_words(hours)}"
        if whole
        else f"with every switch off {tree.owner} still feeds {', '.join(on)}",
        float(len(on)),
        0.0,
        "parts",
        "put a switch into the lead of the cells, ahead of everything, or take the cells out after each run",
        PRACTICE,
        add=(Asked("switch"),),
    )


def _words(hours: float) -> str:
    """Return a time: hours, or days from a week on."""
    return f"{hours:.0f} h" if hours < 7 * 24 else f"{hours / 24:.0f} days"


def _parted_at_minus(train: Train, chosen: Mapping[str, Part], tree: SupplyTree) -> bool:
    """Return whether a switch lies in the lead from the minus of the cells, ahead of every ground."""
    for net in train.nets:
        ends = ends_of(train, chosen, net)
        if any(end.owner == tree.bottom and any(p.role == "ground" for p in end.pins) for end in ends):
            others = [end.part for end in ends if end.owner != tree.bottom]
            return all(part is not None and part.figure(Switch) is not None for part in others)
    return False


def _unswitched(rail: Rail) -> Iterator[str]:
    yield from (fed.owner for fed in rail.fed)
    for link in rail.links:
        if link.part.figure(Switch) is None:
            yield from _unswitched(link.below)


def _bears(part: Part, least_ma: float | None) -> bool:
    figures = part.figure(Switch)
    return figures is not None and figures.max_ma == least_ma

"""Which fuse a source wants: it holds the plan's own peak and trips below what its path bears."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from fitplan.circuit.currents import running_peak, source_current
from fitplan.circuit.net_ends import ends_of
from fitplan.circuit.supply_tree import Rail, SupplyTree, full_volts
from fitplan.model.electrical import CellPack, Fuse, Switch
from fitplan.model.nets import Net
from fitplan.model.part import Part
from fitplan.model.train import Train

MOST_DROP_V = 0.1
"""A fuse may cost so many volts at peak before a larger one is proposed (common practice, no source)."""


@dataclass(frozen=True)
class PathRating:
    """Something in the path behind a source and the current (mA) that it bears for good."""

    name: str
    most_ma: float


@dataclass(frozen=True)
class FuseWish:
    """What is asked of a fuse.

    Attributes
    ----------
    hold_ma
        It holds at least this: the peak of everything at once, with cells all but empty.
    start_ma
        One that does not mend itself holds this as well: what flows in the moment of switching on. Those that
        do take seconds to trip at so much (common practice).
    weakest
        It trips at no more than this bears.
    fitting
        Parts that do, the best first: of those that cost little at peak (`MOST_DROP_V`) the one that trips
        soonest, then the others by their resistance.
    later
        Where none does, the part that holds and of all these trips soonest, later than the weakest bears.
    """

    hold_ma: float
    start_ma: float
    weakest: PathRating
    volts: float
    fitting: tuple[Part, ...]
    later: Part | None = None

    def held_by(self, fuse: Fuse) -> bool:
        """Return whether a fuse stays whole in running and when the train is switched on."""
        return fuse.hold_ma >= (self.hold_ma if fuse.resettable else max(self.hold_ma, self.start_ma))

    @property
    def possible(self) -> bool:
        """Whether any fuse could do both, be it in the catalogue or not."""
        return self.hold_ma < self.weakest.most_ma


def wish_for(tree: SupplyTree, path: Iterable[PathRating], catalogue: Mapping[str, Part]) -> FuseWish:
    """Return what a source's fuse must hold and at what it must trip.

    Parameters
    ----------
    path
        What the whole current passes beside the switches of the tree: wires, contacts.
    """
    running, starting = running_peak(tree), source_current(tree).peak_ma
    volts = full_volts(tree.source)
    every = [*path, *_switches(tree.root)]
    weakest = min(every, key=lambda one: one.most_ma, default=PathRating("nothing", float("inf")))
    wish = FuseWish(running, starting, weakest, volts, ())
    holding = [
        (fuse.trip_ma, part)
        for part in sorted(catalogue.values(), key=lambda part: part.id)
        if (fuse := part.figure(Fuse)) is not None
        and wish.held_by(fuse)
        and (fuse.max_v == 0 or fuse.max_v >= volts)
    ]
    fitting = [part for trip_ma, part in holding if trip_ma <= weakest.most_ma]
    fitting.sort(key=lambda part: _rank(part, running))
    later = min(holding, key=lambda one: one[0])[1] if holding and not fitting else None
    return replace(wish, fitting=tuple(fitting), later=later)


def _rank(part: Part, peak_ma: float) -> tuple[bool, float, float]:
    fuse = part.figure(Fuse)
    assert fuse is not None
    costly = fuse.resistance_ohm * peak_ma / 1000 > MOST_DROP_V
    return costly, 0.0 if costly else fuse.trip_ma, fuse.resistance_ohm


def with_kind(kind: str, owner: str) -> str:
    """Return a part's name for a sentence, with what it is unless its name says so: ``the switch S1``."""
    return f"the {owner}" if kind in owner.lower().split() else f"the {kind} {owner}"


def _switches(rail: Rail) -> list[PathRating]:
    found = []
    for link in rail.links:
        switch = link.part.figure(Switch)
        if switch is not None:
            found.append(PathRating(with_kind("switch", link.owner), switch.max_ma))
        if link.regulator is None and link.kind == "through":
            found += _switches(link.below)
    return found


def fuses_behind(rail: Rail) -> tuple[tuple[str, Fuse], ...]:
    """Return the fuses that all current of a rail passes, the nearest first: nothing is fed before them."""
    if rail.fed or len(rail.links) != 1 or rail.links[0].kind != "through":
        return ()
    link = rail.links[0]
    fuse = link.part.figure(Fuse)
    return (*([(link.owner, fuse)] if fuse is not None else []), *fuses_behind(link.below))


def nets_ahead_of_fuse(tree: SupplyTree) -> tuple[str, ...]:
    """Return the nets between a source and the nearest fuse; none where no fuse takes all current."""
    found = []
    rail = tree.root
    while fuses_behind(rail):
        found.append(rail.net)
        link = rail.links[0]
        if link.part.figure(Fuse) is not None:
            return tuple(found)
        rail = link.below
    return ()


def unfused_nets(train: Train) -> frozenset[str]:
    """Return the supply nets between cells and a fuse, whichever candidates are taken: no circuit is needed.

    Such a net leads from cells, or from a switch behind them, to a fuse or a switch and to nothing else.
    """
    parts = {need.name: need.candidates for need in train.needs}
    supply = [net for net in train.nets if net.role == "supply"]

    def all_are(owner: str, kind: type[Fuse | Switch]) -> bool:
        return owner in parts and all(part.figure(kind) is not None for part in parts[owner])

    def ahead(net: Net, source: str) -> tuple[str, ...]:
        others = {ref.owner for ref in net.joins} - {source}
        if len(others) != 1:
            return ()
        (other,) = others
        if all_are(other, Fuse):
            return (net.name,)
        if not all_are(other, Switch):
            return ()
        behind = [one for one in supply if one is not net and any(ref.owner == other for ref in one.joins)]
        further = ahead(behind[0], other) if len(behind) == 1 else ()
        return (net.name, *further) if further else ()

    cells = {owner for owner in parts if any(part.figure(CellPack) is not None for part in parts[owner])}
    return frozenset(
        name
        for net in supply
        for source in sorted(cells & {ref.owner for ref in net.joins})
        for name in ahead(net, source)
    )


def fuse_at_minus(train: Train, chosen: Mapping[str, Part], tree: SupplyTree) -> str:
    """Return the fuse through which all current returns to the minus of a source; empty: there is none."""
    for net in train.nets:
        ends = ends_of(train, chosen, net)
        if any(end.owner == tree.bottom and any(p.role == "ground" for p in end.pins) for end in ends):
            others = [end for end in ends if end.owner != tree.bottom]
            if len(others) == 1 and others[0].part is not None and others[0].part.figure(Fuse) is not None:
                return others[0].owner
    return ""

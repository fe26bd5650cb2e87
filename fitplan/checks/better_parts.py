"""Parts of the catalogue that would do in the place of one that does not, each held against the same checks.

What is advised has passed: volts, currents, start and hours of the whole tree with the other part in it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

from fitplan.checks.board_loads import Ahead
from fitplan.checks.supply_limits import SupplySettings, driver_limits, links_of, tree_limits
from fitplan.circuit.currents import source_current
from fitplan.circuit.discharge import discharge
from fitplan.circuit.supply_tree import Link, Rail, SupplyTree, full_volts, nominal_volts
from fitplan.model.electrical import Bank, CellPack, Charger, MotorDriver, OwnLeads, Regulator, Switch
from fitplan.model.part import Part


@dataclass(frozen=True)
class BetterParts:
    """Looks for parts that would do in one supply tree.

    Attributes
    ----------
    hours
        How long the tree has to last with the other part.
    """

    tree: SupplyTree
    catalogue: Mapping[str, Part]
    hours: float
    settings: SupplySettings

    def cells(self) -> str:
        """Return the smallest cells, of the same chemistry if any do, with the hours that they last."""
        old = self.tree.source
        if self.tree.below or any(link.part.figure(Charger) for link, _ in links_of(self.tree.root, 0.0)):
            return ""
        for part in self._sorted_parts(lambda one: chemistry_of(one) != chemistry_of(self.tree.part)):
            source = part.figure(CellPack) or part.figure(Bank)
            if source is None or type(source) is not type(old) or source == old:
                continue
            bare = isinstance(source, CellPack) and source.chemistry == "li-ion" and not source.protected
            if bare or not self._stands(source):
                continue
            hours = self._lasts(replace(self.tree, part=part, source=source))
            if hours >= self.hours:
                return f"{part.name} ({part.id}), {_words(hours)}"
        return ""

    def regulator(self, link: Link) -> str:
        """Return the smallest regulator of as many volts that gives what is asked of this one."""
        old = link.regulator
        if old is None or link.kind != "regulator" or link.part.figure(Regulator) is None:
            return ""
        for part in self._sorted_parts(lambda one: False):
            other = part.figure(Regulator)
            if other is None or part.id == link.part.id or other.out_v != old.out_v:
                continue
            if not _enters(other, self.tree, link):
                continue
            instead = replace(link, part=part, regulator=other)
            if self._lasts(replace(self.tree, root=_with(self.tree.root, link, instead))) >= self.hours:
                return f"{part.name} ({part.id})"
        return ""

    def driver(self, link: Link) -> str:
        """Return the smallest motor driver that carries these motors at these volts."""
        old = link.part.figure(MotorDriver)
        volts = next(
            (at for one, at in links_of(self.tree.root, nominal_volts(self.tree.source)) if one == link)
        )
        fresh = full_volts(self.tree.source) if volts == nominal_volts(self.tree.source) else volts
        for part in self._sorted_parts(lambda one: False):
            driver = part.figure(MotorDriver)
            if driver is None or old is None or part.id == link.part.id or driver.channels < old.channels:
                continue
            instead = replace(link, part=part)
            tree = replace(self.tree, root=_with(self.tree.root, link, instead))
            if driver.min_v <= volts and fresh <= driver.max_v and not list(driver_limits(tree)):
                return f"{part.name} ({part.id})"
        return ""

    def _sorted_parts(self, last: Callable[[Part], bool]) -> Iterator[Part]:
        bare = (part for part in self.catalogue.values() if part.figure(OwnLeads) is None)
        yield from sorted(bare, key=lambda part: (last(part), part.bounds.volume, part.id))

    def _stands(self, source: CellPack | Bank) -> bool:
        """Return whether all that hangs on the source without a regulator works with its volts."""
        old = self.tree.source
        direct = any(
            link.kind == "controller" and link.regulator is None for link in _unregulated(self.tree.root)
        )
        if direct and not (
            nominal_volts(source) >= nominal_volts(old) and full_volts(source) <= full_volts(old)
        ):
            return False
        return Ahead(self.tree.root, nominal_volts(old)).stands(nominal_volts(source), full_volts(source))

    def _lasts(self, tree: SupplyTree) -> float:
        """Return the hours of a tree that passes all checks of a supply; less than nothing: it does not."""
        findings = tree_limits(tree, self.settings)
        peak = source_current(tree).peak_ma
        switches = (link.part.figure(Switch) for link in _unregulated(tree.root))
        if any(one.severity != "note" for one in findings) or any(s and peak > s.max_ma for s in switches):
            return -1.0
        run = discharge(tree, course=False)
        return -1.0 if run.at_start else run.hours


def chemistry_of(part: Part) -> str:
    """Return the chemistry of a part's cells; empty where it has none."""
    pack = part.figure(CellPack)
    return pack.chemistry if pack is not None else ""


def _unregulated(rail: Rail) -> Iterator[Link]:
    for link in rail.links:
        yield link
        if link.regulator is None:
            yield from _unregulated(link.below)


def _with(rail: Rail, old: Link, new: Link) -> Rail:
    """Return a rail with one link of it, or below it, replaced."""
    links = tuple(
        new if link == old else replace(link, below=_with(link.below, old, new)) for link in rail.links
    )
    return replace(rail, links=links)


def _enters(regulator: Regulator, tree: SupplyTree, link: Link) -> bool:
    """Return whether a regulator may stand where another stands, by the volts at its input."""
    label = next(at for one, at in links_of(tree.root, nominal_volts(tree.source)) if one == link)
    first = label == nominal_volts(tree.source)
    full = full_volts(tree.source) if first else label
    turns = {
        "step-up": label < regulator.out_v and full <= regulator.out_v + 0.3,
        "step-up-down": True,
    }.get(regulator.kind, label >= regulator.out_v + regulator.dropout_v)
    return turns and regulator.in_min_v < label and full <= regulator.in_max_v


def _words(hours: float) -> str:
    return f"{hours:.1f} h" if hours < math.inf else "as long as they keep"

"""Parts of the catalogue that would do in the place of one that does not, each held against the same checks.

What is advised has passed: volts, currents, start and hours of the whole tree with the other part in it.
Where none passes it all, what is wrong elsewhere in the tree, and told there, may stay so but get no worse.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

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
        others = []
        for part in self._sorted_parts(lambda one: chemistry_of(one) != chemistry_of(self.tree.part)):
            source = part.figure(CellPack) or part.figure(Bank)
            if source is None or type(source) is not type(old) or source == old:
                continue
            bare = isinstance(source, CellPack) and source.chemistry == "li-ion" and not source.protected
            if not bare and self._stands(source):
                others.append(replace(self.tree, part=part, source=source))
        tree, hours = self._first_that_lasts(others, self.tree.owner)
        return f"{tree.part.name} ({tree.part.id}), {_words(hours)}" if tree is not None else ""

    def regulator(self, link: Link) -> str:
        """Return the smallest regulator of as many volts that gives what is asked of this one."""
        old = link.regulator
        if old is None or link.kind != "regulator" or link.part.figure(Regulator) is None:
            return ""
        others = []
        for part in self._sorted_parts(lambda one: False):
            other = part.figure(Regulator)
            if other is None or part.id == link.part.id or other.out_v != old.out_v:
                continue
            if _enters(other, self.tree, link):
                instead = replace(link, part=part, regulator=other)
                others.append((part, replace(self.tree, root=_with(self.tree.root, link, instead))))
        found, _ = self._first_that_lasts([tree for _, tree in others], link.owner)
        return next((f"{part.name} ({part.id})" for part, tree in others if tree is found), "")

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

    def _first_that_lasts(self, trees: Sequence[SupplyTree], changed: str) -> tuple[SupplyTree | None, float]:
        """Return the first of some trees that lasts, with its hours; if need be beside what is wrong already.

        Parameters
        ----------
        changed
            Owner of the part that is another in them: what is wrong there may not stay.
        """
        wrong = {one: by for one, by in _wrong(self.tree, self.settings).items() if one[0] != changed}
        for stays in [{}, wrong] if wrong else [wrong]:
            for tree in trees:
                hours = self._lasts(tree, stays)
                if hours >= self.hours:
                    return tree, hours
        return None, 0.0

    def _lasts(self, tree: SupplyTree, stays: Mapping[_Wrong, float]) -> float:
        """Return the hours of a tree that passes all checks of a supply; less than nothing: it does not."""
        if any(by > stays.get(one, -math.inf) + _SAME for one, by in _wrong(tree, self.settings).items()):
            return -1.0
        run = discharge(tree, course=False)
        return -1.0 if run.at_start else run.hours


_Wrong: TypeAlias = tuple[str, str, str, bool]
"""What is wrong with a supply tree: where, in which unit, how severe, and whether it is too much of it."""
_SAME = 1e-6


def _wrong(tree: SupplyTree, settings: SupplySettings) -> dict[_Wrong, float]:
    """Return what is wrong with a supply tree, each with by how much."""
    found: dict[_Wrong, float] = {}
    for one in tree_limits(tree, settings):
        if one.severity != "note":
            key = (one.where, one.unit, one.severity, one.figure > one.limit)
            found[key] = max(found.get(key, 0.0), abs(one.figure - one.limit))
    peak = source_current(tree).peak_ma
    for link in _unregulated(tree.root):
        switch = link.part.figure(Switch)
        if switch is not None and peak > switch.max_ma:
            found[link.owner, "mA", "stop", True] = peak - switch.max_ma
    return found


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

"""The usual ways to feed a board, side by side for this train's loads.

Cells at the raw input pin; fewer cells with a step-up; a USB bank with its own switch; and, because it is so
common, a 9 V block at the raw pin.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from fitplan.circuit.cells import source_of
from fitplan.circuit.currents import source_current
from fitplan.circuit.discharge import Discharge, discharge, solve_state
from fitplan.circuit.supply import Link, Rail, RailLoad, SupplyTree, full_volts, nominal_volts
from fitplan.model.electrical import Bank, CellPack, Controller, Regulator
from fitplan.model.facts import mass_of
from fitplan.model.part import Part
from fitplan.model.plan import FitRow, Table

PIECES = 40
"""Pieces of each discharge: a comparison needs no more."""
MOST_LEFT = 0.5
"""Share of the charge that may be left: more is carried for nothing (common practice, no source)."""
MOST_ROWS = 2
"""Of each way so many are shown: the smallest that lasts, and the one that lasts longest."""


@dataclass(frozen=True)
class SupplyWay:
    """One way to feed the train."""

    name: str
    parts: tuple[Part, ...]
    result: Discharge
    primary: bool
    sound: bool = True
    """Nothing is asked for too much, of fresh cells and everything at its peak."""

    @property
    def hours(self) -> float:
        """Running time."""
        return self.result.hours

    @property
    def uses_its_charge(self) -> bool:
        """Whether at most a half is left at the end; a 9 V block is dear, a bank may go off."""
        pack = self.parts[0].figure(CellPack)
        block = pack is not None and pack.cells_per_unit >= 6
        return self.result.left <= MOST_LEFT and not block and "may switch" not in self.name

    @property
    def volume(self) -> float:
        """Room of the boxes round all its parts in mm³."""
        return sum(part.bounds.volume for part in self.parts)

    @property
    def cost_per_hour(self) -> float:
        """Price of a set of primary cells over the running time; 0 when no price is given."""
        price = self.parts[0].price if self.primary else 0.0
        return price / self.hours if 0 < self.hours < math.inf else 0.0


def board_loads(trees: Iterable[SupplyTree], controller: str) -> tuple[RailLoad, ...]:
    """Return everything that hangs behind the controller or beside it on its regulated rail."""
    for tree in trees:
        for rail in tree.root.walk():
            if any(fed.owner == controller for fed in rail.fed):
                return tuple(fed for below in _top(tree.root, controller).walk() for fed in below.fed)
    return ()


def _top(root: Rail, controller: str) -> Rail:
    """Return the rail below the last regulator above the board: its loads want regulated volts."""
    top, queue = root, [(root, root)]
    while queue:
        rail, regulated = queue.pop()
        if any(fed.owner == controller for fed in rail.fed):
            return regulated
        for link in rail.links:
            queue.append((link.below, link.below if link.regulator is not None else regulated))
    return top


def usual_ways(
    catalogue: Mapping[str, Part], brain: Part, loads: tuple[RailLoad, ...], hours: float
) -> tuple[SupplyWay, ...]:
    """Return the usual ways with the parts of the catalogue, the smallest that lasts and the longest of each.

    Parameters
    ----------
    brain
        The controller board; its own regulator serves cells at the raw pin.
    loads
        All that is fed with regulated volts, the board itself included.
    hours
        What is asked for.
    """
    parts = sorted(catalogue.values(), key=lambda part: part.id)
    figures = brain.figure(Controller)
    if figures is None or not loads:
        return ()
    packs = [(part, pack) for part in parts if (pack := part.figure(CellPack)) is not None]
    blocks = [entry for entry in packs if entry[1].cells_per_unit >= 6]
    plain = [entry for entry in packs if entry[1].cells_per_unit < 6]
    found = [
        *_shown([_at_raw("cells at the raw pin", one, brain, figures, loads) for one in plain], hours),
        *_shown([_stepped_up(one, parts, figures, loads) for one in plain], hours),
        *_shown([_bank(part, loads) for part in parts if part.figure(Bank) is not None], hours),
        *_shown([_at_raw("9 V block at the raw pin", one, brain, figures, loads) for one in blocks], hours),
    ]
    return tuple(found)


def _shown(ways: list[SupplyWay | None], hours: float) -> list[SupplyWay]:
    known = [way for way in ways if way is not None]
    if not known:
        return []
    longest = max(known, key=lambda way: (way.hours, -way.volume))
    lasting = [way for way in known if way.hours >= hours]
    smallest = min(lasting, key=lambda way: way.volume, default=longest)
    return [smallest] if smallest is longest else [smallest, longest][:MOST_ROWS]


def _run(name: str, parts: tuple[Part, ...], source: CellPack | Bank, root: Rail) -> SupplyWay:
    tree = SupplyTree(parts[0].name, parts[0], source, root)
    primary = isinstance(source, CellPack) and source.chemistry == "alkaline"
    state = solve_state(source_of(source), root, 1.0, True, {})
    sound = not state.collapsed and not state.flow.weak and source_current(tree).peak_ma <= source.max_ma
    return SupplyWay(name, parts, discharge(tree, pieces=PIECES, course=False), primary, sound)


def _at_raw(
    name: str, entry: tuple[Part, CellPack], brain: Part, figures: Controller, loads: tuple[RailLoad, ...]
) -> SupplyWay | None:
    part, pack = entry
    regulator = figures.regulator
    if regulator is None or full_volts(pack) > regulator.in_max_v or nominal_volts(pack) <= regulator.out_v:
        return None
    return _run(
        name, (part,), pack, Rail("", links=(Link("controller", "board", brain, Rail("", loads), regulator),))
    )


def _stepped_up(
    entry: tuple[Part, CellPack], parts: list[Part], figures: Controller, loads: tuple[RailLoad, ...]
) -> SupplyWay | None:
    part, pack = entry
    peak = sum(fed.peak_ma for fed in loads)
    out_v = max(figures.logic_v, max((fed.min_v for fed in loads), default=0.0))
    fitting: list[tuple[Part, Regulator]] = []
    for one in parts:
        regulator = one.figure(Regulator)
        if regulator is None or one.figure(Controller) is not None:
            continue
        rises = regulator.kind in ("step-up", "step-up-down") and nominal_volts(pack) < regulator.out_v
        fits_in = regulator.in_min_v < nominal_volts(pack) and full_volts(pack) <= regulator.in_max_v
        if rises and fits_in and regulator.max_ma >= peak and out_v <= regulator.out_v <= 5.5:
            fitting.append((one, regulator))
    if not fitting:
        return None
    lift, regulator = min(fitting, key=lambda pair: pair[0].bounds.volume)
    link = Link("regulator", "step-up", lift, Rail("", loads), regulator)
    return _run("fewer cells with a step-up", (part, lift), pack, Rail("", links=(link,)))


def _bank(part: Part, loads: tuple[RailLoad, ...]) -> SupplyWay | None:
    figures = part.figure(Bank)
    assert figures is not None
    if sum(fed.peak_ma for fed in loads) > figures.max_ma:
        return None
    way = _run("USB bank with its own switch", (part,), figures, Rail("", loads))
    average = sum(fed.average_ma for fed in loads)
    if average < figures.off_below_ma:
        return replace(way, name="USB bank (may switch itself off)")
    return way


def ways_table(ways: Iterable[SupplyWay], hours: float, fit: tuple[FitRow, ...], volts: float) -> Table:
    """Return the comparison as a table; ``fit`` says where parts fit, where it was asked."""
    rows: list[tuple[str | float, ...]] = []
    for way in ways:
        failed = way.result.failed
        rows.append(
            (
                way.name,
                " + ".join(part.name for part in way.parts),
                round(way.hours, 1) if way.hours < math.inf else "no load",
                "yes" if way.hours >= hours else "no",
                f"{failed.owner} {failed.reason}" if failed is not None else "runs until empty",
                round(way.result.average_ma, 1),
                round(way.cost_per_hour, 3) or "no price" if way.primary else "rechargeable",
                round(sum(mass_of(part) for part in way.parts), 1),
                round(way.volume / 1000, 1),
                fit_text(way.parts, fit),
            )
        )
    return Table(
        "Usual ways to feed this train",
        (
            "way",
            "parts",
            "hours",
            f"lasts {hours:g} h",
            "gives up first",
            "mAh per hour",
            "cost per hour",
            "mass (g)",
            "room (cm³)",
            "fits",
        ),
        tuple(rows),
        f"loads at {volts:g} V; of each way the smallest that lasts and the longest; leads left out",
    )


def fit_text(parts: Iterable[Part], fit: tuple[FitRow, ...]) -> str:
    """Return where parts fit, or that it was not asked."""
    texts = []
    for part in parts:
        rows = [row for row in fit if row.part_id == part.id]
        good = [row.vehicle for row in rows if row.verdict in ("fits", "fits after a rebuild")]
        if not rows:
            texts.append("not asked")
        elif good:
            texts.append(f"{', '.join(dict.fromkeys(good))}")
        elif all(row.verdict == "cannot fit" for row in rows):
            texts.append("nowhere")
        else:
            texts.append("not decided")
    return " + ".join(texts) if len(set(texts)) > 1 else (texts[0] if texts else "not asked")
